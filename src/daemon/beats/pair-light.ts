import { unreachable } from '../../stage/unreachable.js';
import { beginBlend, isAlike, type OtherLight, type ShowLevels } from '../levels/show-levels.js';
import type { LightingOutput } from '../lighting/lighting-output.js';
import type { PartnerNews } from '../lighting/partner.js';
import type { Side } from '../lighting/side.js';
import { Pair, type PairOptions, type PairPhase } from './pair.js';

/** A part that has changed, and is news. */
export interface PairChange {
  readonly from: PairPhase;
  readonly to: PairPhase;
  /** Where; undefined: on all interfaces. */
  readonly interface?: string;
  /** The system takes none of our Art-Net there: until it does, the other machine has all light. */
  readonly artnetRefused?: boolean;
  /** The other machine has said that it ends. */
  readonly ended?: boolean;
  /** The main machine is heard below this standby: it has just been started too. */
  readonly comesBack?: boolean;
  /** The main machine has not been heard since this standby was started. */
  readonly neverHeard?: boolean;
  /** It comes back below a standby, but goes on with Art-Net, where nobody has taken its place. */
  readonly keepsArtnet?: boolean;
  /** It comes back below a standby, and begins with Art-Net, which nobody sends. */
  readonly beginsArtnet?: boolean;
  /** Of one that comes back: what it sends there, where that is one of both. */
  readonly only?: 'sacn' | 'artnet';
  /** Of one that leads: it took the light from a standby that sent another. */
  readonly differs?: true;
  /** Of a standby that gives the light back: who is stopped here, and not by the word of the main machine. */
  readonly stopped?: readonly string[];
  /** And whether the main machine was told so while it came back. */
  readonly isTold?: true;
}

interface Part {
  readonly side: Side;
  readonly pair: Pair;
  /** That there is no standby at the start is no news; that it is so after an outage is. */
  hasLed: boolean;
  /** Nodes have had Art-Net of this machine, or of the one before it. */
  hasSentArtnet: boolean;
  /** Of its phase, monotonic seconds. */
  sinceS: number;
}

/** Which part this machine plays on one network, and how the other one is there. */
export interface PairPartView {
  readonly interface: string;
  readonly phase: PairPhase;
  readonly sinceS: number;
  /** undefined: it says nothing while it waits. */
  readonly other: PartnerNews | undefined;
}

/** The parts of one machine of a pair, each on its lighting networks, and what each makes of its own light. */
export class PairLight {
  #parts: readonly Part[] = [];
  /** By interface, whether Art-Net is held back, as it was told. */
  readonly #held = new Map<string, boolean>();

  /**
   * @param resumes see `PairOptions`
   * @param goesOn from what a machine that has died had sent: nodes may have that
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
      return { side, pair, hasLed: false, hasSentArtnet: goesOn, sinceS: startS };
    });
    this.#arrangeAll();
  }

  /** No other machine has a say in what this one sends, wherever it sends. */
  leads(nowS: number): boolean {
    return this.#parts.every(
      ({ pair, side }) => pair.phase === 'leading' && !pair.isOut(side.silentForS(nowS)),
    );
  }

  /** This standby has all the light, and the main machine comes back below it. */
  givesBackSoon(nowS: number): boolean {
    return (
      this.#parts.every(({ pair }) => pair.phase === 'standing-in') &&
      this.#parts.some(({ side }) => side.partner.at(nowS).other === 'comes back')
    );
  }

  /** For people, network by network; empty where there is no sign of another machine. */
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
   * @returns whether that is there on every network; where it says nothing while it waits, as by Art-Net, nobody knows
   */
  seekStandby(nowS: number): boolean {
    if (this.standby || this.#parts.length === 0 || !this.leads(nowS)) return false;
    if (!this.#parts.every(({ side }) => side.partner.isHeard(nowS))) return false;
    for (const { side } of this.#parts) side.hearsAlways = true;
    return true;
  }

  /**
   * Whether the standby sends every universe of ours, with the same light: if our streams end, receivers take it and
   * nobody sees that.
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

  /** It leads, and there is nothing to be done about that in a beat. */
  isSettled(nowS: number): boolean {
    const mayGiveWay = ({ side }: Part) => this.#isRefused(side) && side.partner.isHeard(nowS);
    return this.leads(nowS) && !this.#parts.some(mayGiveWay);
  }

  /** Where the standby can't tell, it would not send Art-Net in our place. */
  #isRefused({ artnetRefused, isDeaf }: Side): boolean {
    return artnetRefused && !isDeaf;
  }

  /** Goes on with the sockets of another show: what was one network stays it. */
  take({ sides }: LightingOutput, nowS: number): void {
    const before = new Map(this.#parts.map(part => [part.side.name, part]));
    const { standby } = this;
    const wanted = standby ? 'standing-in' : 'leading';
    const leads = this.#parts.every(({ pair }) => pair.phase === wanted);
    this.#parts = sides.map(side => {
      const options = this.#optionsOf(side, { standby, startS: nowS, resumes: true, leads });
      const old = before.get(side.name);
      const { pair = new Pair(options), hasLed = leads, sinceS = nowS } = old ?? {};
      const { hasSentArtnet = leads } = old ?? {};
      pair.moveTo(options);
      return { side, pair, hasLed, hasSentArtnet, sinceS };
    });
    this.#arrangeAll();
  }

  /**
   * Before anything of this beat leaves: a part of which nothing has left for some time gives way before it is back.
   */
  lookBack(nowS: number): readonly PairChange[] {
    const changes: PairChange[] = [];
    for (const part of this.#parts) {
      const { pair, side } = part;
      const { phase: from, holdsArtnet: held } = pair;
      if (!pair.wasOut(side.silentForS(nowS), nowS, side.hears)) continue;
      // What is heard elsewhere is as good as before.
      if (!side.isDeaf) side.partner.forget();
      part.hasLed ||= from === 'leading';
      if (pair.phase !== from || pair.holdsArtnet !== held) this.#arrange(part);
      if (pair.phase === from) continue;
      part.sinceS = nowS;
      if (from !== 'joining') changes.push(changeOf(part, from));
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
        // Receivers let it go soon, and take ours: by then it is the same.
        if (from !== 'joining' || !partner.isMissed(nowS)) continue;
        waits = true;
        if (levels.blend === undefined) beginBlend(levels, last, true);
        continue;
      }
      part.sinceS = nowS;
      if (pair.crossfades) beginBlend(levels, last);
      this.#arrange(part);
      const isQuiet = from === 'listening' && to === 'leading' && !part.hasLed;
      part.hasLed ||= to === 'leading';
      if (isQuiet) continue;
      const why = to === 'standing-in' ? whyStandsIn(partner.at(nowS).other) : {};
      const differs = pair.crossfades && partner.isHeard(nowS) ? { differs: true as const } : {};
      changes.push({ ...changeOf(part, from), ...why, ...differs });
    }
    // It is heard again, and is what receivers take.
    if (levels.blend?.waits === true && !waits) levels.blend = undefined;
    return changes;
  }

  /**
   * Nodes have had no levels yet, and what they have had of another source is not known: the first that they get is
   * the safe look, and the light comes up from there.
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
