import { messageOf } from '../../stage/message-of.js';
import { StaleShow } from '../files/accepted-show.js';
import { asPassing, isPassing } from './passing.js';
import type { BySafeLook, ReadShow, Reloaded, SupervisorEvent } from './supervisor-options.js';

/** Who holds the light while one show takes over from another. */
export interface ReloadHost {
  /** The show that runs. */
  current(): ReadShow;
  isEnding(): boolean;
  /** @returns why not; empty when the other show is out. May throw. */
  swap(next: ReadShow, goesBack: boolean): Promise<readonly string[]>;
  /**
   * The light goes on from where it is, if that is possible.
   * @returns what prevents it; or nothing does, but it has to go through the safe look. May throw.
   */
  goOn(next: ReadShow): Promise<readonly string[] | BySafeLook> | BySafeLook;
  /** Why no engine of the loaded show has run yet; undefined: one has, or the first one is starting. */
  engineFault(): string | undefined;
  /** The engine that can't run is tried again all the same. */
  retry(): void;
  onEvent(event: SupervisorEvent): void;
  /** This exact text could not be used: a restart must not try it instead of the running show. */
  refused(next: ReadShow, problems: readonly string[]): void;
  /** Problems of the file at the start, if the last accepted show runs instead. */
  readonly staleBecause?: readonly string[] | undefined;
}

interface UnderWay {
  readonly text: string;
  readonly problems: Promise<Done>;
}

const ENDED_FIRST =
  'the daemon was told to stop before it was loaded; it is read again at the next start.';

/** `went on`: it runs, and the light has not gone through the safe look. */
type Done = readonly string[] | BySafeLook | 'went on';

/** One reload at a time, the way back if it fails, and what is reported about it. */
export class Reloading {
  /** Set while the running show is not the one of its file. */
  readonly stale: StaleShow;
  #underWay: UnderWay | undefined;
  #failStart: ((message: string) => void) | undefined;

  constructor(private readonly host: ReloadHost) {
    this.stale = new StaleShow(host.staleBecause);
  }

  /**
   * Takes another show; whoever asks for one that is already being loaded gets the same answer. If its outputs can't
   * be opened or its engine can't run, the previous show comes back. If nothing has changed, the running show is left
   * alone.
   * @returns why not; empty when it is loaded
   */
  reload(next: ReadShow, by?: string): Promise<Reloaded> {
    const { host } = this;
    if (!host.isEnding() && this.#underWay?.text === next.text) return this.#underWay.problems;
    if (host.isEnding() || this.#underWay !== undefined) {
      const isEnding = host.isEnding();
      const problems = [isEnding ? 'the daemon is stopping.' : 'another reload is under way.'];
      host.onEvent({ kind: 'reload-refused', problems, by, ...(isEnding && { ending: true }) });
      return Promise.resolve(problems);
    }
    if (host.current().text === next.text) {
      const engineFault = host.engineFault();
      if (engineFault !== undefined) {
        host.onEvent({ kind: 'reload-unneeded', show: next.show.name, engineFault, by });
        return Promise.resolve({ engineFault });
      }
      this.stale.problems = undefined;
      host.onEvent({ kind: 'reload-unneeded', show: next.show.name, by });
      return Promise.resolve('already so');
    }
    return this.#begin(next, this.#load(next, by));
  }

  /** At the start: whom to tell if the first engine says that it can't run. */
  set onFailedStart(tell: (message: string) => void) {
    this.#failStart = tell;
  }

  /** An engine says that it can't run: the start, or the reload, has failed. @returns whether it was the first */
  cannotRun(message: string): boolean {
    const fail = this.#failStart;
    fail?.(message);
    return fail !== undefined;
  }

  async #load(next: ReadShow, by: string | undefined): Promise<Done> {
    const { host, stale } = this;
    const [before, staleBefore] = [host.current(), stale.problems];
    const going = host.goOn(next);
    const goesOn = 'because' in going ? going : await this.#try(() => going);
    if (!('because' in goesOn) && goesOn.length === 0) {
      const { name: show, reloadS: overS } = next.show;
      host.onEvent({ kind: 'reloaded', show, overS, by });
      stale.problems = undefined;
      this.#failStart = undefined;
      return 'went on';
    }
    const tried = 'because' in goesOn ? await this.#swap(next, false) : goesOn;
    // What ended with the daemon is no fault of the show.
    const problems = tried.length > 0 && host.isEnding() ? asPassing([ENDED_FIRST]) : tried;
    if (problems.length > 0) {
      // A restart runs it: nothing is wrong with the show.
      if (!isPassing(problems)) host.refused(next, problems);
      const ending = host.isEnding() ? { ending: true as const } : {};
      host.onEvent({ kind: 'reload-refused', problems, by, ...ending });
      return problems;
    }
    const because = 'because' in goesOn ? goesOn.because : undefined;
    host.onEvent({ kind: 'reloaded', show: next.show.name, because, by });
    stale.problems = undefined;
    this.#failStart = message => {
      host.refused(next, [message]);
      host.onEvent({ kind: 'reload-refused', problems: [message], goesBack: true, by });
      this.#failStart = undefined;
      void this.#begin(before, this.#goBack(before, staleBefore));
    };
    return because === undefined ? problems : { because };
  }

  /** If that can't be done either, the new show is all there is. */
  async #goBack(
    before: ReadShow,
    staleBefore: readonly string[] | undefined,
  ): Promise<readonly string[]> {
    const { host, stale } = this;
    stale.problems = staleBefore;
    const problems = await this.#swap(before, true);
    if (problems.length > 0 && !host.isEnding()) {
      stale.problems = undefined;
      host.onEvent({ kind: 'reload-stuck', show: host.current().show.name, problems });
      host.retry();
    }
    return problems;
  }

  #begin({ text }: ReadShow, work: Promise<Done>): Promise<Done> {
    const problems = work.finally(() => {
      this.#underWay = undefined;
    });
    this.#underWay = { text, problems };
    return problems;
  }

  /** An exception during the swap is a reason too. */
  #swap(next: ReadShow, goesBack: boolean): Promise<readonly string[]> {
    return this.#try(() => this.host.swap(next, goesBack));
  }

  async #try<T>(work: () => Promise<T>): Promise<T | readonly string[]> {
    try {
      return await work();
    } catch (error) {
      return [messageOf(error)];
    }
  }
}
