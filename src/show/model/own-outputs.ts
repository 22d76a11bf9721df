import { listed, suggestion } from '../problems/problem.js';
import type { Show } from './model.js';

export type OwnOutputs =
  | { readonly ok: true; readonly show: Show }
  /** In plain words, all that is wrong. */
  | { readonly ok: false; readonly problems: readonly string[] };

/** Names of outputs, as an option gives them: "left, right"; undefined: all. */
export function outputNames(text: string | boolean | undefined): readonly string[] | undefined {
  return typeof text === 'string' ? text.split(',').map(name => name.trim()) : undefined;
}

/**
 * A show of which this machine sends only some outputs. Its universes stay: all levels are computed, so that heads
 * and cues run the same everywhere.
 * @param names undefined: all of them
 */
export function ownOutputs(show: Show, names: readonly string[] | undefined): OwnOutputs {
  if (names === undefined) return { ok: true, show };
  const known = show.outputs.map(({ name }) => name);
  const unknown = [...new Set(names)].filter(name => !known.includes(name));
  if (unknown.length > 0) {
    const problems = unknown.map(
      name =>
        `--outputs: the show has no output "${name}"; it has ${listed(known)}.${suggestion(name, known)}`,
    );
    return { ok: false, problems };
  }
  const outputs = show.outputs.filter(({ name }) => names.includes(name));
  const others = show.outputs.filter(({ name }) => !names.includes(name));
  if (others.length === 0) return { ok: true, show };
  const tells = outputs[0] === show.outputs[0];
  return { ok: true, show: { ...show, outputs, share: { others, tells } } };
}
