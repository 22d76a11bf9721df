import { describe } from '../daemon/describe.js';
import type { SupervisorEvent } from '../daemon/supervisor.js';
import type { SafeAction } from '../reporting/account.js';
import { readParts } from './recording-files.js';

export interface SupervisorActs {
  /** What it did to the light, and what became of everything else that it looks after, in words. */
  readonly actions: readonly SafeAction[];
  /** When another show, or another version of it, took over, monotonic seconds. */
  readonly reloadsS: readonly number[];
}

/** Read from the supervisor's part of a recording. */
export function supervisorActs(paths: readonly string[]): SupervisorActs {
  const actions: SafeAction[] = [];
  const reloadsS: number[] = [];
  readParts(paths, item => {
    if (item.type !== 'supervisor') return undefined;
    const { atS, event } = item.value as { atS?: number; event?: SupervisorEvent };
    if (atS === undefined || event === undefined) return undefined;
    if (event.kind === 'reloaded') reloadsS.push(atS);
    const what = wordsFor(event);
    if (what !== undefined) actions.push({ atS, what });
    return undefined;
  });
  return { actions, reloadsS };
}

function wordsFor(event: SupervisorEvent): string | undefined {
  switch (event.kind) {
    case 'lights':
      switch (event.to) {
        case 'losing':
          return `all light began to fade to its safe values (${event.cause})`;
        case 'safe':
          return 'all light at its safe values';
        case 'returning':
          return 'all light began to return from its safe values';
        default:
          return undefined;
      }
    // The engine's own part of the recording has these.
    case 'engine':
      return undefined;
    // Its own business: nobody's light.
    case 'state-saved':
      return undefined;
    default:
      return describe(event).text;
  }
}
