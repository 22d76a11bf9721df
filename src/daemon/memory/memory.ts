import type { StopsToldByMain } from '../../engine/events/events.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import type { ToldPerformer } from '../../protocols/osc/orders.js';
import { choosingHeads } from '../../show/model/choosing-heads.js';
import { mappingTitle } from '../../show/model/mapping-words.js';
import type { Show } from '../../show/model/model.js';
import { wearersOf } from '../../show/model/wearers.js';
import type { EngineNews } from '../engine/engine-link.js';

/** What people have changed since the show was read: what a restart must not forget. */
export interface OperatorState {
  /** The cue that is on; undefined: the first, or the show has none. */
  readonly cue?: string | undefined;
  /** By tracker, who wears it (null: nobody), if that differs from the show. */
  readonly trackers: Readonly<Record<string, string | null>>;
  readonly stopped: {
    readonly everybody: boolean;
    readonly performers: readonly string[];
    /** Since when each is stopped, if known, Unix time in seconds. */
    readonly since?: Readonly<Record<string, number>>;
    /** And who asked, as in the events. */
    readonly by?: Readonly<Record<string, string>>;
    readonly everybodyBy?: string;
    /** The stops that only the main machine of a pair has ordered; it may take them back. */
    readonly toldByMain?: StopsToldByMain;
  };
  /** Performers who are off stage: they have left it, or were sent off and are still heard there. */
  readonly offStage?: { readonly away: readonly string[]; readonly leaving: readonly string[] };
  /** Mappings that are off, by title. */
  readonly mappingsOff?: readonly string[];
  /** Pins, by head. */
  readonly pins?: Readonly<Record<string, string>>;
  /** Conditions that were entered, and whose end is to be sent to somebody. */
  readonly entered?: readonly string[];
}

const TOLD_NOTHING: StopsToldByMain = { everybody: false, performers: [] };

/** Far more trackers, and performers, than a show has; a file that holds more was not written by us. */
const MOST_NAMES = 4096;

/** Keeps track of what the engine says was done, and says what a new engine has to do again. */
export class OperatorMemory {
  readonly #byShow: ReadonlyMap<string, string | null>;
  readonly #changed = new Map<string, string | null>();
  readonly #performers: readonly string[];
  readonly #stopped: Set<string>;
  readonly #stoppedS: Map<string, number>;
  readonly #stoppedBy: Map<string, string>;
  readonly #offStage = new Map<string, 'away' | 'leaving'>();
  readonly #mappingsOff: Set<string>;
  readonly #pins: Map<string, string>;
  readonly #entered: Set<string>;
  readonly #toldWhenLeft: ReadonlySet<string>;
  #everybody: boolean;
  #everybodyBy: string | undefined;
  #toldByMain: StopsToldByMain;
  readonly #titles: ReadonlySet<string>;
  /** By head that chooses, the names of those it may be on. */
  readonly #mayBeOn: ReadonlyMap<string, ReadonlySet<string>>;
  readonly #cues: readonly string[];
  #cue: string | undefined;

  constructor(show: Show, state: OperatorState | undefined) {
    this.#performers = show.performers.map(({ name }) => name);
    this.#cues = show.cues.map(({ name }) => name);
    this.#mayBeOn = new Map(
      choosingHeads(show).map(one => [one.name, new Set(one.people.map(({ name }) => name))]),
    );
    this.#titles = new Set(show.mappings.map((_, index) => mappingTitle(show, index)));
    if (this.#cues.includes(state?.cue ?? '')) this.#cue = state?.cue;
    this.#stopped = new Set(state?.stopped.performers);
    this.#stoppedS = new Map(Object.entries(state?.stopped.since ?? {}));
    this.#stoppedBy = new Map(Object.entries(state?.stopped.by ?? {}));
    this.#mappingsOff = new Set(state?.mappingsOff);
    this.#pins = new Map(Object.entries(state?.pins ?? {}));
    this.#entered = new Set(state?.entered);
    this.#toldWhenLeft = new Set(
      show.actions.filter(one => one.of === 'condition' && one.on === 'leave').map(one => one.name),
    );
    this.#everybody = state?.stopped.everybody ?? false;
    this.#everybodyBy = state?.stopped.everybodyBy;
    this.#toldByMain = state?.stopped.toldByMain ?? TOLD_NOTHING;
    for (const name of state?.offStage?.away ?? []) this.#offStage.set(name, 'away');
    for (const name of state?.offStage?.leaving ?? []) this.#offStage.set(name, 'leaving');
    this.#byShow = new Map<string, string | null>([
      ...show.spares.map(({ id }): [string, null] => [id, null]),
      ...wearersOf(show),
    ]);
    for (const [tracker, performer] of Object.entries(state?.trackers ?? {})) {
      this.#note(tracker, performer);
    }
  }

  get state(): OperatorState {
    const since = this.#ofStopped(this.#stoppedS);
    const by = this.#ofStopped(this.#stoppedBy);
    const stopped = {
      everybody: this.#everybody,
      performers: [...this.#stopped].sort(),
      ...(since === undefined ? {} : { since }),
      ...(by === undefined ? {} : { by }),
      ...(this.#everybodyBy === undefined ? {} : { everybodyBy: this.#everybodyBy }),
      ...(this.#toldByMain === TOLD_NOTHING ? {} : { toldByMain: this.#toldByMain }),
    };
    const who = (where: string) =>
      [...this.#offStage].flatMap(([name, is]) => (is === where ? [name] : [])).sort();
    const trackers = Object.fromEntries(this.#changed);
    const off = [...this.#mappingsOff].sort();
    const kept = {
      trackers,
      stopped,
      ...(this.#cue === undefined ? {} : { cue: this.#cue }),
      ...(off.length === 0 ? {} : { mappingsOff: off }),
      ...(this.#pins.size === 0 ? {} : { pins: Object.fromEntries([...this.#pins].sort()) }),
      ...(this.#entered.size === 0 ? {} : { entered: [...this.#entered].sort() }),
    };
    if (this.#offStage.size === 0) return kept;
    return { ...kept, offStage: { away: who('away'), leaving: who('leaving') } };
  }

  /** @returns whether that is new */
  noteCue(name: string): boolean {
    const isNew = name !== (this.#cue ?? this.#cues[0]);
    if (isNew) this.#cue = name;
    return isNew;
  }

  /** What is known of those who are stopped, by name; undefined where it is nothing. */
  #ofStopped<T>(all: ReadonlyMap<string, T>): Readonly<Record<string, T>> | undefined {
    const known = [...all].filter(([name]) => this.#stopped.has(name));
    if (known.length === 0) return undefined;
    return Object.fromEntries(known.sort(([a], [b]) => (a < b ? -1 : 1)));
  }

  /**
   * @param unixS when it was; undefined: not known
   * @returns whether there is something new to keep
   */
  hear(event: EngineNews, unixS?: number): boolean {
    switch (event.kind) {
      case 'tracker':
        // When a worn tracker is assigned to somebody else, it is first taken off.
        return this.#note(event.tracker, event.change === 'assigned' ? event.performer : null);
      case 'off-stage':
        for (const name of event.performers) {
          if (event.state === 'on') this.#offStage.delete(name);
          else this.#offStage.set(name, event.state);
        }
        return true;
      case 'stopped':
        for (const name of event.performers) {
          const isNew = !this.#stopped.has(name);
          if (isNew && unixS !== undefined) this.#stoppedS.set(name, unixS);
          // A stop that came from the main machine now belongs to somebody else.
          const isTheirs = isNew || this.#toldByMain.performers.includes(name);
          if (isTheirs && event.by !== undefined) this.#stoppedBy.set(name, event.by);
          this.#stopped.add(name);
        }
        if (event.stopOfEverybody && !this.#everybody) this.#everybodyBy = event.by;
        this.#everybody ||= event.stopOfEverybody;
        this.#toldByMain = event.toldByMain ?? TOLD_NOTHING;
        return true;
      case 'cue':
        return this.noteCue(event.cue);
      case 'pin':
        if (event.performer === undefined) this.#pins.delete(event.fixture);
        else this.#pins.set(event.fixture, event.performer);
        return true;
      case 'entered':
        if (event.entered) this.#entered.add(event.condition);
        else this.#entered.delete(event.condition);
        return true;
      case 'mapping':
        if (event.off) this.#mappingsOff.add(event.mapping);
        else this.#mappingsOff.delete(event.mapping);
        return true;
      case 'resumed':
        for (const name of event.performers) {
          this.#stopped.delete(name);
          this.#stoppedS.delete(name);
          this.#stoppedBy.delete(name);
        }
        this.#everybody &&= event.stopOfEverybody;
        if (!this.#everybody) this.#everybodyBy = undefined;
        this.#toldByMain = event.toldByMain ?? TOLD_NOTHING;
        return true;
      default:
        return false;
    }
  }

  /** Index of the cue that is on, as far as is known; 0 in a show without cues. */
  get cue(): number {
    return this.#cue === undefined ? 0 : this.#cues.indexOf(this.#cue);
  }

  /** Pins by head, if the show still has both, and the head may be on the performer. */
  get pins(): Readonly<Record<string, string>> {
    return Object.fromEntries(
      [...this.#pins].filter(([fixture, performer]) => this.#mayBeOn.get(fixture)?.has(performer)),
    );
  }

  /** How each performer of a show stands. */
  performersOf({ performers }: Pick<Show, 'performers'>): readonly ToldPerformer[] {
    return performers.map(({ name }) => {
      return { name, stopped: this.#stopped.has(name), stage: this.#offStage.get(name) ?? 'on' };
    });
  }

  /**
   * Of each whether a stop of this machine's own holds: two machines that told each other what each has from the other
   * would keep it for ever.
   */
  ownStopsOf({ performers }: Pick<Show, 'performers'>): readonly ToldPerformer[] {
    const told = new Set(this.#toldByMain.performers);
    return performers.map(({ name }) => {
      return { name, stopped: this.#stopped.has(name) && !told.has(name), stage: 'unsaid' };
    });
  }

  /** Titles of mappings of the show that are off. */
  get mappingsOff(): readonly string[] {
    return [...this.#mappingsOff].filter(mapping => this.#titles.has(mapping)).sort();
  }

  /** The cue and stops first; trackers are taken off before they are given, so that nobody loses one that was given to them. */
  restored(): readonly OperatorAction[] {
    return [
      ...this.#cueOn(),
      ...this.#stops(),
      ...this.#off(),
      ...this.#withoutMappings(),
      ...this.#pinned(),
      ...this.#begun(),
      ...this.#trackers(),
    ];
  }

  /** Names that this show lacks may be in the next one. */
  #withoutMappings(): OperatorAction[] {
    return this.mappingsOff.map(mapping => ({
      kind: 'mapping',
      mapping,
      off: true,
      cause: 'restored',
    }));
  }

  /** What was entered is reported as left, once it is. */
  #begun(): OperatorAction[] {
    return [...this.#entered]
      .filter(condition => this.#toldWhenLeft.has(condition))
      .map(condition => ({ kind: 'entered', condition, cause: 'restored' }));
  }

  #pinned(): OperatorAction[] {
    return Object.entries(this.pins).map(
      ([fixture, performer]): OperatorAction => ({
        kind: 'pin',
        fixture,
        performer,
        cause: 'restored',
      }),
    );
  }

  /** An engine begins in the first by itself. */
  #cueOn(): OperatorAction[] {
    const name = this.#cue;
    if (name === undefined || this.cue === 0) return [];
    return [{ kind: 'cue', to: { name }, cause: 'restored' }];
  }

  #off(): OperatorAction[] {
    const known = [...this.#offStage].filter(([name]) => this.#performers.includes(name));
    return known.map(([performer, where]): OperatorAction => {
      const action = { kind: 'off', performer, cause: 'restored' } as const;
      return where === 'away' ? { ...action, away: true } : action;
    });
  }

  #stops(): OperatorAction[] {
    const cause = 'restored' as const;
    const { everybody, performers } = this.#toldByMain;
    const told = (isTold: boolean) => (isTold ? { toldByMain: true as const } : {});
    const stopOf = (performer: string): OperatorAction => {
      const by = this.#stoppedBy.get(performer);
      const asked = by === undefined ? { cause } : ({ cause, by } as const);
      return { kind: 'stop', performer, ...asked, ...told(performers.includes(performer)) };
    };
    const stops = [...this.#stopped].map(stopOf);
    if (!this.#everybody) return stops;
    const by = this.#everybodyBy;
    const ofEverybody = by === undefined ? { cause } : ({ cause, by } as const);
    // Everybody was stopped, then some were resumed. Performers who differ from the rest come after the order for everybody.
    const resumed = this.#performers.filter(name => !this.#stopped.has(name));
    const others = [...this.#stopped].filter(name => performers.includes(name) !== everybody);
    return [
      { kind: 'stop', performer: undefined, ...ofEverybody, ...told(everybody) },
      ...resumed.map((performer): OperatorAction => ({ kind: 'resume', performer, cause })),
      ...others.map(stopOf),
    ];
  }

  #trackers(): OperatorAction[] {
    const cause = 'restored';
    return [...this.#changed]
      .sort(([, a], [, b]) => Number(a !== null) - Number(b !== null))
      .map(([tracker, performer]) =>
        performer === null
          ? { kind: 'unassign', tracker, cause }
          : { kind: 'assign', tracker, performer, cause },
      );
  }

  #note(tracker: string, performer: string | null): boolean {
    const before = this.#changed.get(tracker);
    if (this.#byShow.get(tracker) === performer) return this.#changed.delete(tracker);
    this.#changed.set(tracker, performer);
    return before !== performer;
  }
}

/** A state as it was kept, or what is wrong with it. */
export function readOperatorState(value: unknown): OperatorState | string {
  if (!isRecord(value)) return 'it is not an object';
  const { trackers, stopped, offStage, cue, mappingsOff, pins, entered } = value;
  if (entered !== undefined && !areNames(entered)) return '"entered" is not a list of names';
  if (pins !== undefined && !(isRecord(pins) && areNames(Object.values(pins))))
    return '"pins" is not a list of heads with names';
  if (mappingsOff !== undefined && !areNames(mappingsOff))
    return '"mappingsOff" is not a list of names';
  if (cue !== undefined && typeof cue !== 'string') return '"cue" is no name';
  if (!isRecord(trackers)) return '"trackers" is not an object';
  const entries = Object.entries(trackers);
  if (entries.length > MOST_NAMES) return `it names more than ${MOST_NAMES} trackers`;
  for (const [tracker, performer] of entries) {
    if (performer !== null && typeof performer !== 'string') {
      return `the wearer of tracker "${tracker}" is neither a name nor null`;
    }
  }
  if (!isRecord(stopped)) return '"stopped" is not an object';
  const { everybody, performers, since, by, everybodyBy, toldByMain } = stopped;
  if (typeof everybody !== 'boolean') return '"stopped.everybody" is neither true nor false';
  if (!areNames(performers)) return '"stopped.performers" is not a list of names';
  // Files of older versions have none; an invalid time is no reason to lose the rest.
  const times = Object.entries(isRecord(since) ? since : {}).filter(
    (one): one is [string, number] => performers.includes(one[0]) && Number.isFinite(one[1]),
  );
  if (toldByMain !== undefined && !isTold(toldByMain))
    return '"stopped.toldByMain" has no "everybody" that is true or false, or no list of names';
  const whos = Object.entries(isRecord(by) ? by : {}).filter(
    (one): one is [string, string] => performers.includes(one[0]) && isText(one[1]),
  );
  const known = {
    ...(times.length === 0 ? {} : { since: Object.fromEntries(times) }),
    ...(whos.length === 0 ? {} : { by: Object.fromEntries(whos) }),
    ...(everybody && isText(everybodyBy) ? { everybodyBy } : {}),
    ...(toldByMain === undefined ? {} : { toldByMain }),
  };
  const kept = {
    trackers: trackers as Record<string, string | null>,
    stopped: { everybody, performers, ...known },
    ...(cue === undefined ? {} : { cue }),
    ...(mappingsOff === undefined ? {} : { mappingsOff }),
    ...(pins === undefined ? {} : { pins: pins as Record<string, string> }),
    ...(entered === undefined ? {} : { entered }),
  };
  // Files of older versions have none.
  if (offStage === undefined) return kept;
  if (!isRecord(offStage)) return '"offStage" is not an object';
  const { away, leaving } = offStage;
  if (!areNames(away)) return '"offStage.away" is not a list of names';
  if (!areNames(leaving)) return '"offStage.leaving" is not a list of names';
  return { ...kept, offStage: { away, leaving } };
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function areNames(value: unknown): value is string[] {
  return Array.isArray(value) && value.length <= MOST_NAMES && value.every(isText);
}

function isTold(value: unknown): value is StopsToldByMain {
  return isRecord(value) && typeof value.everybody === 'boolean' && areNames(value.performers);
}

function isText(value: unknown): value is string {
  return typeof value === 'string';
}
