import type { Datagram } from '../../engine/values/inputs.js';
import { encodePacket } from '../../protocols/osc/encode.js';
import type { Show } from '../../show/model/model.js';

/** What a number by OSC is in a scene, over time. */
export interface SceneNumber {
  /** Name of the signal. */
  readonly signal: string;
  /** Marks with rising times, seconds from the start of the scene; `value` undefined: its sender is silent from then on. */
  readonly marks: readonly { readonly atS: number; readonly value: number | undefined }[];
}

/** How often its sender repeats a number, seconds: one that isn't repeated would become unknown. */
const EVERY_S = 0.1;

/** Names of the signals that come as numbers by OSC, in the order of the show. */
export function numberSignals({ signals: { signals } }: Show): readonly string[] {
  return signals.flatMap(({ name, source }) => (source.kind === 'osc' ? [name] : []));
}

/**
 * The datagram that would bring a number; the caller says when it arrives.
 * @returns undefined if the show has no such signal
 */
export function numberDatagram(
  { signals: { signals } }: Show,
  signal: string,
  value: number,
): Omit<Datagram, 'arrivalS'> | undefined {
  const source = signals.find(one => one.name === signal)?.source;
  if (source?.kind !== 'osc') return undefined;
  const { input, address, argument } = source;
  const args = Array.from({ length: argument + 1 }, (_, i) => ({
    type: 'f' as const,
    value: i === argument ? value : 0,
  }));
  return { input, bytes: encodePacket({ address, args }) };
}

/** The datagrams of all numbers of a scene; `arrivalS` is in seconds from its start. */
export function numbersIn(
  show: Show,
  numbers: readonly SceneNumber[],
  lengthS: number,
): Datagram[] {
  return numbers.flatMap(({ signal, marks }) =>
    marks.flatMap(({ atS, value }, i) => {
      const one = value === undefined ? undefined : numberDatagram(show, signal, value);
      if (one === undefined) return [];
      const untilS = Math.min(lengthS, marks[i + 1]?.atS ?? lengthS);
      const count = Math.max(0, Math.ceil((untilS - atS) / EVERY_S - 1e-9));
      return Array.from({ length: count }, (_, n) => ({ ...one, arrivalS: atS + n * EVERY_S }));
    }),
  );
}
