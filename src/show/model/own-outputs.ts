import { enumerated } from '../../stage/enumerated.js';
import { listed, suggestion } from '../problems/problem.js';
import type { OperatorPlan, PairMachinePlan, Show } from './model.js';

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
  const { operator } = show;
  const problems = operator === undefined ? [] : oneForSeveralPairs(operator, names);
  if (problems.length > 0) return { ok: false, problems };
  const tells = outputs[0] === show.outputs[0];
  const own = (one: PairMachinePlan) => one.outputs.some(name => names.includes(name));
  return {
    ok: true,
    show: {
      ...show,
      outputs,
      share: { others, tells },
      operator: operator && {
        ...operator,
        standby: operator.standby.filter(own),
        main: operator.main.filter(own),
      },
    },
  };
}

/** The orders of one pair would go to a machine of another, or those of two pairs to one machine. */
function oneForSeveralPairs(operator: OperatorPlan, names: readonly string[]): string[] {
  return (['standby', 'main'] as const).flatMap(key =>
    operator[key].flatMap(({ address, outputs }) => {
      const own = outputs.filter(name => names.includes(name));
      const others = outputs.filter(name => !names.includes(name));
      if (own.length === 0 || others.length === 0) return [];
      const right = [...own, ...others].map(name => `${name}: ADDRESS`).join(', ');
      return `--outputs: \`operator.${key}\` has one machine, ${address}, for ${enumerated(own)}, which this machine sends, and for ${enumerated(others)}, which others send: a stop given at one pair would go to another, or to none. Give each pair its own: \`${key}: { ${right} }\`, and leave out outputs without one.`;
    }),
  );
}
