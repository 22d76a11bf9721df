import type { Member } from '../groups.js';
import type { Finding, Path } from '../problem.js';
import type { ShowFile } from '../schema.js';
import type { MappingFile } from '../schema-mappings.js';
import type { ConditionPartFile } from '../schema-signals.js';
import { type SignalFigures, UNIT_WORDS } from '../signal-figures.js';
import type { NameCheck } from './names.js';
import { withoutPosition } from './signals.js';

/** Of more parts than this it is not looked whether they can be yes together: 2^n cases. */
const MOST_PARTS = 12;

/** What drives a mapping: its signal, its condition, and whether it can ever act. */
export function checkDriven(
  names: NameCheck,
  figures: ReadonlyMap<string, SignalFigures>,
  mapping: MappingFile,
  members: readonly Member[],
  path: Path,
): Finding[] {
  if ('follow' in mapping) return checkWhen(names.show, mapping, path);
  const findings = checkWhen(names.show, mapping, path);
  if ('by' in mapping && names.one('signals', mapping.by, [...path, 'by'])) {
    findings.push(...checkBy(names.show, figures.get(mapping.by), mapping.by, members, path));
  }
  for (const attribute of Object.keys(mapping.from ?? {})) {
    if (Object.hasOwn(mapping.set, attribute)) continue;
    findings.push({
      code: 'attribute-missing',
      message: `from has ${attribute}, and set has not: say where it goes to.`,
      path: [...path, 'from', attribute],
      atKey: true,
    });
  }
  if (Object.keys(mapping.set).length === 0 && !('zone' in mapping)) {
    findings.push({
      code: 'never-acts',
      message:
        'set is empty, so that the mapping does nothing; name the attributes that it drives.',
      path: [...path, 'set'],
    });
  }
  return findings;
}

function checkBy(
  show: ShowFile,
  known: SignalFigures | undefined,
  by: string,
  members: readonly Member[],
  path: Path,
): Finding[] {
  if (known === undefined) return [];
  if (known.unit !== 'share') {
    return [
      {
        code: 'signal-unit',
        message: `signal "${by}" is in ${UNIT_WORDS[known.unit]}, and a mapping goes from 0 to 1: give the signal a range, which says what is 0 and what is 1.`,
        path: [...path, 'by'],
      },
    ];
  }
  if (known.greatest <= 0) {
    return [
      {
        code: 'never-acts',
        message: `signal "${by}" is never above 0, so that the mapping never acts; look at its range.`,
        path: [...path, 'by'],
      },
    ];
  }
  if (!known.byFixture) return [];
  return members
    .filter(({ name }) => Object.hasOwn(show.fixtures, name))
    .filter(({ name }) => show.fixtures[name]?.position === undefined)
    .map(({ name, at }) => withoutPosition(name, [...path, 'fixtures', at]));
}

function checkWhen(show: ShowFile, mapping: MappingFile, path: Path): Finding[] {
  const when = 'when' in mapping ? mapping.when : undefined;
  if (when === undefined || canBeYes(show, when)) return [];
  return [
    {
      code: 'never-acts',
      message: 'the condition can never be yes: it asks for something and for its opposite.',
      path: [...path, 'when'],
    },
  ];
}

type Leaf = string;
type Sum = (yes: ReadonlySet<Leaf>) => boolean;

/** Whether some answers of its parts make a condition yes, each part taken by itself. */
function canBeYes(show: ShowFile, condition: ConditionPartFile): boolean {
  const leaves = new Set<Leaf>();
  const answer = asked(show, condition, leaves, new Set());
  const all = [...leaves];
  if (answer === undefined || all.length > MOST_PARTS) return true;
  for (let mask = 0; mask < 2 ** all.length; mask++) {
    if (answer(new Set(all.filter((_, i) => (mask >> i) % 2 === 1)))) return true;
  }
  return false;
}

/** @returns undefined where it can't be said: a name of nothing, a circle, or something that lasts */
function asked(
  show: ShowFile,
  part: ConditionPartFile,
  leaves: Set<Leaf>,
  within: ReadonlySet<string>,
): Sum | undefined {
  if (typeof part === 'string') {
    const named = Object.hasOwn(show.conditions, part) ? show.conditions[part] : undefined;
    if (named === undefined || within.has(part)) return undefined;
    return asked(show, named, leaves, new Set([...within, part]));
  }
  // What is held or waited for may be yes when its parts are no more.
  if (part.for > 0 || part.hold > 0 || 'signal' in part || 'in' in part) {
    const leaf = JSON.stringify(part);
    leaves.add(leaf);
    return yes => yes.has(leaf);
  }
  const parts: readonly ConditionPartFile[] =
    'not' in part ? [part.not] : 'all' in part ? part.all : part.any;
  const answers = parts.map(one => asked(show, one, leaves, within));
  if (answers.some(one => one === undefined)) return undefined;
  const known = answers as Sum[];
  if ('not' in part) return yes => known[0]?.(yes) === false;
  return 'all' in part ? yes => known.every(one => one(yes)) : yes => known.some(one => one(yes));
}
