import type { Named } from '../problems/names.js';
import type { Show } from './model.js';

/** Labels for what an event names: text for people has labels, data have names. */
export interface Labels {
  performer(name: string): string;
  /** Also for a group of fixtures. */
  fixture(name: string): string;
  zone(name: string): string;
  cue(name: string): string;
  exit(name: string): string;
  receiver(name: string): string;
}

const same = (name: string) => name;

/** If there is no show. */
export const NAMES_AS_LABELS: Labels = {
  performer: same,
  fixture: same,
  zone: same,
  cue: same,
  exit: same,
  receiver: same,
};

type Labelled = Pick<
  Show,
  'performers' | 'fixtures' | 'groups' | 'zones' | 'cues' | 'exits' | 'receivers'
>;

/** Needed for every event, and the same for the whole life of a show. */
const known = new WeakMap<Labelled, Labels>();

/** Things with the same label are told apart by their names; what the show doesn't know keeps its name. */
export function labelsOf(show: Labelled): Labels {
  const before = known.get(show);
  if (before !== undefined) return before;
  const labels = {
    performer: among(show.performers),
    fixture: eitherOf(among(show.fixtures), among(show.groups)),
    zone: among(show.zones),
    cue: among(show.cues),
    exit: among(show.exits),
    receiver: among(show.receivers),
  };
  known.set(show, labels);
  return labels;
}

type Called = (name: string) => string;

function eitherOf(one: Called, other: Called): Called {
  return name => {
    const called = one(name);
    return called === name ? other(name) : called;
  };
}

function among(all: readonly Named[]): Called {
  const times = new Map<string, number>();
  for (const { name, label = name } of all) times.set(label, (times.get(label) ?? 0) + 1);
  const words = new Map<string, string>();
  for (const { name, label = name } of all) {
    words.set(name, times.get(label) === 1 ? label : `${label} (${name})`);
  }
  return name => words.get(name) ?? name;
}

/** What the names under each key of an event are names of. */
const NAMED_BY: Readonly<Record<string, keyof Labels>> = {
  performer: 'performer',
  performers: 'performer',
  takenFrom: 'performer',
  stillStopped: 'performer',
  fixture: 'fixture',
  zone: 'zone',
  cue: 'cue',
  exit: 'exit',
  receiver: 'receiver',
  previous: 'cue',
};

/**
 * The same data with labels beside the names, for a program that shows them to people: `performerLabel` beside
 * `performer`, `performerLabels` beside a list `performers`.
 */
export function withLabels(data: object, labels: Labels): object {
  const all: Record<string, unknown> = {};
  for (const [key, value] of Object.entries(data)) {
    all[key] = inside(value, labels);
    const kind = Object.hasOwn(NAMED_BY, key) ? NAMED_BY[key] : undefined;
    if (kind === undefined) continue;
    if (typeof value === 'string') all[`${key}Label`] = labels[kind](value);
    else if (isNames(value)) all[`${key.replace(/s$/, '')}Labels`] = value.map(labels[kind]);
  }
  return all;
}

function inside(value: unknown, labels: Labels): unknown {
  if (Array.isArray(value)) return value.map(one => inside(one, labels));
  return typeof value === 'object' && value !== null ? withLabels(value, labels) : value;
}

function isNames(value: unknown): value is readonly string[] {
  return Array.isArray(value) && value.every(one => typeof one === 'string');
}
