import type { OscArgument } from '../../../src/protocols/osc/library.js';
import {
  type PositionRejectReason,
  readPositions,
} from '../../../src/protocols/osc/read-positions.js';
import type { RouteTable } from '../../../src/protocols/osc/route.js';
import type { RawPosition } from '../../../src/protocols/raw-position.js';

/** Reads a message with one position into `out`, or says why it is none. */
export function readPosition(
  table: RouteTable,
  address: string,
  args: readonly OscArgument[],
  out: RawPosition,
): PositionRejectReason | undefined {
  let why: PositionRejectReason | undefined;
  readPositions(table, address, args, 0, out, {
    position: () => undefined,
    rejected: reason => {
      why = reason;
    },
  });
  return why;
}
