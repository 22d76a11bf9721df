import type { Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import type { Walk } from './walk.js';

/** Shorter than this somebody only passed, seconds. */
const LEAST_S = 1;
const MOST_NAMED = 4;

/** The same in one line. */
export function waitingInWords(waiting: readonly string[]): string {
  return waiting.length === 0 ? 'everybody heard, every place visited' : waiting.join('; ');
}

/** Whom and what a walk before the doors still waits for, in words; empty when it has all that it asks for. */
export function waitingFor(show: Show, walk: Walk): string[] {
  const walked = walk.walked();
  const zoneOf = (zone: number) => show.zones[zone]?.label ?? '';
  const silent = show.performers.flatMap(({ label, trackers }) =>
    trackers.filter(({ id }) => !walk.heard.has(id)).map(({ id }) => `${label} (tracker ${id})`),
  );
  const { offStage } = walk;
  const missing = show.performers.flatMap(({ name, label, trackers }, index) => {
    if (offStage.includes(name) || !trackers.some(({ id }) => walk.heard.has(id))) return [];
    const zones = walked.filter(one => one.performer === index && one.named && one.heldS < LEAST_S);
    return zones.length === 0
      ? []
      : [
          `${label} in ${enumerated(
            zones.map(({ zone }) => zoneOf(zone)),
            MOST_NAMED,
          )}`,
        ];
  });
  const open = [...new Set(walked.filter(one => !one.named).map(({ zone }) => zone))].filter(
    zone => !walked.some(one => one.zone === zone && one.heldS >= LEAST_S),
  );
  return [
    ...(silent.length > 0 ? [`not heard yet: ${enumerated(silent, MOST_NAMED)}`] : []),
    ...(missing.length > 0 ? [`still to come: ${enumerated(missing, MOST_NAMED)}`] : []),
    ...(offStage.length > 0 ? [`off stage: ${enumerated(labelsOf(offStage, show))}`] : []),
    ...(open.length > 0 ? [`somebody in ${enumerated(open.map(zoneOf), MOST_NAMED)}`] : []),
  ];
}

function labelsOf(names: readonly string[], { performers }: Show): string[] {
  return performers.filter(({ name }) => names.includes(name)).map(({ label }) => label);
}
