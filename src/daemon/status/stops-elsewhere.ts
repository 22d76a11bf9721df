import { sentElsewhereInWords } from '../../live/elsewhere-words.js';
import { litElsewhere } from '../../show/model/lit-elsewhere.js';
import type { Show } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';
import type { PerformerStatus, Status } from '../asking/status.js';

/**
 * Troubles for stopped performers whose light another machine sends: a stop here does not reach it, and this machine
 *  * doesn't know whether they are stopped there too.
 * @param performers all, in the order of the show
 */
export function stopsElsewhere(
  show: Show,
  performers: readonly PerformerStatus[],
  everybody: boolean,
): Status['troubles'] {
  if (show.share === undefined) return [];
  const stopped = performers.filter(({ state }) => state === 'stopped');
  const [since = ''] = stopped.map(one => one.since).sort();
  const ofAll = everybody ? litElsewhere(show, undefined) : [];
  if (ofAll.length > 0 && stopped.length === performers.length) {
    const what = sentElsewhereInWords(ofAll, 'light');
    return [{ what: `${what}: check that everybody is stopped there too`, since }];
  }
  const byOutputs = new Map<string, { outputs: readonly string[]; of: PerformerStatus[] }>();
  for (const one of stopped) {
    const index = performers.indexOf(one);
    const outputs = litElsewhere(show, index);
    if (outputs.length === 0) continue;
    const group = byOutputs.get(outputs.join()) ?? { outputs, of: [] };
    group.of.push(one);
    byOutputs.set(outputs.join(), group);
  }
  return [...byOutputs.values()].map(({ outputs, of }) => {
    const who = enumerated(of.map(({ label }) => label));
    const what = sentElsewhereInWords(outputs, `the light of ${who}`);
    const [first = ''] = of.map(one => one.since).sort();
    return { what: `${what}: check that they are stopped there too`, since: first };
  });
}
