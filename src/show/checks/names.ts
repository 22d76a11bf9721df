import { type Named, nameMeant } from '../problems/names.js';
import type { Finding, Path } from '../problems/problem.js';
import { groupOf, kindOfGroup, type MemberKind } from '../resolve/groups.js';
import type { ShowFile } from '../schema/schema.js';
import { ANYBODY, type PeopleFile } from '../schema/signals.js';

/** What a place of the file may name. */
export type Kind = MemberKind | 'zones' | 'signals' | 'conditions' | 'inputs' | 'desk' | 'cues';

const ONE: Readonly<Record<Kind, string>> = {
  performers: 'performer',
  fixtures: 'fixture',
  zones: 'zone',
  signals: 'signal',
  conditions: 'condition',
  inputs: 'input',
  desk: 'universe of the desk',
  cues: 'cue',
};

/** What a name may stand for when another kind is needed. */
const OTHERS = [
  ['performers', 'a performer'],
  ['fixtures', 'a fixture'],
  ['zones', 'a zone'],
  ['exits', 'an exit'],
  ['signals', 'a signal'],
  ['conditions', 'a condition'],
  ['cues', 'a cue'],
  ['receivers', 'a receiver'],
  ['inputs', 'an input'],
  ['profiles', 'a profile'],
  ['keepOut', 'a keep-out'],
] as const satisfies readonly (readonly [keyof ShowFile, string])[];

/** The kind of palette entry that has a name: "a colour of palettes". */
export function paletteKind(palettes: ShowFile['palettes'], name: string): string | undefined {
  const is = PALETTES.find(([block]) => Object.hasOwn(palettes[block], name));
  return is === undefined ? undefined : `a ${is[1]} of palettes`;
}

const PALETTES = [
  ['colours', 'colour'],
  ['points', 'point'],
  ['beams', 'beam'],
] as const;

function labelled(block: Readonly<Record<string, unknown>>): Named[] {
  return Object.entries(block).map(([name, one]) => ({
    name,
    label: (one as { label?: string }).label,
  }));
}

/** Looks whether names that stand in a show are names of something in it. */
export class NameCheck {
  readonly findings: Finding[] = [];

  constructor(readonly show: ShowFile) {}

  /** A name of one thing. */
  one(kind: Kind, name: string, path: Path, hint = ''): boolean {
    if (Object.hasOwn(this.show[kind], name)) return true;
    const group = this.#isGroup(name)
      ? ` "${name}" is a group, but one ${ONE[kind]} is needed here.`
      : '';
    const is = group === '' ? this.#other(kind, name) : '';
    this.#unknown(ONE[kind], name, path, this.#named(kind), `${group}${hint}${is}`);
    return false;
  }

  /** A name of a performer or a fixture, or of a group of them. */
  oneOrGroup(kind: MemberKind, name: string, path: Path): boolean {
    if (Object.hasOwn(this.show[kind], name)) return true;
    if (!this.#isGroup(name)) {
      const there = [...this.#named(kind), ...this.#groups(kind)];
      this.#unknown(ONE[kind], name, path, there, this.#other(kind, name));
      return false;
    }
    const is = kindOfGroup(this.show, name);
    if (is === kind) return true;
    // A group without a kind has been reported at its own place.
    if (is !== undefined) {
      this.findings.push({
        code: 'group-kind',
        message: `"${name}" is a group of ${is}, but ${kind} are needed here.`,
        path,
      });
    }
    return false;
  }

  /** `any`, a name, or a list of names; nothing is everybody. */
  people(people: PeopleFile | undefined, path: Path): void {
    if (people === undefined || people === ANYBODY) return;
    if (typeof people === 'string') {
      this.oneOrGroup('performers', people, path);
      return;
    }
    this.list('performers', people, path);
  }

  /** Names of performers or fixtures, or of groups of them, each once. */
  list(kind: MemberKind, words: readonly string[], path: Path): void {
    words.forEach((name, i) => {
      this.oneOrGroup(kind, name, [...path, i]);
      // Probably a slip: somebody else was meant.
      if (words.indexOf(name) === i) return;
      this.findings.push({
        code: 'named-twice',
        message: `"${name}" is in this list twice; name each once.`,
        path: [...path, i],
      });
    });
  }

  #unknown(what: string, name: string, path: Path, there: readonly Named[], hint: string): void {
    const guess = hint === '' ? nameMeant(name, there) : '';
    this.findings.push({
      code: 'unknown-name',
      message: `there is no ${what} "${name}".${guess}${hint}`,
      path,
    });
  }

  /** What else in the show has the name: a condition where a signal is needed, or a fixture where a performer is needed. */
  #other(kind: Kind, name: string): string {
    if (kind === 'conditions' && Object.hasOwn(this.show.signals, name)) {
      return ` "${name}" is a signal. A condition says when it means yes: { signal: ${name}, on: ... }.`;
    }
    if (kind === 'signals' && Object.hasOwn(this.show.conditions, name)) {
      return ` "${name}" is a condition: use it with \`when\`. The time since it became yes is a signal: { time: ${name} }.`;
    }
    const is = this.whatIs(name);
    return is === undefined ? '' : ` "${name}" is ${is}.`;
  }

  /** What a name of the show is: "a zone"; undefined where there is none. */
  whatIs(name: string): string | undefined {
    if (this.#isGroup(name)) return 'a group';
    const is = OTHERS.find(([block]) => Object.hasOwn(this.show[block], name));
    return is?.[1] ?? paletteKind(this.show.palettes, name);
  }

  /** Of places, which may be of several kinds. */
  unknownPlace(name: string, path: Path): void {
    const there = [
      ...this.#named('performers'),
      ...this.#groups('performers'),
      ...this.#named('fixtures'),
      ...this.#named('zones'),
      ...labelled(this.show.palettes.points),
    ];
    const is = Object.hasOwn(this.show.exits, name) ? ` "${name}" is an exit.` : '';
    this.#unknown('performer, group, fixture, zone or point', name, path, there, is);
  }

  #isGroup(name: string): boolean {
    return groupOf(this.show, name) !== undefined;
  }

  #named(kind: Kind): Named[] {
    return labelled(this.show[kind]);
  }

  #groups(kind: MemberKind): Named[] {
    const names = Object.keys(this.show.groups);
    return names.filter(name => kindOfGroup(this.show, name) === kind).map(name => ({ name }));
  }
}
