import type { Datagram } from '../engine/values/inputs.js';

/** Addresses by the places of their datagrams in the record that follows. */
export interface Senders {
  readonly senders: readonly (readonly [place: number, address: string])[];
}

/** What a `senders` record holds of these datagrams; undefined where none of them is an order. */
export function sendersOf(datagrams: readonly Datagram[]): Senders | undefined {
  let senders: [number, string][] | undefined;
  for (let place = 0; place < datagrams.length; place++) {
    const from = datagrams[place]?.from;
    if (from === undefined) continue;
    senders ??= [];
    senders.push([place, from]);
  }
  return senders && { senders };
}

/** A record as it was read; undefined where it makes no sense. */
export function readSenders(value: unknown): Senders | undefined {
  const { senders } = Object(value) as { senders?: unknown };
  if (!Array.isArray(senders)) return undefined;
  const isPair = (one: unknown) =>
    Array.isArray(one) && Number.isInteger(one[0]) && typeof one[1] === 'string';
  return senders.every(isPair) ? { senders: senders as [number, string][] } : undefined;
}

export function withSenders(
  datagrams: readonly Datagram[],
  told: Senders | undefined,
): readonly Datagram[] {
  if (told === undefined) return datagrams;
  const addresses = new Map(told.senders);
  return datagrams.map((one, place) => {
    const from = addresses.get(place);
    return from === undefined ? one : { ...one, from };
  });
}
