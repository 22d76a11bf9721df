import type { DeskLevels } from '../engine/values/inputs.js';
import { safeSlotsOf } from '../show/model/grounds.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../show/model/model.js';

/** What a `desk` record holds: of each universe its place, whether the desk is there, and slots with their levels. */
export interface HeardDesk {
  readonly desk: readonly {
    readonly input: number;
    readonly heard: boolean;
    /** See `DeskLevels`; missing in recordings of versions before. */
    readonly from?: string | undefined;
    readonly silent?: boolean | undefined;
    /** Slots from 0, each with its level. */
    readonly slots: readonly (readonly [slot: number, level: number])[];
  }[];
}

/** Of each universe of the desk the slots on which a signal, an order or a safe value rests, ascending. */
export function usedSlots({
  desk,
  orders,
  signals,
  fixtures,
}: Show): readonly (readonly number[])[] {
  return desk.map(({ ground }, input) => {
    const ofSignals = signals.signals.flatMap(({ source }) =>
      source.kind === 'slot' && source.desk === input
        ? [source.coarse, ...(source.fine === undefined ? [] : [source.fine])]
        : [],
    );
    const ofOrders = orders.flatMap(one => (one.desk === input ? [one.slot] : []));
    const ofSafe = fixtures.flatMap(fixture =>
      fixture.universe === ground ? safeSlotsOf(fixture) : [],
    );
    return [...new Set([...ofSignals, ...ofOrders, ...ofSafe])].sort((a, b) => a - b);
  });
}

export function deskRecordOf(
  heard: readonly DeskLevels[],
  used: readonly (readonly number[])[],
): HeardDesk {
  return {
    desk: heard.map(({ input, heard: isThere, levels, from, silent }) => ({
      input,
      heard: isThere,
      from,
      ...(silent === true ? { silent } : {}),
      slots: (used[input] ?? []).map((slot): [number, number] => [slot, levels[slot] ?? 0]),
    })),
  };
}

/** A record as it was read; undefined where it makes no sense. */
export function readDesk(value: unknown): readonly DeskLevels[] | undefined {
  const { desk } = Object(value) as { desk?: unknown };
  if (!Array.isArray(desk)) return undefined;
  const read: DeskLevels[] = [];
  for (const one of desk as unknown[]) {
    const { input, heard, slots, from, silent } = Object(one) as Record<string, unknown>;
    if (!isCount(input) || typeof heard !== 'boolean' || !Array.isArray(slots)) return undefined;
    if (from !== undefined && typeof from !== 'string') return undefined;
    const levels = new Uint8Array(SLOTS_PER_UNIVERSE);
    for (const pair of slots as unknown[]) {
      if (!Array.isArray(pair) || !isCount(pair[0]) || !isCount(pair[1])) return undefined;
      levels[pair[0]] = pair[1];
    }
    read.push({ input, heard, levels, from, silent: silent === true });
  }
  return read;
}

function isCount(value: unknown): value is number {
  return Number.isInteger(value) && (value as number) >= 0;
}
