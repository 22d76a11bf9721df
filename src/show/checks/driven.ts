import { own } from '../../stage/own.js';
import type { Finding, Path } from '../problems/problem.js';
import type { Member } from '../resolve/groups.js';
import { type SignalFigures, UNIT_WORDS } from '../resolve/signal-figures.js';
import type { MappingFile } from '../schema/mappings.js';
import type { ShowFile } from '../schema/schema.js';
import type { Answers } from './can-be-yes.js';
import type { NameCheck } from './names.js';
import { withoutPosition } from './signals.js';

/** What drives a mapping: its signal, its condition, and whether it can ever act. */
export function checkDriven(
  names: NameCheck,
  figures: ReadonlyMap<string, SignalFigures>,
  answers: Answers,
  mapping: MappingFile,
  members: readonly Member[],
  path: Path,
): Finding[] {
  const findings = [
    ...checkWhen(answers, mapping, path),
    ...checkMaster(names, figures, mapping, path),
  ];
  if ('follow' in mapping) return findings;
  if ('by' in mapping && names.one('signals', mapping.by, [...path, 'by'])) {
    findings.push(...checkBy(names.show, figures.get(mapping.by), mapping.by, members, path));
  }
  for (const attribute of Object.keys(mapping.from ?? {})) {
    if (Object.hasOwn(mapping.set, attribute)) continue;
    findings.push({
      code: 'attribute-missing',
      message: `from has ${attribute} but set does not; add the value at full level to set.`,
      path: [...path, 'from', attribute],
      atKey: true,
    });
  }
  if (Object.keys(mapping.set).length === 0 && !('zone' in mapping)) {
    findings.push({
      code: 'never-acts',
      message: 'set is empty, so the mapping does nothing; name the attributes that it drives.',
      path: [...path, 'set'],
    });
  }
  return findings;
}

function checkMaster(
  names: NameCheck,
  figures: ReadonlyMap<string, SignalFigures>,
  { master }: MappingFile,
  path: Path,
): Finding[] {
  const at = [...path, 'master'];
  if (master === undefined || !names.one('signals', master, at)) return [];
  const known = figures.get(master);
  if (known === undefined || (known.unit === 'share' && !known.byFixture && !known.byPlace)) {
    return [];
  }
  const message =
    known.unit === 'share'
      ? `signal "${master}" differs from fixture to fixture, but a master is one number for the whole mapping. Use the signal with by.`
      : `signal "${master}" is in ${UNIT_WORDS[known.unit]}, but a master goes from 0 to 1. Give the signal a range, which says what is 0 and what is 1.`;
  return [{ code: 'signal-unit', message, path: at }];
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
        message: `signal "${by}" is in ${UNIT_WORDS[known.unit]}, but a mapping goes from 0 to 1. Give the signal a range, which says what is 0 and what is 1.`,
        path: [...path, 'by'],
      },
    ];
  }
  if (known.greatest <= 0) {
    return [
      {
        code: 'never-acts',
        message: `signal "${by}" is never above 0, so the mapping never acts; check its range.`,
        path: [...path, 'by'],
      },
    ];
  }
  if (!known.byFixture) return [];
  return members
    .filter(({ name }) => Object.hasOwn(show.fixtures, name))
    .filter(({ name }) => own(show.fixtures, name)?.position === undefined)
    .map(({ name, at }) => withoutPosition(name, [...path, 'fixtures', at]));
}

function checkWhen(answers: Answers, mapping: MappingFile, path: Path): Finding[] {
  const when = 'when' in mapping ? mapping.when : undefined;
  if (when === undefined || answers.canBeYes(when)) return [];
  return [
    {
      code: 'never-acts',
      message: 'the condition can never be yes: it requires something and its opposite.',
      path: [...path, 'when'],
    },
  ];
}
