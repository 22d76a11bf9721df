/** One line of a walk before the doors: what was looked at, what was found, what to do. */
export interface Check {
  readonly area: Area;
  /** What was looked at, in two or three words. */
  readonly name: string;
  readonly state: State;
  /** What was found, one sentence or two. */
  readonly found: string;
  /** What to do; empty where nothing has to be done. */
  readonly act: string;
}

/** `unknown`: it could not be looked at, or does not apply; nothing is said for it or against it. */
export const STATES = ['pass', 'warn', 'fail', 'unknown'] as const;
export type State = (typeof STATES)[number];

export const AREAS = {
  show: 'show',
  networks: 'networks',
  universes: 'universes',
  sources: 'other senders',
  nodes: 'Art-Net nodes',
  feed: 'tracking feed',
  frame: 'stage frame',
  places: 'places that matter',
  fixtures: 'fixtures',
  watchdog: 'watchdog',
  hazards: 'hazards',
  machine: 'this machine',
  service: 'the service',
} as const;
export type Area = keyof typeof AREAS;

export function pass(area: Area, name: string, found: string): Check {
  return { area, name, state: 'pass', found, act: '' };
}

export function warn(area: Area, name: string, found: string, act: string): Check {
  return { area, name, state: 'warn', found, act };
}

export function fail(area: Area, name: string, found: string, act: string): Check {
  return { area, name, state: 'fail', found, act };
}

export function unknown(area: Area, name: string, found: string): Check {
  return { area, name, state: 'unknown', found, act: '' };
}

export function countStates(checks: readonly Check[]): Record<State, number> {
  const counts = { pass: 0, warn: 0, fail: 0, unknown: 0 };
  for (const { state } of checks) counts[state]++;
  return counts;
}
