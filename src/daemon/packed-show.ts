import { deserialize, serialize } from 'node:v8';
import type { FixturePlan, Show } from '../show/model.js';

/** So many fixtures are unpacked at once: a tick has time for them. */
const FIXTURES_IN_A_PART = 50;

/**
 * A show that has been read, in parts: to read its text takes a large house a second, to unpack a part some
 * milliseconds. The first has all but the fixtures.
 */
export function packShow(show: Show): Uint8Array[] {
  const parts: unknown[] = [{ ...show, fixtures: [] }];
  for (let i = 0; i < show.fixtures.length; i += FIXTURES_IN_A_PART) {
    parts.push(show.fixtures.slice(i, i + FIXTURES_IN_A_PART));
  }
  return parts.map(part => serialize(part));
}

/** A part at a time, for whoever has something to do in between. */
export function* unpackInParts(parts: readonly Uint8Array[]): Generator<undefined, Show> {
  const [first, ...rest] = parts;
  if (first === undefined) throw new Error('a packed show without parts');
  const show = deserialize(first) as Show;
  const fixtures: FixturePlan[] = [];
  for (const part of rest) {
    yield;
    fixtures.push(...(deserialize(part) as FixturePlan[]));
  }
  yield;
  return { ...show, fixtures };
}
