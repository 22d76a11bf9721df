import type { InputPlan, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { printable } from '../stage/printable.js';
import { type Check, fail, pass, warn } from './check.js';
import type { FeedFact } from './facts.js';

/** What a tracking system says of itself, beside the show: its names, and its timestamps. Of PosiStageNet. */
export function checkNames(
  show: Show,
  { record, problem }: FeedFact,
  input: InputPlan | undefined,
): Check[] {
  if (problem !== undefined || input?.psn === undefined || record.trackers.size === 0) return [];
  const systems = [...record.systems].map(printable);
  return [
    ...(systems.length > 1 ? [severalSystems(input, systems)] : []),
    ...checkStamps(input, record),
    ...show.performers.flatMap(({ label, name, trackers }, index) =>
      trackers.flatMap(({ id }) => {
        const called = record.names.get(id);
        if (called === undefined || called.trim() === '') return [];
        return [checkName(show, { label, name, index, id }, printable(called))];
      }),
    ),
  ];
}

function severalSystems({ name }: InputPlan, systems: readonly string[]): Check {
  return warn(
    'feed',
    `input ${name}, systems`,
    `${enumerated(systems.map(one => `"${one}"`))} send there: two trackers with one number can't be told apart.`,
    'Set `allow` to the address of the right one, or give each its own group or port.',
  );
}

function checkStamps({ name, psn }: InputPlan, { kept, unstamped }: FeedFact['record']): Check[] {
  if (psn?.stamps !== 'required' || unstamped === 0) return [];
  const many = unstamped === kept ? 'none of them has' : `${unstamped} of ${kept} have not`;
  return [
    fail(
      'feed',
      `input ${name}, timestamps`,
      `positions come, and ${many} a timestamp of its tracker, which the show requires: the light would go to its safe values.`,
      'Have the server send them, or set `stamps` to `if sent`.',
    ),
  ];
}

function checkName(
  { performers }: Show,
  worn: { label: string; name: string; index: number; id: string },
  called: string,
): Check {
  const what = `${worn.label}, tracker ${worn.id}, name`;
  const isCalled = ({ label, name }: { label: string; name: string }) =>
    [label, name].some(one => one.toLowerCase() === called.trim().toLowerCase());
  if (isCalled(worn)) return pass('feed', what, `called "${called}" by the tracking system too.`);
  const other = performers.find((one, index) => index !== worn.index && isCalled(one));
  if (other === undefined) return pass('feed', what, `called "${called}" by the tracking system.`);
  return warn(
    'feed',
    what,
    `called "${called}" by the tracking system, and in the show ${worn.label} wears it.`,
    `Check who wears tracker ${worn.id}, and correct the show or the tracking system.`,
  );
}
