import { encodeJson } from '../../recording/encode.js';
import type { Start } from '../../recording/start.js';
import type { Show } from '../../show/model/model.js';
import { unixOffsetS } from '../machine/clock.js';
import type { Recorder } from './folders.js';
import type { RecordedSource, RecordOrders } from './orders.js';

/**
 * The record with which each part begins.
 * @param offsetS Unix time less monotonic time, seconds
 */
export function startRecord(
  by: Recorder,
  { version }: Pick<RecordOrders, 'version'>,
  show: Show,
  source: RecordedSource,
  { run, before, part }: { run: string; before?: string | undefined; part: number },
  tick: number,
  atS: number,
  offsetS = unixOffsetS(),
): Buffer {
  const start: Start = {
    by,
    run,
    ...(before === undefined ? {} : { before }),
    part,
    tick,
    version,
    node: process.version,
    platform: `${process.platform} ${process.arch}`,
    tickHz: source.tickHz,
    showFile: source.file,
    showText: source.text,
    universes: [...show.universes],
    atS,
    unixOffsetS: offsetS,
  };
  return encodeJson('start', start);
}
