import type { AimView, EngineView, FixtureView } from '../../engine/view.js';
import { labelsOf } from '../../show/model/labels.js';
import type { FollowMappingPlan, Show } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';

/** Whom a head was on, for one that chooses, has a place in an order, or follows the middle of several. */
export interface HeadTimes {
  readonly fixture: string;
  readonly label: string;
  /** Times for which it showed somebody, in order. */
  readonly stretches: readonly HeadStretch[];
  /** How often it went from one performer to another. */
  readonly changes: number;
}

export interface HeadStretch {
  /** Name of the performer; for the middle of several all names, such as "vera and odd". */
  readonly performer: string;
  readonly label: string;
  /** Names of all in the beam, if it followed the middle of several. */
  readonly held?: readonly string[];
  readonly fromS: number;
  untilS: number;
}

/** A performer whom heads share: how long they were tracked with no head on them. */
export interface WithoutHead {
  readonly performer: string;
  readonly label: string;
  readonly forS: number;
  /** Of that, while a head that may and can be on them was on nobody, seconds. */
  readonly whileFreeS: number;
  /** Of that, while no head could be on them: they were out of reach, or behind a keep-out, seconds. */
  readonly whileBarredS: number;
  /** Of that, while an operator had the mapping off by which a head would have been on them, seconds. */
  readonly whileOffS: number;
  /** What was in the way then. */
  readonly barredBy: { readonly reach: boolean; readonly keepOuts: readonly string[] };
}

interface Without {
  forS: number;
  whileFreeS: number;
  whileBarredS: number;
  whileOffS: number;
  readonly barredBy: { reach: boolean; readonly keepOuts: Set<string> };
  /** The reason found at the last look. */
  why: 'others' | 'free' | 'barred' | 'off';
  lookedS: number;
}

interface Head {
  readonly label: string;
  readonly stretches: HeadStretch[];
  changes: number;
}

/** Light above this is visible, per cent. */
const LIT = 1;
/** How often it is computed whether any head can have them, seconds: within it people walk some decimetres. */
const LOOK_S = 0.25;
/** A day of a show that flickers. */
const MOST_KEPT = 20_000;

/** Which head was on whom, tick by tick. Heads and performers go by their names, as the show may change. */
export class HandOverTimes {
  readonly #heads = new Map<string, Head>();
  readonly #without = new Map<string, Without>();
  readonly #labels = new Map<string, string>();
  #show: Show | undefined;
  /** Indices of the heads that choose, or follow in an order. */
  #choosing: readonly number[] = [];
  /** For each head that follows in an order, the names of those whom it can be on. */
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
    // In a cue without a choice it follows whoever it is told to.
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
    // A turn in the dark or a moment of loss doesn't end a stretch.
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

  /** Name of the performer that a head is on by an order; empty: it shows nobody. @returns false: it doesn't follow in an order */
  #byOrder(light: number, aim: AimView | undefined): string | false {
    if (aim === undefined || this.#ordered.get(light)?.has(aim.performer) !== true) return false;
    return isOfSafeLook(aim) ? '' : aim.performer;
  }

  #count(view: EngineView, heads: readonly FixtureView[], nowS: number, dtS: number): void {
    const sharing = heads.filter(({ choice }) => choice?.rule === 'share');
    if (sharing.length === 0) return;
    // A mapping that an operator has off lights nobody, whoever its heads are on.
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

  /** @param endS end of the show; what comes later is left out */
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

/** A head that comes back to the same performer after a shorter time in the dark counts as on them throughout, seconds. */
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

/** Whom a head lights, by whatever mapping it follows. */
function litBy({ aim, values, intensity }: FixtureView): readonly string[] {
  if (aim === undefined || (intensity >= 0 && (values[intensity] as number) <= LIT)) return [];
  return aim.holds ?? [aim.performer];
}

/** A head that is lit in its safe look is on nobody. */
function isOfSafeLook({ stage }: AimView): boolean {
  return stage === 'to-safe' || stage === 'safe' || stage === 'to-live';
}

/** An order becomes one mapping for each of its heads, all from one place in the file. */
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

/** Finds out why none of the heads that share them is on them. */
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
