import type { DeskLevels } from '../../engine/values/inputs.js';
import { deskInputsOfEngine } from '../../show/model/grounds.js';
import type { DeskInputPlan, Show } from '../../show/model/model.js';
import { sourceNameOf } from '../files/identity.js';
import type { LightingOutput } from '../lighting/lighting-output.js';
import { monotonicS } from '../machine/clock.js';
import { Desk } from './desk.js';
import { EngineKnows } from './engine-knows.js';
import type { DeskEvent } from './events.js';
import type { HeardUniverse } from './heard-universe.js';

/** A universe that changes in between waits: the engine is told no more often, seconds. It ticks 40 times a second. */
const TELL_EVERY_S = 0.012;

export interface DeskLinkOptions {
  /** Seconds, of the one clock of the shell unless given. */
  readonly now?: () => number;
  readonly standby: boolean;
  cid(): Uint8Array;
  /** undefined while its sockets are opened anew: a port may be theirs. */
  lighting(): LightingOutput | undefined;
  /** @returns whether there is an engine that hears it */
  tell(levels: readonly DeskLevels[]): boolean;
  /** When the last frame of the engine came that was on time, monotonic seconds; undefined: none has. */
  frameS(): number | undefined;
  onEvent(event: DeskEvent): void;
}

/**
 * An enable is held by whoever sends: without a packet for this long it is released. That is E1.31's timeout of a
 * source (6.7.1);
 * Art-Net's is 10 s.
 */
const ENABLE_TIMEOUT_S = 2.5;

/** What the engine knows of an input. */
interface Told {
  readonly input: number;
  changes: number;
  isHeard: boolean | undefined;
  from: string;
  isSilent: boolean;
}

const NOTHING: Omit<Told, 'input'> = {
  changes: -1,
  isHeard: undefined,
  from: '',
  isSilent: false,
};

/** What is heard of the desk by the show that runs, and what the engine is told of it. */
export class DeskLink {
  #desk: Desk | undefined;
  /** Inputs that the engine wants to know about, and what it was told of each. */
  #told: Told[] = [];
  #isDue = false;
  #isScheduled = false;
  #toldS = Number.NEGATIVE_INFINITY;
  readonly #knows = new EngineKnows();

  readonly #now: () => number;

  constructor(private readonly options: DeskLinkOptions) {
    this.#now = options.now ?? monotonicS;
  }

  /** Universes in the order of the show. */
  get universes(): readonly HeardUniverse[] {
    return this.#desk?.universes ?? [];
  }

  get rejected(): number {
    return this.#desk?.rejected ?? 0;
  }

  /** By the place of the input. */
  readonly heard = (input: number): HeardUniverse | undefined => this.#desk?.universes[input];

  /** Hears the desk of this show from now on; what it shares with the previous show goes on. */
  take(show: Show): void {
    const { standby } = this.options;
    const names = [sourceNameOf(show, standby), sourceNameOf(show, !standby)];
    if (show.desk.length === 0) {
      this.#desk?.close();
      this.#desk = undefined;
    } else if (this.#desk === undefined) this.#desk = this.#open(show.desk, names);
    else this.#desk.hear(show.desk, { ownNames: names, sourceName: names[0] ?? '' });
    this.#told = deskInputsOfEngine(show).map(input => {
      return { input, ...NOTHING };
    });
  }

  /** An engine that goes on with another show is told all of it. */
  tellAnew(): void {
    for (const one of this.#told) Object.assign(one, NOTHING);
    this.#isDue = true;
    this.#tell();
  }

  /** A new engine knows nothing: it is told what the previous one knew, and then the present state. */
  tellNew(): void {
    const known = this.#told.flatMap(({ input }): DeskLevels[] => {
      const was = this.#knows.of(this.heard(input)?.plan.name ?? '');
      return was === undefined ? [] : [{ input, heard: true, ...was }];
    });
    this.#knows.begin();
    if (known.length > 0) this.options.tell(known);
    this.tellAnew();
  }

  /** Once a beat, when its levels are on their way. */
  tend(nowS: number): void {
    if (this.#desk === undefined || this.options.lighting() === undefined) return;
    this.#desk.tend(nowS);
    this.#knows.look(this.options.frameS() ?? Number.NaN, nowS);
    for (const { input, isSilent, isHeard } of this.#told) {
      const { heardS = nowS } = this.heard(input) ?? {};
      if (isHeard === true && !isSilent && nowS - heardS > ENABLE_TIMEOUT_S) this.#isDue = true;
    }
    if (this.#isDue && nowS - this.#toldS >= TELL_EVERY_S) this.#tell();
  }

  /** A packet that a lighting socket received at the shared port. */
  hear(protocol: 'sacn' | 'artnet', bytes: Buffer, from: string, address: string): void {
    this.#desk?.take(protocol, bytes, from, address);
  }

  portsAt(address: string) {
    return this.#desk?.portsAt(address) ?? [];
  }

  /** Lighting sockets may need a port that the desk listener has; it listens again with the next beat. */
  giveWay(): void {
    this.#desk?.close();
  }

  #open(plans: readonly DeskInputPlan[], ownNames: readonly string[]): Desk {
    const { cid, lighting, onEvent } = this.options;
    return new Desk(plans, {
      cid,
      ownNames,
      sourceName: ownNames[0] ?? '',
      hasPort: (protocol, address) => lighting()?.own.has(protocol, address) === true,
      sends: (portAddress, address) => lighting()?.own.sendsArtnet(portAddress, address) === true,
      onEvent,
      onChange: () => this.#change(),
      now: this.#now,
    });
  }

  /** In the turn of the loop in which packets come, others may be waiting: they are told of together. */
  #change(): void {
    if (this.#told.length === 0) return;
    this.#isDue = true;
    if (this.#isScheduled || this.#now() - this.#toldS < TELL_EVERY_S) return;
    this.#isScheduled = true;
    setImmediate(() => {
      this.#isScheduled = false;
      this.#tell();
    });
  }

  #tell(): void {
    this.#isDue = false;
    const nowS = this.#now();
    const news: DeskLevels[] = [];
    const told: Told[] = [];
    for (const one of this.#told) {
      const universe = this.heard(one.input);
      if (universe === undefined || !universe.everHeard) continue;
      const { changes, isHeard: heard, levels, from } = universe;
      const silent = nowS - universe.heardS > ENABLE_TIMEOUT_S;
      const isSame = one.from === from && one.isSilent === silent;
      if (isSame && one.changes === changes && one.isHeard === heard) continue;
      news.push({ input: one.input, levels, heard, from, silent });
      told.push(one);
    }
    if (news.length === 0) return;
    this.#toldS = nowS;
    // A hung engine reads nothing: it is told when it reads again, or the next one is.
    if (!this.options.tell(news)) {
      this.#isDue = true;
      return;
    }
    told.forEach((one, i) => {
      const universe = this.heard(one.input);
      if (universe === undefined) return;
      const { changes, isHeard, from, levels, plan } = universe;
      Object.assign(one, { changes, isHeard, from, isSilent: news[i]?.silent === true });
      this.#knows.tell(plan.name, { levels, from }, nowS);
    });
  }
}
