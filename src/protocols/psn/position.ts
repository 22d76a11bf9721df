import { type AxisMap, type AxisOrder, axisMap, toStageAxes } from '../axes.js';
import { type QualityScale, qualityOn, type RawPosition } from '../raw-position.js';
import type { PsnTracker } from './decode.js';
import { MAX_PSN_TRACKER } from './layout.js';

export const PSN_STAMPS = ['if sent', 'required', 'ignored'] as const;

/** How a feed by PosiStageNet is read. */
export interface PsnFeedOptions {
  /** Which axis of the feed is x, y and z of the position that goes on. */
  readonly axes: AxisOrder;
  /** Its status (validity). */
  readonly quality: QualityScale;
  /** Whether a tracker's own timestamp is when it was measured. */
  readonly stamps: (typeof PSN_STAMPS)[number];
}

export const PSN_POSITION_REJECT_REASONS = ['no-position'] as const;
export type PsnPositionRejectReason =
  | (typeof PSN_POSITION_REJECT_REASONS)[number]
  | 'not-finite'
  | 'quality-range';

/** Whether a tracker of a show is one that PosiStageNet can have: a whole number of 16 bits. */
export function isPsnTracker(tracker: string): boolean {
  return /^(0|[1-9]\d{0,4})$/.test(tracker) && Number(tracker) <= MAX_PSN_TRACKER;
}

export interface PsnFeed {
  readonly options: PsnFeedOptions;
  readonly map: AxisMap;
}

export function compilePsnFeed(options: PsnFeedOptions): PsnFeed {
  return { options, map: axisMap(options.axes, 1) };
}

/** Reads a tracker of a data packet into `out`, or says why not (`out` is then half written). */
export function readPsnPosition(
  { options, map }: PsnFeed,
  tracker: Readonly<PsnTracker>,
  out: RawPosition,
): PsnPositionRejectReason | undefined {
  out.tracker = String(tracker.id);
  if (!tracker.hasPosition) return 'no-position';
  const { x, y, z } = tracker;
  if (!(Number.isFinite(x) && Number.isFinite(y) && Number.isFinite(z))) return 'not-finite';
  toStageAxes(map, x, y, z, out);
  out.quality = undefined;
  if (tracker.hasValidity) {
    if (!Number.isFinite(tracker.validity)) return 'not-finite';
    const quality = qualityOn(options.quality, tracker.validity);
    if (Number.isNaN(quality)) return 'quality-range';
    out.quality = quality;
  }
  out.battery = undefined;
  out.batteryOutside = undefined;
  const isStamped = tracker.hasTimestamp && options.stamps !== 'ignored';
  out.stampS = isStamped ? tracker.timestampUs * 1e-6 : undefined;
  return undefined;
}
