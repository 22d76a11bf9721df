import { setTimeout as sleep } from 'node:timers/promises';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import type { CueTarget, ToldPerformer } from '../../protocols/osc/orders.js';
import type { Show } from '../../show/model/model.js';
import type { EngineNews } from '../engine/engine-link.js';
import { OwnFolder } from '../files/own-folder.js';
import { OperatorMemory, type OperatorState, readOperatorState } from './memory.js';
import { StateStore, type StoreEvent } from './store.js';

/** A disk that takes longer is one that hangs. */
const SETTLES_WITHIN_MS = 2000;

/** What people change while the show runs: tracked, and saved in the state folder for the next start. */
export class OperatorKeeping {
  #memory: OperatorMemory;
  readonly #store: StateStore<OperatorState> | undefined;
  #show: Show;
  /** Why the newest is not on the disk. */
  #unkept: string | undefined;

  /** @param folder undefined: kept nowhere */
  constructor(
    show: Show,
    folder: string | undefined,
    private readonly onEvent: (event: StoreEvent) => void,
  ) {
    this.#show = show;
    this.#store = folder === undefined ? undefined : this.#storeOf(show, new OwnFolder(folder));
    this.#memory = new OperatorMemory(show, undefined);
  }

  /** At the start: restores earlier changes; the engine is told when it starts. */
  load(show: Show): void {
    const state = this.#store?.load();
    this.#memory = new OperatorMemory(show, state);
    const changes = this.#memory.restored();
    if (this.#store === undefined || changes.length === 0) return;
    const { file } = this.#store;
    const { since, by, everybodyBy } = this.stops;
    this.onEvent({
      kind: 'state-restored',
      file,
      entries: changes.length,
      changes,
      ...(since === undefined ? {} : { stoppedSince: since }),
      ...(by === undefined ? {} : { stoppedBy: by }),
      ...(everybodyBy === undefined ? {} : { everybodyStoppedBy: everybodyBy }),
    });
  }

  /** Another show takes over: what was changed holds there too. */
  swap(show: Show): void {
    const kept = this.#memory.state;
    this.#show = show;
    this.#store?.swap(show.name);
    this.#memory = new OperatorMemory(show, kept);
    // The file is of the show before, or could not be written just now; a restart finds the one that runs.
    if (this.#unkept !== undefined || this.restored().length > 0) {
      this.#store?.save(this.#memory.state);
    }
  }

  hear(event: EngineNews): void {
    if (this.#memory.hear(event, Date.now() / 1e3)) this.#store?.save(this.#memory.state);
  }

  /** Notes it as if an engine had done it: the next one begins with it. @returns false if the show has no such performer */
  stopNext(performer: string | undefined, stopped: boolean, by: string | undefined): boolean {
    const names = this.#show.performers.map(({ name }) => name);
    if (performer !== undefined && !names.includes(performer)) return false;
    const everybody = performer === undefined;
    const before = this.#memory.state.stopped;
    const { toldByMain } = before;
    const told = toldByMain?.performers.filter(name => name !== performer) ?? [];
    const without = { everybody: toldByMain?.everybody === true, performers: told };
    this.hear({
      kind: stopped ? 'stopped' : 'resumed',
      performers: everybody ? names : [performer],
      everybody,
      cause: 'command',
      by,
      stillStopped: [],
      stopOfEverybody: everybody ? stopped : before.everybody,
      ...(everybody || toldByMain === undefined ? {} : { toldByMain: without }),
    });
    return true;
  }

  /** Performers who are stopped, as far as known, by name. */
  get stops(): OperatorState['stopped'] {
    return this.#memory.state.stopped;
  }

  /** How each performer of the show stands, as far as is known. */
  get performers(): readonly ToldPerformer[] {
    return this.#memory.performersOf(this.#show);
  }

  /** Who was stopped at this machine, not by the word of the other one. */
  get ownStops(): { readonly everybody: boolean; readonly performers: readonly ToldPerformer[] } {
    const { everybody, toldByMain } = this.#memory.state.stopped;
    return {
      everybody: everybody && toldByMain?.everybody !== true,
      performers: this.#memory.ownStopsOf(this.#show),
    };
  }

  /** Index of the cue that is on, as far as is known; 0 in a show without cues. */
  get cue(): number {
    return this.#memory.cue;
  }

  /** Pins, by head of the show. */
  get pins(): Readonly<Record<string, string>> {
    return this.#memory.pins;
  }

  /** Titles of mappings of the show that are off. */
  get mappingsOff(): readonly string[] {
    return this.#memory.mappingsOff;
  }

  /** A frame names its cue: that one is on, even if the engine has died since. */
  noteCue(cue: number | undefined): void {
    const name = cue === undefined ? undefined : this.#show.cues[cue]?.name;
    if (name !== undefined && this.#memory.noteCue(name)) this.#store?.save(this.#memory.state);
  }

  /** Notes it as if an engine had done it: the next one begins in it. @returns undefined: there is no such cue */
  cueNext(to: CueTarget, by: string | undefined): { cue: string; changed: boolean } | undefined {
    const { cues } = this.#show;
    const before = this.cue;
    const step = to === 'next' ? 1 : -1;
    const index =
      typeof to === 'string'
        ? Math.min(Math.max(before + step, 0), cues.length - 1)
        : cues.findIndex(({ name }) => name === to.name);
    const cue = cues[index];
    const previous = cues[before];
    if (cue === undefined || previous === undefined) return undefined;
    const { name, fadeS } = cue;
    if (index === before) return { cue: name, changed: false };
    this.hear({ kind: 'cue', cue: name, previous: previous.name, fadeS, cause: 'command', by });
    return { cue: name, changed: true };
  }

  /** Why what was changed is not on the disk, once that is known; undefined where it is. */
  async unkept(): Promise<string | undefined> {
    const store = this.#store;
    if (store === undefined) return 'there is no state folder';
    const written = store.settled().then(() => true);
    const late = sleep(SETTLES_WITHIN_MS, false, { ref: false });
    if (!(await Promise.race([written, late]))) return 'the disk does not answer';
    return this.#unkept;
  }

  /** What a new engine is to carry out first. */
  restored(): readonly OperatorAction[] {
    return this.#memory.restored();
  }

  async end(): Promise<void> {
    await this.#store?.settled();
    this.#store?.close();
  }

  #storeOf(show: Show, folder: OwnFolder): StateStore<OperatorState> {
    const onEvent = (event: StoreEvent) => {
      if (event.kind === 'state-unsaved') this.#unkept = event.reason;
      if (event.kind === 'state-saved') this.#unkept = undefined;
      this.onEvent(event);
    };
    return new StateStore({
      folder,
      show: show.name,
      parse: readOperatorState,
      // Nobody lights up because a show has a new name; the rest was meant for the other one.
      ofOtherShow: ({ stopped }) => ({ trackers: {}, stopped }),
      onEvent,
    });
  }
}
