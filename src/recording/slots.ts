import { type Show, SLOTS_PER_UNIVERSE } from '../show/model/model.js';

/** A slot that came out otherwise, and what it is to the show. */
export interface SlotDifference {
  readonly universe: number;
  /** As people count, from 1. */
  readonly slot: number;
  /** undefined where nothing is patched. */
  readonly fixture: string | undefined;
  readonly attribute: string | undefined;
  readonly recorded: number;
  readonly replayed: number;
}

/** @param index among the levels of all universes */
export function describeSlot(
  show: Show,
  index: number,
  recorded: number,
  replayed: number,
): SlotDifference {
  const fixture = show.fixtures.find(
    ({ firstSlot, profile }) => index >= firstSlot && index < firstSlot + profile.footprint,
  );
  const channel = fixture?.profile.channels.find(({ offsets }) =>
    offsets.includes(index - fixture.firstSlot),
  );
  return {
    universe: show.universes[Math.floor(index / SLOTS_PER_UNIVERSE)] ?? 0,
    slot: (index % SLOTS_PER_UNIVERSE) + 1,
    fixture: fixture?.label,
    attribute: channel?.attribute,
    recorded,
    replayed,
  };
}
