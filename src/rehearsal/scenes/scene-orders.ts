import type { OperatorAction } from '../../engine/values/operator-action.js';
import { choosingHeads } from '../../show/model/choosing-heads.js';
import type { Show } from '../../show/model/model.js';
import { nameMeant } from '../../show/problems/names.js';
import { type Finding, listed, type Path } from '../../show/problems/problem.js';
import { unreachable } from '../../stage/unreachable.js';
import type { SceneFile } from './scene-schema.js';

/** An order of an operator in a scene, and its time. */
export interface SceneOrder {
  /** Seconds from the start. */
  readonly atS: number;
  readonly action: OperatorAction;
}

export type Find = (code: Finding['code'], path: Path, message: string) => void;

const ASKED = { cause: 'command', by: 'the scene' } as const;
const EVERYBODY = 'everybody';

/** The cues of a scene, who is sent off stage, and which heads are pinned, in order of time. At the same time, cues come first. */
export function ordersOf(file: SceneFile, show: Show, find: Find): SceneOrder[] {
  checkRising(file.cues, ['cues'], find);
  checkRising(file.orders, ['orders'], find);
  return [...cuesOf(file, show, find), ...givenOrders(file, show, find)].sort(
    (a, b) => a.atS - b.atS,
  );
}

/**
 * The orders of one round. Each round begins in the first cue, with nobody sent off and no head pinned.
 * @param offStage names of those off stage at the beginning; they come on as soon as they are heard
 */
export function ordersOfRound(
  show: Show,
  orders: readonly SceneOrder[],
  round: number,
  offStage: readonly string[],
): readonly SceneOrder[] {
  if (round === 0) return orders;
  const anew: SceneOrder[] = [];
  const [first] = show.cues;
  if (first !== undefined) {
    anew.push({ atS: 0, action: { kind: 'cue', to: { name: first.name }, ...ASKED } });
  }
  for (const performer of offStage) {
    anew.push({ atS: 0, action: { kind: 'off', performer, away: true, ...ASKED } });
  }
  const pins = orders.flatMap(({ action }) => (action.kind === 'pin' ? [action.fixture] : []));
  for (const fixture of new Set(pins)) {
    anew.push({ atS: 0, action: { kind: 'pin', fixture, performer: undefined, ...ASKED } });
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
    find('bad-value', [...path, i, 'at'], `times must rise: this one must be at least ${before}.`);
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

const ORDERS = ['off', 'on', 'pin', 'unpin'] as const;

function givenOrders(file: SceneFile, show: Show, find: Find): SceneOrder[] {
  return file.orders.flatMap((order, i): SceneOrder[] => {
    const path = ['orders', i];
    const words = ORDERS.filter(word => order[word] !== undefined);
    const [kind, ...more] = words;
    for (const other of more) {
      const message = `an order has "${kind}" or "${other}", not both: make it two.`;
      find('bad-value', [...path, other], message);
    }
    switch (kind) {
      case undefined:
        find(
          'missing-key',
          path,
          'an order says who goes "off" the stage, or is "on" it again, or which head to "pin" to whom, or to "unpin".',
        );
        return [];
      case 'off':
      case 'on':
        return sentOrder(order.at, kind, order[kind] ?? EVERYBODY, show, [...path, kind], find);
      case 'pin':
        return pinOrder(order.at, order.pin ?? [], show, [...path, kind], find);
      case 'unpin':
        return pinOrder(order.at, [order.unpin ?? ''], show, [...path, kind], find);
      default:
        return unreachable(kind);
    }
  });
}

function sentOrder(
  atS: number,
  kind: 'off' | 'on',
  whom: string,
  { performers }: Show,
  path: Path,
  find: Find,
): SceneOrder[] {
  if (whom !== EVERYBODY && !performers.some(({ name }) => name === whom)) {
    const has = listed([...performers.map(({ name }) => name), EVERYBODY]);
    find(
      'unknown-name',
      path,
      `the show has no performer "${whom}".${nameMeant(whom, performers)} It takes ${has}.`,
    );
  }
  const performer = whom === EVERYBODY ? undefined : whom;
  return [{ atS, action: { kind, performer, ...ASKED } }];
}

/** Pins a head to a performer; without a performer it is unpinned. */
function pinOrder(
  atS: number,
  [fixture = '', performer]: readonly string[],
  show: Show,
  path: Path,
  find: Find,
): SceneOrder[] {
  const heads = choosingHeads(show);
  const head = heads.find(({ name }) => name === fixture);
  const at = (place: number) => (performer === undefined ? path : [...path, place]);
  if (head === undefined) {
    const has =
      heads.length === 0
        ? 'No head of the show does (follow by nearest, first or share).'
        : `These do: ${listed(heads.map(({ name }) => name))}.`;
    find(
      'unknown-name',
      at(0),
      `"${fixture}" is not a head that chooses whom it follows.${nameMeant(fixture, heads)} ${has}`,
    );
  } else if (performer !== undefined && !head.people.some(({ name }) => name === performer)) {
    find(
      'unknown-name',
      at(1),
      `"${fixture}" can't follow "${performer}": its mapping doesn't list them.${nameMeant(performer, head.people)} It lists ${listed(head.people.map(({ name }) => name))}.`,
    );
  }
  return [{ atS, action: { kind: 'pin', fixture, performer, ...ASKED } }];
}
