import { describe } from '../daemon/describe.js';
import type { SupervisorEvent } from '../daemon/supervisor.js';
import type { SafeAction } from '../reporting/account.js';
import { readParts } from './recording-files.js';

/** What the supervisor did to the light, and what became of the engine and the interfaces. */
export function supervisorActions(paths: readonly string[]): SafeAction[] {
  const actions: SafeAction[] = [];
  readParts(paths, item => {
    if (item.type !== 'supervisor') return undefined;
    const { atS, event } = item.value as { atS?: number; event?: SupervisorEvent };
    if (atS === undefined || event === undefined) return undefined;
    const what = wordsFor(event);
    if (what !== undefined) actions.push({ atS, what });
    return undefined;
  });
  return actions;
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
    case 'engine-ended':
    case 'engine-started':
    case 'lighting':
    case 'stopped':
      return describe(event).text;
    default:
      return undefined;
  }
}
