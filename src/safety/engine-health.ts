import type { EngineHealth } from './observation.js';
import { SUPERVISOR_ROWS, type SupervisorCondition, type SupervisorRow } from './watchdog-table.js';

/**
 * The worst condition that takes everything to the safe look; undefined while all is well. Written so that
 * NaN is never well.
 * @param afterS engineSilent.after
 */
export function supervisorCondition(
  health: EngineHealth,
  afterS: number,
): SupervisorCondition | undefined {
  for (let i = 0; i < SUPERVISOR_ROWS.length; i++) {
    const row = SUPERVISOR_ROWS[i] as SupervisorRow;
    if (row.holds(health, afterS)) return row.condition;
  }
  return undefined;
}
