import type { HeardPort } from '../../protocols/artnet/controller-reply.js';
import { DEFAULT_RATE_HZ } from '../../protocols/transmission.js';
import type { Show } from '../../show/model/model.js';
import { namesPair, partnersOf } from '../../show/model/pair.js';
import { fallbackPlan } from '../../show/model/safe-look.js';
import { mayBePartner, sourceNameOf } from '../files/identity.js';
import type { CountedStream } from '../files/last-look.js';
import type { ShowLevels } from '../levels/show-levels.js';
import type { LimitedLight } from '../lighting/catch-up.js';
import { endLeft } from '../lighting/end-left.js';
import type { LightingEvent } from '../lighting/events.js';
import { interfaceList } from '../lighting/interfaces.js';
import { LightingOutput } from '../lighting/lighting-output.js';
import { LinksDown } from '../lighting/links-down.js';
import type { SentStream } from '../lighting/streams.js';
import { monotonicS } from '../machine/clock.js';
import { Latecomers } from '../ownership/latecomers.js';
import type { Ownership } from '../ownership/ownership.js';
import { whileAlone } from './alone.js';
import { type PairChange, PairLight, type PairPartView } from './pair-light.js';
import { sendsAlike } from './sends-alike.js';

export interface ShowLightingOptions {
  /** The second machine of two that run one show. */
  readonly standby: boolean;
  /** CID of the sACN source: that of this installation. Asked once we own everything. */
  cid(): Uint8Array;
  readonly ownership: Ownership;
  readonly stateFolder: string | undefined;
  /** The same show is sent by other sockets from now on. */
  onReopened(): void;
  /** Called for packets on our own port that may be the desk's; see `LineOptions`. */
  onHeard?(protocol: 'sacn' | 'artnet', bytes: Buffer, from: string, address: string): void;
  /** See `LightingOptions`. */
  portsAt?(address: string): readonly HeardPort[];
  /** Whether somebody's loss takes a fixture to its safe values; see `stepFallback`. */
  falls(fixture: number): boolean;
  /** Sockets are closed, and others are about to be opened. */
  onClosing?(): void;
  onEvent(event: LightingEvent): void;
}

/** The lighting sockets of the show that runs, and this machine's part in a pair. */
export class ShowLighting {
  #output: LightingOutput | undefined;
  #pair: PairLight | undefined;
  /** When it began to play a part, monotonic seconds. */
  #startS = 0;
  #interfacesUnread = false;
  #show: Show | undefined;
  /** While sockets are closed and others are opened in their place. */
  #reopening: Promise<void> | undefined;
  #isSwapping = false;
  readonly #down = new LinksDown();
  readonly #latecomers: Latecomers;

  constructor(private readonly options: ShowLightingOptions) {
    this.#latecomers = new Latecomers(options.ownership, options.onEvent);
  }

  /** undefined before the start, in the middle of a swap, and after the end. */
  get output(): LightingOutput | undefined {
    return this.#output;
  }

  /** This machine leads. */
  leads(nowS: number): boolean {
    return this.#pair?.leads(nowS) !== false;
  }

  /** See `PairLight`. */
  tellsOther(nowS: number): 'all' | 'own' | undefined {
    if (this.#pair === undefined) return this.options.standby ? undefined : 'all';
    return this.#pair.tells(nowS);
  }

  /** This machine's part in a pair, see `PairLight.look`. */
  pair(nowS: number): readonly PairPartView[] {
    const pair = this.#pair;
    if (pair === undefined || this.#isLone(pair, nowS)) return [];
    const { standby } = this.options;
    const when = { standby, startS: this.#startS, nowS };
    return whileAlone(pair.look(nowS), this.#output?.sides ?? [], when);
  }

  /** Nobody has set up a second machine, and none was ever heard: of one that might be there nothing is told. */
  #isLone(pair: PairLight, nowS: number): boolean {
    return pair.isLone(nowS) && !(this.#show !== undefined && namesPair(this.#show));
  }

  /** See `PairLight`. */
  seekStandby(nowS: number): boolean {
    return this.#pair?.seekStandby(nowS) === true;
  }

  /** See `PairLight`. */
  isCovered(levels: ShowLevels, nowS: number): boolean {
    return this.#pair?.isCovered(levels, nowS) === true;
  }

  /** See `PairLight`. */
  unsettled(nowS: number): string | undefined {
    return this.#pair?.unsettled(nowS);
  }

  /**
   * @param mayBeLost a missing interface is looked for; otherwise it is a problem
   * @returns problems with the outputs, in plain words; empty when all is well
   */
  async start(show: Show, mayBeLost: boolean): Promise<readonly string[]> {
    const opened = await this.#open(show, mayBeLost);
    if (!opened.ok) return opened.problems;
    this.#show = show;
    this.#output = opened.output;
    return [];
  }

  /** @param before see `PairLight` */
  startPair(startS: number, before: { readonly resumes: boolean; readonly goesOn: boolean }): void {
    const { output } = this;
    if (output !== undefined) {
      const { standby, onEvent } = this.options;
      this.#startS = startS;
      this.#pair = new PairLight(standby, output, startS, before, (where, held) =>
        onEvent({ kind: 'artnet-held', interface: where, held }),
      );
    }
  }

  /**
   * Streams of a daemon that was killed: those that this one sends go on counting, the others are ended.
   * @param skip packets that may have left without being noted
   */
  goOn(show: Show, before: readonly CountedStream[], skip: number): void {
    const { output } = this;
    if (output === undefined) return;
    output.continueFrom(before, skip);
    const now = new Set(output.streams.map(keyOf));
    const left = before.filter(one => one.protocol === 'sacn' && !now.has(keyOf(one)));
    if (left.length === 0) return;
    const { standby, onEvent } = this.options;
    onEvent({ kind: 'left-ended', universes: left.map(({ onWire }) => onWire) });
    const source = { cid: this.options.cid(), sourceName: sourceNameOf(show, standby) };
    void endLeft(left, source, skip);
  }

  /**
   * The old sockets give way, because the new ones may need their ports; a universe in both goes on counting. If the
   * new ones can't be opened the old ones come back.
   * @returns why not; empty when the other show's sockets are open
   */
  async swap(from: Show, to: Show): Promise<readonly string[]> {
    await this.#reopening;
    if (sendsAlike(to, from)) {
      this.goOnAs(to);
      return [];
    }
    this.#isSwapping = true;
    try {
      return await this.#swap(from, to);
    } finally {
      this.#isSwapping = false;
    }
  }

  async #swap(from: Show, to: Show): Promise<readonly string[]> {
    const old = this.#output;
    if (old === undefined) return ['the daemon is ending.'];
    const { ownership, stateFolder } = this.options;
    const owned = await ownership.take(to, stateFolder);
    if (!owned.ok) return owned.problems;
    const stay = new Set(to.outputs.flatMap(keysOf));
    await old.retire(stream => stay.has(keyOf(stream)));
    if (this.#output !== old) return ['the daemon is ending.'];
    this.#output = undefined;
    await old.close();
    this.options.onClosing?.();
    const opened = await this.#open(to, false);
    if (opened.ok) {
      this.#succeed(old, opened.output);
      this.#show = to;
      ownership.keep(to);
      return [];
    }
    // Whatever is missing now is looked for: it must not end the light.
    const again = await this.#open(from, true);
    ownership.keep(from);
    if (again.ok) {
      this.#succeed(old, again.output);
      return opened.problems;
    }
    return [...opened.problems, ...again.problems];
  }

  /** Another show with the same outputs: the limits are now its own. */
  goOnAs(show: Show): void {
    this.#show = show;
    this.#output?.shared.take(() => this.#lightOf(show), monotonicS());
  }

  /**
   * One beat of a pair, before its light leaves.
   * @param hears false: this process has just stood still, and what the other has said meanwhile has yet to come
   * @returns the roles that have changed, if that is news
   */
  stepPair(levels: ShowLevels, nowS: number, hears: boolean): readonly PairChange[] {
    const pair = this.#pair;
    if (pair === undefined || this.#output === undefined) return [];
    const out = pair.lookBack(nowS);
    const news = hears ? [...out, ...pair.step(levels, nowS)] : out;
    return this.#isLone(pair, nowS) ? [] : news;
  }

  /** One beat: outputs that turn out to use one interface are opened as one. */
  unite(): void {
    const { output: old } = this;
    if (old?.isDivided !== true || this.#isSwapping || this.#show === undefined) return;
    this.#output = undefined;
    this.#reopening = this.#reopen(old, this.#show).finally(() => {
      this.#reopening = undefined;
    });
  }

  async #reopen(old: LightingOutput, show: Show): Promise<void> {
    await old.close();
    this.options.onClosing?.();
    const opened = await this.#open(show, true);
    // Whatever is missing is looked for: there are no problems.
    if (!opened.ok) return;
    this.#succeed(old, opened.output);
    this.options.onReopened();
  }

  /** One beat: reports once whether the system lists its interfaces. */
  tellOfInterfaces(): void {
    const { fault: reason } = interfaceList;
    const unread = reason !== undefined;
    if (unread === this.#interfacesUnread) return;
    this.#interfacesUnread = unread;
    this.options.onEvent(
      unread ? { kind: 'interfaces-unread', reason } : { kind: 'interfaces-read' },
    );
  }

  /** Ends the streams as E1.31 asks. */
  async end(): Promise<void> {
    await this.#reopening;
    const output = this.#output;
    this.#output = undefined;
    await output?.terminate();
    await output?.close();
  }

  #open(show: Show, mayBeLost: boolean) {
    const { standby, onHeard, portsAt } = this.options;
    return LightingOutput.open({
      outputs: show.outputs,
      universeCount: show.universes.length,
      sourceName: sourceNameOf(show, standby),
      partnerName: sourceNameOf(show, !standby),
      mayBePartner: name => mayBePartner(name, standby),
      partners: partnersOf(show),
      standby,
      cid: this.options.cid(),
      beatS: 1 / tickHzOf(show),
      mayBeLost,
      limited: () => this.#lightOf(show),
      admits: where => this.#latecomers.admits(show, where),
      onEvent: event => this.#tell(event),
      ...(onHeard === undefined ? {} : { onHeard }),
      ...(portsAt === undefined ? {} : { portsAt }),
      now: monotonicS,
    });
  }

  #lightOf(show: Show): LimitedLight {
    const { falls } = this.options;
    return { plan: fallbackPlan(show), limits: show.limits, falls };
  }

  #succeed(old: LightingOutput, output: LightingOutput): void {
    output.continueFrom(old.streams);
    this.#output = output;
    this.#pair?.take(output, monotonicS());
    for (const event of this.#down.over(output.lost)) this.#tell(event);
  }

  #tell(event: LightingEvent): void {
    this.options.onEvent(this.#down.hear(event));
  }
}

function keysOf({ protocol, universes }: Show['outputs'][number]): string[] {
  return universes.map(({ onWire }) => keyOf({ protocol, onWire }));
}

/** A receiver knows a stream by its source and its universe, by whichever interface it comes (E1.31 5.6). */
function keyOf({ protocol, onWire }: Pick<SentStream, 'protocol' | 'onWire'>): string {
  return `${protocol} ${onWire}`;
}

/** Whether a universe of one show is no longer sent by the other. */
export function dropsUniverses(from: Show, to: Show): boolean {
  const stay = new Set(to.outputs.flatMap(keysOf));
  return from.outputs.some(output => keysOf(output).some(key => !stay.has(key)));
}

/**
 * The engine ticks, and the supervisor beats, as often as the fastest output sends; in a show that sends
 * nothing yet, as often as an output would by default.
 */
export function tickHzOf({ outputs }: Show): number {
  return outputs.length === 0 ? DEFAULT_RATE_HZ : Math.max(...outputs.map(({ rateHz }) => rateHz));
}
