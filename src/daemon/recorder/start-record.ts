import { encodeJson } from '../../recording/encode.js';
import type { Start } from '../../recording/start.js';
import type { Show } from '../../show/model.js';
import { unixOffsetS } from '../clock.js';
import type { Recorder } from './folders.js';
import type { RecordedSource, RecordOrders } from './orders.js';

/** The record with which each part begins. */
export function startRecord(
  by: Recorder,
  orders: RecordOrders,
  show: Show,
  source: RecordedSource,
  { run, before, part }: { run: string; before?: string | undefined; part: number },
  tick: number,
  atS: number,
): Buffer {
  const start: Start = {
    by,
    run,
    ...(before === undefined ? {} : { before }),
    part,
    tick,
    version: orders.version,
    node: process.version,
    platform: `${process.platform} ${process.arch}`,
    tickHz: source.tickHz,
    showFile: source.file,
    showText: source.text,
    universes: [...show.universes],
    atS,
    unixOffsetS: unixOffsetS(),
  };
  return encodeJson('start', start);
}
