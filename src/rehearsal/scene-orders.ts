import type { OperatorAction } from '../engine/operator-action.js';
import type { Show } from '../show/model.js';
import { nameMeant } from '../show/names.js';
import { type Finding, listed, type Path } from '../show/problem.js';
import type { SceneFile } from './scene-schema.js';

/** What an operator asks for in a scene, and when. */
export interface SceneOrder {
  /** Seconds from the start. */
  readonly atS: number;
  readonly action: OperatorAction;
}

export type Find = (code: Finding['code'], path: Path, message: string) => void;

const ASKED = { cause: 'command', by: 'the scene' } as const;
const EVERYBODY = 'everybody';

/** The cues of a scene, and whom it sends off stage: one list, times rising; cues come first. */
export function ordersOf(file: SceneFile, show: Show, find: Find): SceneOrder[] {
  checkRising(file.cues, ['cues'], find);
  checkRising(file.orders, ['orders'], find);
  return [...cuesOf(file, show, find), ...stageOrdersOf(file, show, find)].sort(
    (a, b) => a.atS - b.atS,
  );
}

/**
 * Another evening begins in the first cue, and nobody has just been sent off.
 * @param offStage who is, at its beginning; they come on as soon as they are heard
 */
export function ordersOfRound(
  { cues }: Show,
  orders: readonly SceneOrder[],
  round: number,
  offStage: readonly string[],
): readonly SceneOrder[] {
  if (round === 0) return orders;
  const anew: SceneOrder[] = [];
  const [first] = cues;
  if (first !== undefined) {
    anew.push({ atS: 0, action: { kind: 'cue', to: { name: first.name }, ...ASKED } });
  }
  for (const performer of offStage) {
    anew.push({ atS: 0, action: { kind: 'off', performer, away: true, ...ASKED } });
  }
  return [...anew, ...orders];
}

export function checkRising(
  list: readonly { readonly at: number }[],
  path: Path,
  find: Find,
): void {
  list.forEach(({ at }, i) => {
    const before = list[i - 1]?.at ?? 0;
    if (at >= before) return;
    find('bad-value', [...path, i, 'at'], `times rise: this one is to be ${before} at least.`);
  });
}

function cuesOf(file: SceneFile, show: Show, find: Find): SceneOrder[] {
  return file.cues.map(({ at, cue }, i): SceneOrder => {
    const path = ['cues', i, 'cue'];
    const isStep = cue === 'next' || cue === 'back';
    if (isStep && show.cues.length === 0) find('unknown-name', path, 'the show has no cues.');
    if (!isStep && !show.cues.some(({ name }) => name === cue)) {
      const has =
        show.cues.length === 0
          ? 'The show has no cues.'
          : `It has ${listed(show.cues.map(({ name }) => name))}.`;
      find(
        'unknown-name',
        path,
        `the show has no cue "${cue}".${nameMeant(cue, show.cues)} ${has}`,
      );
    }
    const to = isStep ? cue : { name: cue };
    return { atS: at, action: { kind: 'cue', to, ...ASKED } };
  });
}

function stageOrdersOf(file: SceneFile, { performers }: Show, find: Find): SceneOrder[] {
  return file.orders.flatMap(({ at, off, on }, i): SceneOrder[] => {
    const path = ['orders', i];
    const [kind, whom] = off === undefined ? (['on', on] as const) : (['off', off] as const);
    if (whom === undefined) {
      find('missing-key', path, 'an order says who goes "off" the stage, or who is "on" it again.');
      return [];
    }
    if (off !== undefined && on !== undefined) {
      find('bad-value', [...path, 'on'], 'an order has "off" or "on", not both: make it two.');
    }
    if (whom !== EVERYBODY && !performers.some(({ name }) => name === whom)) {
      const has = listed([...performers.map(({ name }) => name), EVERYBODY]);
      find(
        'unknown-name',
        [...path, kind],
        `the show has no performer "${whom}".${nameMeant(whom, performers)} It takes ${has}.`,
      );
    }
    const performer = whom === EVERYBODY ? undefined : whom;
    return [{ atS: at, action: { kind, performer, ...ASKED } }];
  });
}
