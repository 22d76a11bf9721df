import { enumerated } from '../../stage/enumerated.js';
import type { Finding } from '../problems/problem.js';

/** Something wrong with a fixture that may be wrong with others in the same way. */
export interface FixtureFault extends Omit<Finding, 'message'> {
  readonly fixture: string;
  readonly message: (whose: Whose) => string;
}

/** The fixtures of which a message speaks. */
export interface Whose {
  /** `fixture "a"`, or `fixtures "a" and "b"`. */
  readonly fixtures: string;
  readonly several: boolean;
}

/** One cause is one finding, at its first place, with all fixtures that have it there. */
export function together(faults: readonly FixtureFault[]): Finding[] {
  const groups = new Map<string, FixtureFault[]>();
  for (const fault of faults) {
    const { code, path, message } = fault;
    // The place below the fixture, or below the mapping, must be the same.
    const key = JSON.stringify([code, path.slice(2), message({ fixtures: '', several: false })]);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [fault]);
    else group.push(fault);
  }
  return [...groups.values()].map(group => {
    const [{ fixture: _, message, ...first }] = group as [FixtureFault];
    const names = [...new Set(group.map(({ fixture }) => `"${fixture}"`))];
    const several = names.length > 1;
    const fixtures = `fixture${several ? 's' : ''} ${enumerated(names)}`;
    return { ...first, message: message({ fixtures, several }) };
  });
}
