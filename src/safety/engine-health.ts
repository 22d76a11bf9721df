import type { SupervisorCondition } from './watchdog-table.js';

/** What the supervisor knows of the engine and of itself in one beat. */
export interface EngineHealth {
  readonly stopping: boolean;
  /** There is an engine process. */
  readonly running: boolean;
  /** Since its last frame that came on time, seconds; undefined before the first. */
  readonly frameAgeS: number | undefined;
}

/**
 * The worst condition that takes everything to the safe look; undefined while all is well. Written so that
 * NaN is never well.
 * @param afterS engineSilent.after
 */
export function supervisorCondition(
  { stopping, running, frameAgeS }: EngineHealth,
  afterS: number,
): SupervisorCondition | undefined {
  if (stopping) return 'shutdown';
  if (!running) return 'engine-dead';
  return frameAgeS !== undefined && frameAgeS <= afterS ? undefined : 'engine-late';
}
