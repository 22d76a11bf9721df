import { deserialize, serialize } from 'node:v8';
import type { Show } from '../../show/model/model.js';

/** What a large house has many of: so many are unpacked at once, for which a tick has time. */
const IN_A_PART = { fixtures: 25, mappings: 100, cues: 20 } as const;
type Many = keyof typeof IN_A_PART;
const MANY = Object.keys(IN_A_PART) as readonly Many[];

/**
 * A show that has been read, in parts: to read its text takes a large house a second, to unpack a part a millisecond
 * or two. The first has all but what there may be many of.
 */
export function packShow(show: Show): Uint8Array[] {
  const parts: unknown[] = [{ ...show, fixtures: [], mappings: [], cues: [] }];
  for (const key of MANY) {
    const size = IN_A_PART[key];
    for (let i = 0; i < show[key].length; i += size) {
      parts.push({ [key]: show[key].slice(i, i + size) });
    }
  }
  return parts.map(part => serialize(part));
}

/** As it crosses a pipe. */
export function packedText(parts: readonly Uint8Array[]): string[] {
  return parts.map(part => Buffer.from(part).toString('base64'));
}

/** The other way. */
export function packedOf(text: readonly string[]): Uint8Array[] {
  return text.map(part => Buffer.from(part, 'base64'));
}

/** All of it at once. */
export function unpackShow(parts: readonly Uint8Array[]): Show {
  const unpacking = unpackInParts(parts);
  for (;;) {
    const { done, value } = unpacking.next();
    if (done === true) return value;
  }
}

/** A part at a time, so that the caller can do other work in between. */
export function* unpackInParts(parts: readonly Uint8Array[]): Generator<undefined, Show> {
  const [first, ...rest] = parts;
  if (first === undefined) throw new Error('a packed show without parts');
  const show = deserialize(first) as Show;
  const many: { [K in Many]: Show[K][number][] } = { fixtures: [], mappings: [], cues: [] };
  for (const part of rest) {
    yield;
    const { fixtures = [], mappings = [], cues = [] } = deserialize(part) as Partial<Show>;
    many.fixtures.push(...fixtures);
    many.mappings.push(...mappings);
    many.cues.push(...cues);
  }
  yield;
  return { ...show, ...many };
}
