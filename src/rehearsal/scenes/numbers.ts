import type { Datagram } from '../../engine/values/inputs.js';
import { encodePacket } from '../../protocols/osc/encode.js';
import type { Show } from '../../show/model/model.js';

/** A number by OSC in a scene: from when, or its end. */
export interface SceneNumber {
  /** Name of the signal. */
  readonly signal: string;
  /** Marks, times rising; `value` undefined: nothing is heard of it from then on. */
  readonly marks: readonly { readonly atS: number; readonly value: number | undefined }[];
}

/** Whoever sends a number repeats it, so that it is still known; seconds. */
const EVERY_S = 0.1;

/** The signals of a show that are numbers by OSC, in their order. */
export function numberSignals({ signals: { signals } }: Show): readonly string[] {
  return signals.flatMap(({ name, source }) => (source.kind === 'osc' ? [name] : []));
}

/**
 * The datagram with which a number would come in, at a time of the caller.
 * @returns undefined where the show has no such signal
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

/** All numbers of a scene as they arrive, seconds from its start. */
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
