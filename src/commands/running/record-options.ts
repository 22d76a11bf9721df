import { statSync } from 'node:fs';
import { makeRunFolder } from '../../daemon/recorder/folders.js';
import type { RecordOrders } from '../../daemon/recorder/orders.js';
import type { Show } from '../../show/model/model.js';
import { messageOf } from '../../stage/message-of.js';
import type { Arguments } from '../terminal/dispatch.js';
import { packageVersion } from '../terminal/package-version.js';

const MIB = 1024 * 1024;
const UNITS: Readonly<Record<string, number>> = { MiB: MIB, GiB: 1024 * MIB };
const DEFAULT_PART_BYTES = 256 * MIB;
/** Parts are read whole. */
const MOST_PART_BYTES = 1024 * MIB;
const PART_S = 3600;
/** Smaller parts are mostly the show's text. */
const LEAST_BYTES = MIB;

export const RECORD_OPTIONS = {
  record: { type: 'string' },
  'record-part': { type: 'string' },
  'record-total': { type: 'string' },
} as const;

export type RecordChoice =
  | {
      readonly ok: true;
      readonly orders: RecordOrders | undefined;
      /** Why there is no recording although it was asked for. The show runs all the same. */
      readonly without: string | undefined;
    }
  | { readonly ok: false; readonly faults: readonly string[] };

/**
 * Reads `--record` and the options that go with it, and makes the run's folder. A service that is restarted on a
 * full disk must still run, so only wrong options are faults.
 */
export function recordOrders(args: Arguments, show: Show): RecordChoice {
  const faults: string[] = [];
  const size = (name: 'record-part' | 'record-total', most: number): number | undefined => {
    const text = args.values[name];
    if (text === undefined) return undefined;
    const match = /^(\d+(?:\.\d+)?) ?(MiB|GiB)$/.exec(String(text));
    const bytes = Number(match?.[1]) * (UNITS[match?.[2] ?? ''] ?? Number.NaN);
    if (bytes >= LEAST_BYTES && bytes <= most) return Math.round(bytes);
    const range = most === MOST_PART_BYTES ? 'from 1MiB to 1GiB' : 'from 1MiB up';
    faults.push(`--${name} is a size ${range}, such as 256MiB or 20GiB, not "${text}".`);
    return undefined;
  };
  const partBytes = size('record-part', MOST_PART_BYTES) ?? DEFAULT_PART_BYTES;
  const totalBytes = size('record-total', Number.POSITIVE_INFINITY);
  const parent = args.values.record;
  if (parent === undefined) {
    if (args.values['record-part'] !== undefined || totalBytes !== undefined) {
      faults.push('--record-part and --record-total go with --record DIR.');
    }
    return faults.length > 0
      ? { ok: false, faults }
      : { ok: true, orders: undefined, without: undefined };
  }
  if (totalBytes !== undefined && totalBytes < 2 * partBytes) {
    faults.push('--record-total is at least twice --record-part (256MiB unless it is given).');
  }
  if (faults.length > 0) return { ok: false, faults };
  try {
    const folder = makeRunFolder(String(parent), show.name, new Date());
    const version = packageVersion();
    const orders = {
      folder,
      parent: String(parent),
      device: statSync(String(parent)).dev,
      partBytes,
      partS: PART_S,
      totalBytes,
      version,
    };
    return { ok: true, orders, without: undefined };
  } catch (error) {
    const why = messageOf(error);
    return { ok: true, orders: undefined, without: `nothing is recorded to ${parent}: ${why}` };
  }
}
