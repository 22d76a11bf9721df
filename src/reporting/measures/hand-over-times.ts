import type { AimView, EngineView, FixtureView } from '../../engine/view.js';
import { labelsOf } from '../../show/model/labels.js';
import type { FollowMappingPlan, Show } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';

/** A head that chooses, has its place in an order, or follows the middle of several: on whom it was. */
export interface HeadTimes {
  readonly fixture: string;
  readonly label: string;
  /** Times for which it showed somebody, in order. */
  readonly stretches: readonly HeadStretch[];
  /** How often it went from one performer to another. */
  readonly changes: number;
}

export interface HeadStretch {
  /** Of the middle of several their names, as "vera and odd". */
  readonly performer: string;
  readonly label: string;
  /** Names of all whom it held, where it followed the middle of several. */
  readonly held?: readonly string[];
  readonly fromS: number;
  untilS: number;
}

/** Of somebody whom heads share: for how long they were tracked, and no head was on them. */
export interface WithoutHead {
  readonly performer: string;
  readonly label: string;
  readonly forS: number;
  /** While a head that may be on them, and can, was on nobody. */
  readonly whileFreeS: number;
  /** While none of the heads that may be on them could: they were out of reach, or behind a keep-out. */
  readonly whileBarredS: number;
  /** While an operator had the mapping off by which a head would have been on them. */
  readonly whileOffS: number;
  /** What barred them then. */
  readonly barredBy: { readonly reach: boolean; readonly keepOuts: readonly string[] };
}

interface Without {
  forS: number;
  whileFreeS: number;
  whileBarredS: number;
  whileOffS: number;
  readonly barredBy: { reach: boolean; readonly keepOuts: Set<string> };
  /** As it was when it was last looked at. */
  why: 'others' | 'free' | 'barred' | 'off';
  lookedS: number;
}

interface Head {
  readonly label: string;
  readonly stretches: HeadStretch[];
  changes: number;
}

/** More than this shows, per cent. */
const LIT = 1;
/** Whether any head can have them is worked out so often, seconds: a walk of some centimetres. */
const LOOK_S = 0.25;
/** A day of a show that flickers. */
const MOST_KEPT = 20_000;

/** Who was on whom, tick by tick. Heads and performers go by their names, as the show may change. */
export class HandOverTimes {
  readonly #heads = new Map<string, Head>();
  readonly #without = new Map<string, Without>();
  readonly #labels = new Map<string, string>();
  #show: Show | undefined;
  /** Indices of the heads that choose, or follow in an order. */
  #choosing: readonly number[] = [];
  /** For each head that follows in an order the names of those on whom it is by it. */
  #ordered: ReadonlyMap<number, ReadonlySet<string>> = new Map();
  /** Indices of all that follow. */
  #following: readonly number[] = [];
  #kept = 0;

  ticked(view: EngineView, nowS: number, dtS: number): void {
    if (view.show !== this.#show) this.#take(view.show);
    if (this.#choosing.length === 0) return;
    const heads = this.#choosing.map(light => view.fixtures[light] as FixtureView);
    for (const [i, light] of this.#choosing.entries()) {
      this.#on(heads[i] as FixtureView, light, nowS);
    }
    this.#count(view, heads, nowS, dtS);
  }

  #take(show: Show): void {
    this.#show = show;
    const choosers = show.mappings.flatMap(one =>
      one.kind === 'follow' && one.choice !== undefined ? one.heads : [],
    );
    this.#ordered = ordered(show);
    this.#choosing = [...new Set([...choosers, ...this.#ordered.keys()])].sort((a, b) => a - b);
    const followers = show.mappings.flatMap(one => (one.kind === 'follow' ? one.heads : []));
    this.#following = [...new Set(followers)];
    const labels = labelsOf(show);
    for (const { name } of show.performers) this.#labels.set(name, labels.performer(name));
  }

  #on({ plan, choice, aim, values, intensity }: FixtureView, light: number, nowS: number): void {
    const held = aim?.holds;
    const byOrder = choice === undefined && held === undefined ? this.#byOrder(light, aim) : false;
    // In a cue in which it has no choice it follows whom it is told to.
    if (choice === undefined && held === undefined && byOrder === false) return;
    const head = this.#heads.get(plan.name) ?? { label: plan.label, stretches: [], changes: 0 };
    this.#heads.set(plan.name, head);
    const performer =
      held === undefined
        ? (choice?.performer ?? (byOrder || undefined))
        : held.length === 0
          ? undefined
          : enumerated(held);
    if (performer === undefined || !(intensity >= 0 && (values[intensity] as number) > LIT)) return;
    const last = head.stretches.at(-1);
    // A turn in the dark, or a moment of loss, parts nothing.
    if (last?.performer === performer && nowS - last.untilS < PARTED_S) {
      last.untilS = nowS;
      return;
    }
    if (last !== undefined && last.performer !== performer) head.changes += 1;
    if (this.#kept >= MOST_KEPT) return;
    this.#kept += 1;
    const label =
      held === undefined || held.length < 2
        ? (this.#labels.get(performer) ?? performer)
        : `the middle of ${enumerated(held.map(name => this.#labels.get(name) ?? name))}`;
    const several = held !== undefined && held.length > 1 ? { held: [...held] } : {};
    head.stretches.push({ performer, label, ...several, fromS: nowS, untilS: nowS });
  }

  /** Name of whom a head is on by an order; empty: it shows nothing of them. @returns false: it follows by none */
  #byOrder(light: number, aim: AimView | undefined): string | false {
    if (aim === undefined || this.#ordered.get(light)?.has(aim.performer) !== true) return false;
    return isOfSafeLook(aim) ? '' : aim.performer;
  }

  #count(view: EngineView, heads: readonly FixtureView[], nowS: number, dtS: number): void {
    const sharing = heads.filter(({ choice }) => choice?.rule === 'share');
    if (sharing.length === 0) return;
    // What an operator has off lights nobody, whomever its heads are on.
    const isOff = ({ choice }: FixtureView) => view.mappings[choice?.mapping ?? -1]?.off === true;
    const served = new Set(
      sharing.filter(head => !isOff(head)).map(({ choice }) => choice?.performer),
    );
    for (const light of this.#following) {
      for (const name of litBy(view.fixtures[light] as FixtureView)) served.add(name);
    }
    const people = new Set<number>();
    for (const { choice } of sharing) {
      const mapping = view.show.mappings[choice?.mapping ?? -1];
      if (mapping?.kind !== 'follow') continue;
      for (const p of mapping.choice?.people ?? []) people.add(p);
    }
    for (const p of people) {
      const one = view.performers[p];
      if (one?.follows !== true || served.has(one.name)) continue;
      const sums = this.#without.get(one.name) ?? nothing();
      this.#without.set(one.name, sums);
      if (nowS - sums.lookedS >= LOOK_S) look(sums, one.name, sharing, isOff, nowS);
      sums.forS += dtS;
      if (sums.why === 'free') sums.whileFreeS += dtS;
      if (sums.why === 'barred') sums.whileBarredS += dtS;
      if (sums.why === 'off') sums.whileOffS += dtS;
    }
  }

  /** @param endS what comes later is after the show */
  heads(endS: number): HeadTimes[] {
    return [...this.#heads].map(([fixture, { label, stretches, changes }]) => ({
      fixture,
      label,
      changes,
      stretches: stretches
        .filter(({ fromS }) => fromS < endS)
        .map(one => ({ ...one, untilS: Math.min(one.untilS, endS) })),
    }));
  }

  without(): WithoutHead[] {
    return [...this.#without].map(
      ([performer, { forS, whileFreeS, whileBarredS, whileOffS, barredBy }]) => ({
        performer,
        label: this.#labels.get(performer) ?? performer,
        forS,
        whileFreeS,
        whileBarredS,
        whileOffS,
        barredBy: { reach: barredBy.reach, keepOuts: [...barredBy.keepOuts] },
      }),
    );
  }
}

/** The same head on the same performer after a shorter time in the dark is on them all the time, seconds. */
const PARTED_S = 5;

function nothing(): Without {
  return {
    forS: 0,
    whileFreeS: 0,
    whileBarredS: 0,
    whileOffS: 0,
    barredBy: { reach: false, keepOuts: new Set() },
    why: 'others',
    lookedS: Number.NEGATIVE_INFINITY,
  };
}

/** Of a head that follows by whatever mapping: on whom it shows. */
function litBy({ aim, values, intensity }: FixtureView): readonly string[] {
  if (aim === undefined || (intensity >= 0 && (values[intensity] as number) <= LIT)) return [];
  return aim.holds ?? [aim.performer];
}

/** At its safe look a head that is lit is on nobody. */
function isOfSafeLook({ stage }: AimView): boolean {
  return stage === 'to-safe' || stage === 'safe' || stage === 'to-live';
}

/** An order is a mapping for each of its heads, all at one place in the file. */
function ordered({ mappings, performers }: Show): Map<number, Set<string>> {
  const byPlace = new Map<number, FollowMappingPlan[]>();
  for (const one of mappings) {
    if (one.kind !== 'follow' || one.choice !== undefined || one.place === undefined) continue;
    byPlace.set(one.place, [...(byPlace.get(one.place) ?? []), one]);
  }
  const names = new Map<number, Set<string>>();
  for (const orders of byPlace.values()) {
    if (orders.length < 2) continue;
    for (const { heads, performer } of orders) {
      for (const light of heads) {
        const all = names.get(light) ?? new Set();
        names.set(light, all.add(performers[performer]?.name ?? ''));
      }
    }
  }
  return names;
}

/** Why none of those that share them is on them. */
function look(
  sums: Without,
  name: string,
  sharing: readonly FixtureView[],
  isOff: (head: FixtureView) => boolean,
  nowS: number,
): void {
  sums.lookedS = nowS;
  if (sharing.some(head => head.choice?.performer === name && isOff(head))) {
    sums.why = 'off';
    return;
  }
  sums.why = 'barred';
  let reach = false;
  const keepOuts: string[] = [];
  for (const head of sharing) {
    const { choice } = head;
    const one = choice?.candidates().find(({ performer }) => performer === name);
    if (one === undefined) continue;
    if (one.cost !== undefined) {
      if (isOff(head)) {
        if (sums.why === 'barred') sums.why = 'off';
      } else if (choice?.performer === undefined) sums.why = 'free';
      else if (sums.why !== 'free') sums.why = 'others';
    }
    reach ||= one.outOfReach;
    if (one.keepOut !== undefined) keepOuts.push(one.keepOut);
  }
  if (sums.why !== 'barred') return;
  sums.barredBy.reach ||= reach;
  for (const keepOut of keepOuts) sums.barredBy.keepOuts.add(keepOut);
}
