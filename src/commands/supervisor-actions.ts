import { describe } from '../daemon/describe.js';
import type { SupervisorEvent } from '../daemon/supervisor.js';
import type { SafeAction } from '../reporting/account.js';
import { readParts } from './recording-files.js';

/** What the supervisor did to the light, and what became of the engine and the interfaces. */
export function supervisorActions(paths: readonly string[]): SafeAction[] {
  const actions: SafeAction[] = [];
  readParts(paths, item => {
    if (item.type !== 'supervisor') return undefined;
    const { atS, event } = item.value as { atS: number; event: SupervisorEvent };
    if (KINDS.has(event.kind)) actions.push({ atS, what: describe(event).text });
    return undefined;
  });
  return actions;
}

const KINDS: ReadonlySet<SupervisorEvent['kind']> = new Set([
  'lights',
  'engine-ended',
  'engine-started',
  'lighting',
  'stopping',
  'stopped',
]);
