import type { Show } from './model.js';

/** Who wears each tracker by the show, from the name of the tracker; spares are not among them. */
export function wearersOf({ performers }: Pick<Show, 'performers'>): Map<string, string> {
  return new Map(
    performers.flatMap(({ name, trackers }) =>
      trackers.map(({ id }): [string, string] => [id, name]),
    ),
  );
}
