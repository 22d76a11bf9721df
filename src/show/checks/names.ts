import { groupOf, kindOfGroup, type MemberKind } from '../groups.js';
import { type Named, nameMeant } from '../names.js';
import type { Finding, Path } from '../problem.js';
import type { ShowFile } from '../schema.js';
import { ANYBODY, type PeopleFile } from '../schema-signals.js';

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

/** Looks whether names that stand in a show are names of something in it. */
export class NameCheck {
  readonly findings: Finding[] = [];

  constructor(readonly show: ShowFile) {}

  /** A name of one thing. */
  one(kind: Kind, name: string, path: Path, hint = ''): boolean {
    if (Object.hasOwn(this.show[kind], name)) return true;
    const group = this.#isGroup(name) ? ` "${name}" is a group, and one is needed here.` : '';
    this.#unknown(
      ONE[kind],
      name,
      path,
      this.#named(kind),
      `${group}${hint}${this.#other(kind, name)}`,
    );
    return false;
  }

  /** A name of a performer or a fixture, or of a group of them. */
  oneOrGroup(kind: MemberKind, name: string, path: Path): boolean {
    if (Object.hasOwn(this.show[kind], name)) return true;
    if (!this.#isGroup(name)) {
      this.#unknown(ONE[kind], name, path, [...this.#named(kind), ...this.#groups(kind)], '');
      return false;
    }
    const is = kindOfGroup(this.show, name);
    if (is === kind) return true;
    // A group of no kind has been said at its own place.
    if (is !== undefined) {
      this.findings.push({
        code: 'group-kind',
        message: `group "${name}" is of ${is}, and ${kind} are needed here.`,
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
    people.forEach((name, i) => {
      this.oneOrGroup('performers', name, [...path, i]);
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

  /** A condition where a signal is needed, or the other way round. */
  #other(kind: Kind, name: string): string {
    if (kind === 'conditions' && Object.hasOwn(this.show.signals, name)) {
      return ` "${name}" is a signal: a condition says when it is a yes, { signal: ${name}, on: ... }.`;
    }
    if (kind === 'signals' && Object.hasOwn(this.show.conditions, name)) {
      return ` "${name}" is a condition: it stands after \`when\`; the time for which it has been so is a signal, { time: ${name} }.`;
    }
    return '';
  }

  /** Of places, which may be of several kinds. */
  unknownPlace(name: string, path: Path): void {
    const there = [
      ...this.#named('performers'),
      ...this.#groups('performers'),
      ...this.#named('fixtures'),
      ...this.#named('zones'),
    ];
    this.#unknown('performer, group, fixture or zone', name, path, there, '');
  }

  #isGroup(name: string): boolean {
    return groupOf(this.show, name) !== undefined;
  }

  #named(kind: Kind): Named[] {
    return Object.entries(this.show[kind]).map(([name, one]) => ({
      name,
      label: (one as { label?: string }).label,
    }));
  }

  #groups(kind: MemberKind): Named[] {
    const names = Object.keys(this.show.groups);
    return names.filter(name => kindOfGroup(this.show, name) === kind).map(name => ({ name }));
  }
}
