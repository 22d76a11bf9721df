import { unreachable } from '../../stage/unreachable.js';
import { beginBlend, isAlike, type OtherLight, type ShowLevels } from '../levels/show-levels.js';
import type { LightingOutput } from '../lighting/lighting-output.js';
import type { PartnerNews } from '../lighting/partner.js';
import type { Side } from '../lighting/side.js';
import { Pair, type PairOptions, type PairPhase } from './pair.js';

/** A change of role that is news. */
export interface PairChange {
  readonly from: PairPhase;
  readonly to: PairPhase;
  /** Where; undefined: on all interfaces. */
  readonly interface?: string;
  /** The system refuses all of our Art-Net there: until that changes, the other machine has all light. */
  readonly artnetRefused?: boolean;
  /** The other machine has said that it ends. */
  readonly ended?: boolean;
  /**
   * The main machine is heard below this standby: it has just been started too. With no change of role: a standby that
   * still waits has its sACN taken.
   */
  readonly comesBack?: boolean;
  /** The main machine has not been heard since this standby was started. */
  readonly neverHeard?: boolean;
  /** Of a main machine of which nothing leaves: no standby had been heard by then. */
  readonly withoutStandby?: true;
  /** The standby has had the light for so long already, seconds; missing: from now on. */
  readonly hadLightForS?: number;
  /** It comes back below a standby, but goes on with Art-Net, because nobody has taken its place there. */
  readonly keepsArtnet?: boolean;
  /** It comes back below a standby, and starts Art-Net, because nobody sends it. */
  readonly beginsArtnet?: boolean;
  /** For one that comes back: the protocol it sends there, if that is only one. */
  readonly only?: 'sacn' | 'artnet';
  /** Of one that leads: it took the light from a standby that sent another. */
  readonly differs?: true;
  /** Of a standby that gives the light back: who is stopped here, and not by the word of the main machine. */
  readonly stopped?: readonly string[];
  /** And whether the main machine is told so. */
  readonly isTold?: true;
}

interface Part {
  readonly side: Side;
  readonly pair: Pair;
  /** Having no standby is no news at the start, but is news after an outage. */
  hasLed: boolean;
  /** Nodes have had Art-Net of this machine, or of the one before it. */
  hasSentArtnet: boolean;
  /** Of its phase, monotonic seconds. */
  sinceS: number;
  /** It is told that receivers take this standby although it still waits. */
  isTaken: boolean;
}

/** The role of this machine on one network, and the state of the other one there. */
export interface PairPartView {
  readonly interface: string;
  readonly phase: PairPhase;
  readonly sinceS: number;
  /** undefined: it says nothing while it waits. */
  readonly other: PartnerNews | undefined;
}

/** A main machine that had been cut off takes the light at once, and may miss a packet or two. */
const TELLS_AFTER_S = 3.5;

/** For the answer to a reload; constants, because each section asks. */
const IS_STANDBY = 'this is the standby of two machines';
const COMES_BACK = 'the standby had the light';
const IS_OUT = 'nothing had left this machine for a while';
const LISTENS = 'this machine was still listening for a standby';
const ARTNET_REFUSED = 'its Art-Net is refused, and the standby may take the light';

function leads({ pair, side }: Part, nowS: number): boolean {
  return pair.phase === 'leading' && !pair.isOut(side.silentForS(nowS));
}

/** The roles of one machine of a pair on its lighting networks, and what follows for its light. */
export class PairLight {
  #parts: readonly Part[] = [];
  /** When this standby gave the light back last, monotonic seconds. */
  #gaveBackS = Number.NEGATIVE_INFINITY;
  /** By interface, whether Art-Net is held back, as last reported. */
  readonly #held = new Map<string, boolean>();

  /**
   * @param resumes see `PairOptions`
   * @param goesOn from what a dead machine had sent, which nodes may still have
   */
  constructor(
    private readonly standby: boolean,
    output: LightingOutput,
    startS: number,
    { resumes, goesOn }: { readonly resumes: boolean; readonly goesOn: boolean },
    private readonly onHeld: (where: string, held: boolean) => void = () => undefined,
  ) {
    this.#parts = output.sides.map(side => {
      const pair = new Pair(this.#optionsOf(side, { standby, startS, resumes }));
      return { side, pair, hasLed: false, hasSentArtnet: goesOn, sinceS: startS, isTaken: false };
    });
    this.#arrangeAll();
  }

  /** This machine leads on every network. */
  leads(nowS: number): boolean {
    return this.#parts.every(part => leads(part, nowS));
  }

  /**
   * What the other machine is to hear of from this one. Of the standby the stops that were given here ('own'), while it
   * has light, as the main machine may run behind a link that is out, or lead another network; and for a moment after
   * that. All it knows, once it has all light and the main machine comes back. Of the main machine all, while it leads on
   * some network; its own stops, while nothing leaves it.
   */
  tells(nowS: number): 'all' | 'own' | undefined {
    if (!this.standby) {
      if (this.#parts.length === 0 || this.#parts.some(part => leads(part, nowS))) return 'all';
      return this.#parts.some(({ pair }) => pair.phase === 'joining') ? undefined : 'own';
    }
    const hasLight = ({ pair, isTaken }: Part) => pair.phase === 'standing-in' || isTaken;
    if (!this.#parts.some(hasLight)) {
      return nowS - this.#gaveBackS < TELLS_AFTER_S ? 'own' : undefined;
    }
    const comesBack = ({ side }: Part) => side.partner.at(nowS).other === 'comes back';
    return this.#parts.every(hasLight) && this.#parts.some(comesBack) ? 'all' : 'own';
  }

  /** A main machine that has never heard a standby: it listens for one all the same, but that is nothing to tell. */
  isLone(nowS: number): boolean {
    return (
      !this.standby &&
      this.#parts.every(({ side }) => side.partner.at(nowS).other === 'never heard')
    );
  }

  /** For people, network by network; empty if there is no sign of another machine. */
  look(nowS: number): readonly PairPartView[] {
    const parts = this.#parts.map(({ side, pair, sinceS }): PairPartView => {
      const news = side.partner.at(nowS);
      // By Art-Net a standby that waits says nothing.
      const says = this.standby || side.sendsSacn || news.other === 'heard';
      return { interface: side.name, phase: pair.phase, sinceS, other: says ? news : undefined };
    });
    const isAlone = parts.every(
      ({ phase, other }) =>
        phase === 'leading' && (other === undefined || other.other === 'never heard'),
    );
    return isAlone ? [] : parts;
  }

  /**
   * This main machine is about to end: listens to all of its standby from now on.
   * @returns whether the standby is there on every network; not known if it is silent while it waits, as with Art-Net
   */
  seekStandby(nowS: number): boolean {
    if (this.standby || this.#parts.length === 0 || !this.leads(nowS)) return false;
    if (!this.#parts.every(({ side }) => side.partner.isHeard(nowS))) return false;
    for (const { side } of this.#parts) side.hearsAlways = true;
    return true;
  }

  /**
   * Whether the standby sends all of our universes with the same light: if our streams end, receivers take it and
   * nobody notices.
   */
  isCovered(levels: ShowLevels, nowS: number): boolean {
    return this.#parts.every(({ side }) => {
      const { partner, universes } = side;
      const sent = new Set(universes);
      return (
        universes.every(universe => partner.knows(universe, nowS)) &&
        isAlike(levels, { levels: partner.levels, knows: universe => sent.has(universe) })
      );
    });
  }

  /** Why a beat may have to do something about its role, in plain words; undefined: it leads, and goes on to. */
  unsettled(nowS: number): string | undefined {
    if (this.standby) return IS_STANDBY;
    if (!this.leads(nowS)) {
      const is = (phase: PairPhase) => this.#parts.some(({ pair }) => pair.phase === phase);
      if (is('joining')) return COMES_BACK;
      return is('listening') ? LISTENS : IS_OUT;
    }
    const mayGiveWay = ({ side }: Part) => this.#isRefused(side) && side.partner.isHeard(nowS);
    return this.#parts.some(mayGiveWay) ? ARTNET_REFUSED : undefined;
  }

  /** If the standby can't know, it would not send Art-Net in our place. */
  #isRefused({ artnetRefused, isDeaf }: Side): boolean {
    return artnetRefused && !isDeaf;
  }

  /** Goes on with the sockets of another show: a network keeps its state. */
  take({ sides }: LightingOutput, nowS: number): void {
    const before = new Map(this.#parts.map(part => [part.side.name, part]));
    const { standby } = this;
    const wanted = standby ? 'standing-in' : 'leading';
    const leads = this.#parts.every(({ pair }) => pair.phase === wanted);
    this.#parts = sides.map(side => {
      const options = this.#optionsOf(side, { standby, startS: nowS, resumes: true, leads });
      const old = before.get(side.name);
      const { pair = new Pair(options), hasLed = leads, sinceS = nowS } = old ?? {};
      const { hasSentArtnet = leads, isTaken = false } = old ?? {};
      pair.moveTo(options);
      return { side, pair, hasLed, hasSentArtnet, sinceS, isTaken };
    });
    this.#arrangeAll();
  }

  /**
   * Before anything of this beat is sent: a network on which nothing could be sent for some time gives way before it
   * is back.
   */
  lookBack(nowS: number): readonly PairChange[] {
    const changes: PairChange[] = [];
    for (const part of this.#parts) {
      const { pair, side } = part;
      const { phase: from, holdsArtnet: held } = pair;
      if (!pair.wasOut(side.silentForS(nowS), nowS, side.hears)) continue;
      const { other } = side.partner.at(nowS);
      // What is heard on other networks still counts.
      if (!side.isDeaf) side.partner.forget();
      part.hasLed ||= from === 'leading';
      if (pair.phase !== from || pair.holdsArtnet !== held) this.#arrange(part);
      if (pair.phase === from) continue;
      part.sinceS = nowS;
      if (from === 'joining') continue;
      const without = from === 'leading' && other === 'never heard';
      changes.push({ ...changeOf(part, from), ...(without ? { withoutStandby: true } : {}) });
    }
    return changes;
  }

  /** One beat: what is heard of the other machine, and the decision that follows. */
  step(levels: ShowLevels, nowS: number): readonly PairChange[] {
    const changes: PairChange[] = [];
    let waits = false;
    for (const part of this.#parts) {
      const { pair, side } = part;
      const { partner } = side;
      const artnetRefused = this.#isRefused(side);
      if (pair.phase === 'leading' && !artnetRefused) continue;
      const last: OtherLight = {
        levels: partner.levels,
        knows: universe => partner.remembers(universe, nowS),
      };
      const other: OtherLight = {
        levels: partner.levels,
        knows: universe => partner.knows(universe, nowS),
      };
      const { phase: from, holdsArtnet: held, hasStoodIn, fillsArtnet } = pair;
      const to = pair.step({
        nowS,
        partnerHeard: partner.isHeard(nowS),
        live: levels.fallback.phase === 'live',
        alike: (from === 'joining' || from === 'leading') && isAlike(levels, other),
        artnetRefused,
        artnetHeard: partner.sendsArtnet(nowS),
      });
      if (held && !pair.holdsArtnet) this.#beginArtnet(part, levels, nowS);
      if (to === undefined) {
        if (pair.holdsArtnet !== held || pair.hasStoodIn !== hasStoodIn) this.#arrange(part);
        const begins = pair.fillsArtnet && !fillsArtnet && side.artnetInterfaces.length > 0;
        if (begins) changes.push({ ...changeOf(part, from), beginsArtnet: true });
        if (from === 'standing-by') {
          const wasTaken = part.isTaken;
          changes.push(...takenNews(part, nowS));
          if (wasTaken && !part.isTaken) this.#gaveBackS = nowS;
        }
        // Receivers will drop it soon and take ours: by then the light is the same.
        if (from !== 'joining' || !partner.isMissed(nowS)) continue;
        waits = true;
        if (levels.blend === undefined) beginBlend(levels, last, true);
        continue;
      }
      part.sinceS = nowS;
      const news = partner.at(nowS);
      const comesBack = news.other === 'comes back';
      // It is heard by its Art-Net, and its sACN is still below.
      part.isTaken = to === 'standing-by' && side.sendsSacn && comesBack;
      const gives = from === 'standing-in' && to === 'standing-by' && !part.isTaken;
      if (gives) this.#gaveBackS = nowS;
      if (pair.crossfades) beginBlend(levels, last);
      this.#arrange(part);
      const isQuiet = from === 'listening' && to === 'leading' && !part.hasLed;
      part.hasLed ||= to === 'leading';
      if (isQuiet) continue;
      const why =
        to === 'standing-in'
          ? whyStandsIn(news.other)
          : part.isTaken
            ? whyStandsIn('comes back')
            : {};
      const had = to === 'standing-in' || from === 'listening' ? hadLight(part, nowS) : {};
      const differs = pair.crossfades && partner.isHeard(nowS) ? { differs: true as const } : {};
      changes.push({ ...changeOf(part, from), ...why, ...differs, ...had });
    }
    // It is heard again, and receivers take it.
    if (levels.blend?.waits === true && !waits) levels.blend = undefined;
    return changes;
  }

  /**
   * Nodes have had no levels from us, and what another source sent them is not known: the first they get is the safe
   * look, and the light comes up from there.
   */
  #beginArtnet(part: Part, levels: ShowLevels, nowS: number): void {
    const { pair, side, hasSentArtnet } = part;
    if (hasSentArtnet || (this.standby && pair.hasHeard)) return;
    const others = this.#parts.filter(other => other !== part);
    const isOut = (universe: number) =>
      side.partner.remembers(universe, nowS) ||
      others.some(
        ({ side: { universes, artnetUniverses, holdsArtnet } }) =>
          universes.includes(universe) && !(holdsArtnet && artnetUniverses.includes(universe)),
      );
    const unsent = new Set(side.artnetUniverses.filter(universe => !isOut(universe)));
    if (unsent.size === 0) return;
    beginBlend(levels, { levels: levels.plan.safeLook, knows: universe => unsent.has(universe) });
  }

  /** As they are at any time: an address that changes may change them. */
  #optionsOf(side: Side, options: Pick<PairOptions, 'startS' | 'standby' | 'resumes' | 'leads'>) {
    const leadsElsewhere = () =>
      this.#parts.some(
        other => other.side !== side && !other.side.isDeaf && other.pair.phase === 'leading',
      );
    return {
      ...options,
      beatS: side.beatS,
      get canHear() {
        return side.canHear;
      },
      get isDeaf() {
        return side.isDeaf;
      },
      get isCovered() {
        return side.isDeaf && !side.sendsSacn && leadsElsewhere();
      },
    };
  }

  #arrangeAll(): void {
    for (const part of this.#parts) this.#arrange(part);
  }

  /** How a side sends and listens in the present phase. */
  #arrange(part: Part): void {
    const { pair, side, hasLed } = part;
    side.shiftPriority(pair.priorityShift);
    // A main one alone on Art-Net has nobody to wait for: its light is out at once.
    side.holdsArtnet = pair.holdsArtnet && (this.standby || side.hearsArtnet);
    const wasLast = (hasLed && pair.phase === 'listening') || pair.hasStoodIn;
    side.staysOnArtnet = side.holdsArtnet && wasLast;
    part.hasSentArtnet ||= !side.holdsArtnet;
    side.hearsAlways = pair.phase === 'joining';
    for (const where of side.artnetInterfaces) {
      const held = side.holdsArtnet;
      if (held === (this.#held.get(where) ?? false)) continue;
      this.#held.set(where, held);
      this.onHeld(where, held);
    }
  }
}

/** Receivers take the sACN of a standby that waits for a main machine which does not lead yet; or do so no longer. */
function takenNews(part: Part, nowS: number): readonly PairChange[] {
  const { pair, side, isTaken } = part;
  if (!side.sendsSacn || pair.phase !== 'standing-by') return [];
  const { other } = side.partner.at(nowS);
  const begins = pair.aloneFromS !== undefined && other === 'comes back';
  const isNow = isTaken ? other !== 'heard' : begins;
  if (isTaken === isNow) return [];
  part.isTaken = isNow;
  const change = changeOf(part, pair.phase);
  return [isNow ? { ...change, comesBack: true, ...hadLight(part, nowS) } : change];
}

/** How long the standby has had the light when that is noticed; none if from now on, or if it does not have it. */
function hadLight({ pair, side }: Part, nowS: number): Pick<PairChange, 'hadLightForS'> {
  // Art-Net of the one that waits begins with the change.
  if (!side.sendsSacn) return {};
  const fromS = beganS(pair, side.partner.at(nowS));
  const forS = fromS === undefined ? 0 : nowS - fromS;
  return forS > 0 ? { hadLightForS: forS } : {};
}

function beganS({ phase, listensFromS, aloneFromS }: Pair, other: PartnerNews): number | undefined {
  switch (phase) {
    case 'joining':
      return listensFromS;
    case 'standing-by':
    case 'standing-in':
      // Of one that has been started again: its priority fell with its first packet.
      return aloneFromS ?? (other.other === 'comes back' ? other.backS : undefined);
    case 'listening':
    case 'leading':
      return undefined;
    default:
      return unreachable(phase);
  }
}

function whyStandsIn(other: PartnerNews['other']): Partial<PairChange> {
  switch (other) {
    case 'ended':
      return { ended: true };
    case 'comes back':
      return { comesBack: true };
    case 'never heard':
      return { neverHeard: true };
    case 'heard':
    case 'silent':
      return {};
    default:
      return unreachable(other);
  }
}

function changeOf({ pair, side }: Part, from: PairPhase): PairChange {
  const { phase: to } = pair;
  const isRefused = to === 'joining' && side.artnetRefused;
  const keepsArtnet =
    from !== to &&
    to === 'joining' &&
    !isRefused &&
    !side.holdsArtnet &&
    side.artnetInterfaces.length > 0;
  const change = {
    from,
    to,
    ...(isRefused ? { artnetRefused: true } : {}),
    ...(keepsArtnet ? { keepsArtnet: true } : {}),
    ...(to === 'joining' && side.onlyProtocol !== undefined ? { only: side.onlyProtocol } : {}),
  };
  return side.name === '' ? change : { ...change, interface: side.name };
}
