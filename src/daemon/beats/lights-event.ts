import type { FallbackPhase } from '../../safety/fallback.js';
import type { SupervisorCondition } from '../../safety/watchdog-table.js';
import type { EngineRunner } from '../engine/engine-runner.js';
import type { SupervisorEvent } from './supervisor-options.js';

/** What a beat found that takes the light to another phase. */
export interface Found {
  readonly condition: SupervisorCondition | undefined;
  /** This process stood still for so long, seconds; undefined: it did not. */
  readonly stalledS: number | undefined;
  /** All light goes to its safe look before universes of it end. */
  readonly fadesOut: boolean;
  /** Universes, as the show numbers them, whose light is not where the rest is; see `notWithTheRest`. */
  readonly except: readonly number[];
}

const RELOADED = 'the show is reloaded';

/** A change of all light, with its cause in plain words and its row of the watchdog's table. */
export function lightsEvent(
  from: FallbackPhase,
  to: FallbackPhase,
  { condition, stalledS, fadesOut, except }: Found,
  runner: EngineRunner,
  nowS: number,
): SupervisorEvent {
  const kind = 'lights';
  if (stalledS !== undefined) {
    const cause = `the daemon stood still for ${stalledS.toFixed(2)} s`;
    return { kind, from, to, cause, condition: 'engine-late' };
  }
  if (fadesOut) return reloadEvent(from, to);
  const event = { kind, from, to, cause: runner.causeOf(condition, nowS), condition } as const;
  const isAtSafe = to === 'safe' || to === 'rearming';
  return isAtSafe && except.length > 0 ? { ...event, except } : event;
}

export function reloadEvent(from: FallbackPhase, to: FallbackPhase): SupervisorEvent {
  return { kind: 'lights', from, to, cause: RELOADED, condition: 'show-reload' };
}
