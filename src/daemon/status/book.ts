import {
  batteryUnitInWords,
  enableInWords,
  outputsInWords,
  silentSignalInWords,
} from '../../engine/events/event-words.js';
import type { EnabledOutput } from '../../engine/events/events.js';
import { LightDelays } from '../../live/light-delays.js';
import {
  type OtherShows,
  otherShowInWords,
  otherTrackingInWords,
  pairTroubles,
  standbyMissed,
  stopsOfStandby,
} from '../../live/pair-words.js';
import type { FallbackPhase } from '../../safety/fallback.js';
import type { HeardBut } from '../../safety/heard-but.js';
import type { Phase } from '../../safety/watchdog.js';
import { CONDITIONS, type Condition } from '../../safety/watchdog-table.js';
import { fixtureNames, isFixtureName } from '../../show/model/fixture-groups.js';
import { labelsOf } from '../../show/model/labels.js';
import { mappingTitle } from '../../show/model/mapping-words.js';
import type { PositionsPlan, Show } from '../../show/model/model.js';
import type { PerformerStatus, PositionsStatus, Status } from '../asking/status.js';
import type { PairPartView } from '../beats/pair-light.js';
import { sendsAlike } from '../beats/sends-alike.js';
import type { SupervisorEvent } from '../beats/supervisor-options.js';
import type { EngineCounters, EngineNews } from '../engine/engine-link.js';
import { KEPT_WORDS, UNKEPT_WORDS } from '../files/kept-words.js';
import { ERRAND_WORDS } from '../lighting/errand-words.js';
import type { LightingEvent } from '../lighting/events.js';
import { sendFaultInWords } from '../lighting/send-fault-words.js';
import { unixOffsetS } from '../machine/clock.js';
import { type PanelEvent, troubleOfPanel } from '../panel/panel-runner.js';
import { CueNote } from './cue-note.js';
import { DeskNotes } from './desk-notes.js';
import { FullSockets } from './full-sockets.js';
import { HeadNotes } from './head-notes.js';
import { LostBefore, type PerformerNote } from './lost-before.js';
import { OutputNotes } from './output-notes.js';
import { pairStatus } from './pair-note.js';
import { Refusals } from './refusals.js';
import { safeLightOf } from './safe-light.js';
import { SilentNodes } from './silent-nodes.js';
import { lightOf, shownInstead, stateOf } from './states.js';
import { StopNote } from './stop-note.js';
import { stopsElsewhere } from './stops-elsewhere.js';
import { TrackerNotes } from './tracker-notes.js';
import { inputOf, sourceOf } from './trouble-keys.js';
import { type TroubleKey, Troubles } from './troubles.js';
import { TurnedAwayNote } from './turned-away-note.js';

const NONE: ReadonlySet<string> = new Set();

const STALE = "the show file can't be used, and the show that was accepted last runs";

/**
 * What the daemon's events add up to: who is live, since when and why not, and what is wrong at the moment.
 * Everything comes from events and counters, so that nothing has to be asked for when somebody wants to know.
 */
export class StatusBook {
  #performers = new Map<string, PerformerNote>();
  /** Why those are not followed who are heard and never were followed. */
  readonly #heardBut = new Map<string, { readonly but: HeardBut; readonly sinceS: number }>();
  readonly #lostBefore = new LostBefore();
  #lights: { phase: FallbackPhase; cause: string; sinceS: number };
  #engine: { pid: number | undefined; sinceS: number };
  #feed = { silent: false, sinceS: 0 };
  /** Hazardous outputs that are on. */
  readonly #enabled = new Map<string, EnabledOutput>();
  #rates = { positionsPerS: 0, datagramsPerS: 0, droppedPerS: 0 };
  #counted: { readonly counters: EngineCounters; readonly atS: number } | undefined;
  readonly #stops = new StopNote();
  readonly cue = new CueNote();
  readonly delays = new LightDelays();
  #deskLostSinceS: number | undefined;
  readonly #trackers = new TrackerNotes();
  readonly #heads = new HeadNotes();
  readonly #desk = new DeskNotes();
  readonly #outputs = new OutputNotes();
  readonly #silentNodes = new SilentNodes();
  readonly #troubles = new Troubles();
  /** Name of what is highlighted. */
  #highlighted: string | undefined;
  #otherShows: OtherShows = 'unknown';
  readonly #refusals = new Refusals();
  readonly #fullSockets = new FullSockets();
  readonly #turnedAway = new TurnedAwayNote();
  #rehearsal: { what: string; sinceS: number; untilS: number } | undefined;

  constructor(
    private show: Show,
    nowS: number,
    /** This machine's part in a pair; none: there is no sign of another. */
    private readonly pair: {
      readonly standby: boolean;
      look(nowS: number): readonly PairPartView[];
    } = { standby: false, look: () => [] },
    /** Levels of all universes as last sent. */
    private readonly sent: () => Readonly<Uint8Array> | undefined = () => undefined,
  ) {
    this.#lights = { phase: 'safe', cause: 'the engine is starting', sinceS: nowS };
    this.#engine = { pid: undefined, sinceS: nowS };
    this.take(show, nowS);
  }

  /** Another show takes over. */
  take(show: Show, nowS: number): void {
    const before = this.show;
    this.show = show;
    this.cue.take(nowS);
    this.#desk.take(show, before, nowS);
    this.#engineBegins(undefined, nowS);
    // Sockets that stay don't tell again of what is wrong with them.
    if (sendsAlike(show, before)) return;
    this.#outputs.begin();
    this.#silentNodes.begin();
  }

  /** Another show goes on from where this one stands: all that is known of its people holds. */
  goOn(show: Show): void {
    this.show = show;
    if (this.#highlighted !== undefined && !isFixtureName(show, this.#highlighted)) {
      this.#troubles.delete('highlight');
      this.#highlighted = undefined;
    }
    const titles = new Set(show.mappings.map((_, index) => mappingTitle(show, index)));
    this.#troubles.keepOf('mapping', titles);
    this.#troubles.keepOf('signal', new Set(show.signals.signals.map(({ name }) => name)));
  }

  hearPanel(event: PanelEvent, nowS: number): void {
    if (event.state === 'listening') this.#turnedAway.begin();
    if (event.state === 'turned-away') this.#turnedAway.take(event.all, event.since, nowS);
    const trouble = troubleOfPanel(event);
    if (trouble !== undefined) this.trouble('panel', trouble.what, nowS);
  }

  /**
   * Something that is wrong until it is reported well again; the status lists it meanwhile. For lasting troubles that
   * have no event.
   * @param key one trouble each; the latest text counts, the first time is kept
   * @param what a sentence without a full stop; undefined: it is well again
   */
  trouble(key: TroubleKey, what: string | undefined, nowS: number): void {
    this.#troubles.tell(key, what, nowS);
  }

  /**
   * Positions are played, and nobody is on stage.
   * @param what a name for it; undefined: it is over
   * @param holdsS it is over by itself when it is not said again for so long; undefined: never
   * @returns whether it is news
   */
  rehearse(what: string | undefined, holdsS: number | undefined, nowS: number): boolean {
    const before = this.#rehearsalAt(nowS);
    const untilS = holdsS === undefined ? Number.POSITIVE_INFINITY : nowS + holdsS;
    const sinceS = before !== undefined && before.what === what ? before.sinceS : nowS;
    this.#rehearsal = what === undefined ? undefined : { what, sinceS, untilS };
    return before?.what !== what;
  }

  #rehearsalAt(nowS: number) {
    const known = this.#rehearsal;
    return known !== undefined && nowS <= known.untilS ? known : undefined;
  }

  /** @returns whether it may have changed what there is to say */
  hear(event: SupervisorEvent, nowS: number): boolean {
    switch (event.kind) {
      case 'stood-still':
        this.#fullSockets.stoodStill(nowS);
        return false;
      case 'engine':
        if (event.event.kind === 'stalled') this.#fullSockets.stoodStill(nowS);
        return this.#hearEngine(event.event, nowS);
      case 'lighting':
        return this.#hearLighting(event.event, nowS);
      case 'desk':
        return this.#desk.hear(event.event, nowS);
      case 'lights':
        this.#lights = { phase: event.to, cause: event.cause, sinceS: nowS };
        if (event.to === 'live') this.#lostBefore.lightIsBack();
        return true;
      case 'engine-started':
        this.#engineBegins(event.pid, nowS);
        this.trouble('engine', undefined, nowS);
        return true;
      case 'engine-ended':
        this.#engineBegins(undefined, nowS);
        this.trouble('engine', `no engine, ${event.reason.replace(/\.$/, '')}`, nowS);
        return true;
      case 'show-stale':
        this.trouble('stale', STALE, nowS);
        return true;
      case 'state-restored':
        this.#stops.restore(event, unixS => unixS - unixOffsetS());
        return false;
      case 'stop-kept':
        this.#stops.hear(event.change, nowS);
        return true;
      case 'state-unsaved':
        this.trouble(
          'state',
          `changes made by people would be lost in a restart: ${event.reason}`,
          nowS,
        );
        return true;
      case 'state-saved':
        this.trouble('state', undefined, nowS);
        return true;
      case 'unkept':
        this.trouble(
          event.what,
          `${KEPT_WORDS[event.what]} can't be saved, ${event.reason}. ${UNKEPT_WORDS[event.what]}`,
          nowS,
        );
        return true;
      case 'kept':
        this.trouble(event.what, undefined, nowS);
        return true;
      case 'reload-refused':
        this.trouble('reload', 'the show file was refused at the last reload', nowS);
        return true;
      case 'reload-stuck':
        this.trouble(
          'reload',
          'the last reload failed, and so did going back: the safe look is out',
          nowS,
        );
        return true;
      case 'reload-unneeded':
        if (event.engineFault !== undefined) return false;
        this.trouble('reload', undefined, nowS);
        this.trouble('stale', undefined, nowS);
        return true;
      case 'reloaded':
        this.trouble('reload', undefined, nowS);
        this.trouble('stale', undefined, nowS);
        return true;
      case 'pair':
        this.trouble(
          'pair',
          event.artnetRefused === true
            ? 'its Art-Net is refused: the standby has the light there until it passes again'
            : undefined,
          nowS,
        );
        return true;
      case 'light-rejoins': {
        if (event.fixtures === 0) return false;
        const which = `${event.universes.length === 1 ? 'universe' : 'universes'} ${event.universes.join(', ')}`;
        const what = `${which}: sent again; what had changed meanwhile fades out, and comes up at its new values`;
        this.trouble('rejoin', what, nowS);
        return true;
      }
      case 'light-rejoined':
        this.trouble('rejoin', undefined, nowS);
        return true;
      case 'other-show': {
        const { machine, shows, address, ended, never } = event;
        this.#otherShows = shows;
        // What is known of it by its light is said by its part.
        const isGone = shows === 'unknown' && machine === 'standby' && ended !== true;
        const isMissed = isGone && this.pair.look(nowS).every(({ other }) => other === undefined);
        const differs = shows === 'differ' ? otherShowInWords(machine, shows, address) : undefined;
        this.trouble('other-show', isMissed ? standbyMissed(address, never) : differs, nowS);
        return true;
      }
      case 'other-tracking': {
        const { machine, silent, address } = event;
        const what = silent ? otherTrackingInWords(machine, silent, address) : undefined;
        this.trouble('other-tracking', what, nowS);
        return true;
      }
      default:
        return false;
    }
  }

  /** Once a second. */
  count(counters: EngineCounters, nowS: number): void {
    const before = this.#counted;
    this.#counted = { counters, atS: nowS };
    // A restarted engine counts from 0.
    if (before === undefined || before.counters.datagrams > counters.datagrams) return;
    const perS = (now: number, then: number) =>
      Math.round((now - then) / Math.max(0.1, nowS - before.atS));
    this.#rates = {
      positionsPerS: perS(counters.positions, before.counters.positions),
      datagramsPerS: perS(counters.datagrams, before.counters.datagrams),
      droppedPerS: perS(sumOf(counters.drops), sumOf(before.counters.drops)),
    };
    this.#refusals.count(counters, before.counters, nowS - before.atS, nowS);
    this.#fullSockets.count(counters, before.counters, nowS);
  }

  get hearsTracking(): boolean {
    return !this.#feed.silent;
  }

  status(nowS: number): Status {
    const iso = (atS: number) => new Date((atS + unixOffsetS()) * 1e3).toISOString();
    const labels = labelsOf(this.show);
    const performers = this.show.performers.map(({ name }): PerformerStatus => {
      const note = this.#noteOf(name);
      const phase = note?.phase ?? 'waiting';
      // Stopped before the engine started: the reason is the stop, not the tracker.
      const stop = this.#stops.of(name);
      const isStopped = stop !== undefined;
      const but = this.#butOf(name, phase);
      const isDoubted = stateOf(phase) === 'lost' && note?.cause === 'confidence-low';
      const doubt = isDoubted && !isStopped ? this.#counted?.counters.doubts?.[name] : undefined;
      return {
        name,
        label: labels.performer(name),
        state: isStopped ? 'stopped' : but === undefined ? stateOf(phase) : 'not heard',
        phase,
        // After a stop it is not known at once what else keeps their light away.
        cause: isStopped
          ? 'operator-stop'
          : note?.cause === 'operator-stop'
            ? undefined
            : note?.cause,
        since: iso(stop?.sinceS ?? but?.sinceS ?? note?.sinceS ?? this.#engine.sinceS),
        ...(isStopped || but === undefined ? {} : { heardBut: but.but }),
        ...(stop?.by === undefined ? {} : { stoppedBy: stop.by }),
        ...(doubt !== undefined && { doubt }),
        ...(this.#trackers.wearsNone(name) ? { wearsNone: true } : {}),
      };
    });
    const { phase, cause, sinceS } = this.#lights;
    const trackers = this.#trackers.status(labels, iso);
    // If everybody who should be heard is heard, trackers that nobody wears don't matter.
    const isMissed =
      trackers.silentTrackers.length > 0 ||
      performers.some(one => one.state === 'lost' || one.state === 'not heard');
    const refused = isMissed ? this.#refusals.all : this.#refusals.ofStrangers;
    const rehearsal = this.#rehearsalAt(nowS);
    const pair = pairStatus(this.pair.standby, this.pair.look(nowS), iso, this.#otherShows);
    const wasTracked = performers.some(({ state }) => state !== 'not heard');
    const silentSince = this.#feed.silent && wasTracked ? iso(this.#feed.sinceS) : undefined;
    const stopped = performers.flatMap(one => (one.state === 'stopped' ? [one.label] : []));
    const ofPair =
      pair === undefined
        ? []
        : [
            ...pairTroubles(pair, silentSince, stopped, this.show.operator),
            ...stopsOfStandby(
              pair,
              performers.filter(({ name }) => this.#stops.isOwn(name)),
            ),
          ];
    const off = new Set(performers.flatMap((one, p) => (one.phase === 'off' ? [p] : [])));
    const safeLight = safeLightOf(
      this.show,
      this.cue.index,
      off,
      this.#stops.everybody,
      this.sent(),
    );
    const outputs = this.show.outputs.map(output => ({
      name: output.name,
      protocol: output.protocol,
      interface: output.interface,
      universes: output.universes.map(({ onWire }) => onWire),
      ...this.#outputs.troubleOf(output, iso),
    }));
    const shown = fixtureNames(this.show).find(({ name }) => name === this.#highlighted);
    const highlighted = shown?.fixtures.map(index => this.show.fixtures[index]?.label ?? '') ?? [];
    return {
      show: this.show.name,
      light:
        shownInstead(outputs, pair) ??
        lightOf(phase, performers, safeLight.isWhole, this.#highlighted !== undefined),
      // What is highlighted is told apart.
      leftAlone: safeLight.leftAlone.filter(label => !highlighted.includes(label)),
      highlighted:
        this.#highlighted === undefined
          ? undefined
          : labelsOf(this.show).fixture(this.#highlighted),
      cue: this.cue.status(this.show, iso),
      rehearsal: rehearsal && { what: rehearsal.what, since: iso(rehearsal.sinceS) },
      pair,
      supervisor: { phase, cause, since: iso(sinceS) },
      engine: { pid: this.#engine.pid, since: iso(this.#engine.sinceS) },
      performers,
      heads: this.#heads.status(this.show, labels, iso),
      stops: this.#stops.status(labels),
      hazardsOn: [...this.#enabled.values()].map(one => outputsInWords([one], labels.fixture)),
      feed: { silent: this.#feed.silent, since: iso(this.#feed.sinceS), ...this.#ratesNow(nowS) },
      deskLostSince: this.#deskLostSinceS === undefined ? undefined : iso(this.#deskLostSinceS),
      ...trackers,
      desk: this.#desk.status(this.show, iso),
      outputs,
      notSent: this.#notSent(iso),
      delays: this.delays.told,
      outputsElsewhere: (this.show.share?.others ?? []).map(({ name }) => name),
      turnedAway: this.#turnedAway.status(nowS),
      positions: this.show.positions.map(one => this.#positionsTo(one)),
      troubles: [
        ...[
          ...refused,
          ...this.#fullSockets.troubles(nowS),
          ...this.#troubles.all,
          ...this.#outputs.partlyFailing(this.show),
          ...this.#silentNodes.troubles(this.show.outputs),
        ].map(one => ({ what: one.what, since: iso(one.sinceS) })),
        ...ofPair,
        ...stopsElsewhere(this.show, performers, this.#stops.everybody),
      ],
    };
  }

  /** What is known of them; from the engine before, if this one has not followed them yet. */
  #noteOf(performer: string): PerformerNote | undefined {
    const note = this.#performers.get(performer);
    const before = this.#lostBefore.of(performer);
    if (before === undefined || (note !== undefined && note.phase !== 'waiting')) return note;
    const but = this.#heardBut.get(performer)?.but;
    const butCause = CONDITIONS.find(one => one === but);
    const silent = this.#feed.silent ? 'feed-silent' : undefined;
    const cause: Condition | undefined = note?.cause ?? butCause ?? before.cause ?? silent;
    return { phase: 'safe', cause, sinceS: before.sinceS };
  }

  /** Nobody knows whose positions are refused unread: if nobody is heard, assume everybody's. */
  #butOf(
    performer: string,
    phase: Phase,
  ): { readonly but: HeardBut; readonly sinceS: number } | undefined {
    const known = this.#heardBut.get(performer);
    if (known !== undefined && this.#lostBefore.of(performer) === undefined) return known;
    if (phase !== 'waiting') return undefined;
    const [refused] = this.#feed.silent ? this.#refusals.all : [];
    return refused && { but: 'refused', sinceS: refused.sinceS };
  }

  /** Fixtures none of whose outputs sends; of an output of another machine nothing is known here. */
  #notSent(iso: (atS: number) => string): string[] {
    const sent = new Set<number>();
    const held = new Set<number>();
    for (const output of this.show.outputs) {
      const isDown = this.#outputs.troubleOf(output, iso).trouble !== undefined;
      for (const { index } of output.universes) (isDown ? held : sent).add(index);
    }
    if (held.size === 0) return [];
    return this.show.fixtures.flatMap(({ name, universe }) =>
      held.has(universe) && !sent.has(universe) ? [name] : [],
    );
  }

  /** An engine that has gone counts nothing. */
  #ratesNow(nowS: number) {
    const counted = this.#counted;
    return counted === undefined || nowS - counted.atS > 3
      ? { positionsPerS: 0, datagramsPerS: 0, droppedPerS: 0 }
      : this.#rates;
  }

  #positionsTo({ name, protocol, receiver, rateHz, aheadS }: PositionsPlan): PositionsStatus {
    const at = this.show.receivers.find(one => one.name === receiver);
    const to = at === undefined ? '' : `${at.address}:${at.port}`;
    const trouble = this.#troubles.of(`receiver ${receiver}`)?.what;
    return { name, protocol, receiver, to, rateHz, aheadS, trouble };
  }

  /** A new engine knows nobody yet, and tells anew what is wrong. */
  #engineBegins(pid: number | undefined, nowS: number): void {
    this.#engine = { pid, sinceS: nowS };
    this.#lostBefore.engineEnds(this.#performers, nowS);
    this.#performers = new Map();
    this.#heardBut.clear();
    this.#counted = undefined;
    this.#refusals.forget();
    this.#feed = { silent: false, sinceS: nowS };
    // While there is none, those hold that the next one is told.
    if (pid !== undefined) this.#stops.engineBegins();
    this.#deskLostSinceS = undefined;
    this.trouble('battery-unit', undefined, nowS);
    this.#troubles.delete('highlight');
    this.#highlighted = undefined;
    this.#troubles.keepOf('mapping', NONE);
    this.#troubles.keepOf('signal', NONE);
    this.#troubles.keepOf('enable', NONE);
    this.#enabled.clear();
    this.#trackers.engineBegins(this.show);
    this.#heads.engineBegins(nowS);
  }

  #hearEnable(event: Extract<EngineNews, { kind: 'enable' }>, nowS: number): void {
    const label = labelsOf(this.show).fixture;
    for (const output of event.outputs) {
      const key = `${output.fixture} ${output.hazard}`;
      this.#enabled.delete(key);
      if (event.gate === 'on') this.#enabled.set(key, output);
      // Somebody holds it down, and nothing comes.
      const isHeld = event.gate === 'latched-off';
      const what = isHeld ? enableInWords({ ...event, outputs: [output] }, label) : undefined;
      this.trouble(`enable ${key}`, what, nowS);
    }
  }

  #hearEngine(event: EngineNews, nowS: number): boolean {
    switch (event.kind) {
      case 'mapping': {
        const { mapping, off } = event;
        this.trouble(`mapping ${mapping}`, off ? `mapping ${mapping} is off` : undefined, nowS);
        return true;
      }
      case 'enable':
        this.#hearEnable(event, nowS);
        return true;
      case 'signal':
        this.trouble(`signal ${event.signal}`, silentSignalInWords(event), nowS);
        return true;
      case 'highlight': {
        const fixture = labelsOf(this.show).fixture(event.fixture);
        this.#highlighted = event.on ? event.fixture : undefined;
        this.trouble('highlight', event.on ? `${fixture} is highlighted` : undefined, nowS);
        return true;
      }
      case 'performer': {
        const before = this.#performers.get(event.performer);
        // Safe follows losing, and live follows returning: each is one happening, not two.
        const goesOn =
          before !== undefined &&
          stateOf(before.phase) === stateOf(event.to) &&
          event.to !== 'live';
        // A cause hidden by a stop shows after it: a silence has lasted since their last report.
        const isTold = before !== undefined && event.from === event.to;
        const isSilence = event.cause === 'tracker-silent' || event.cause === 'feed-silent';
        const toldS = nowS - (isSilence && event.silentForS < Infinity ? event.silentForS : 0);
        const isOther =
          isTold && (before.cause === 'operator-stop' || before.cause === 'desk-lost');
        const sinceS = isOther ? toldS : goesOn ? before.sinceS : nowS;
        this.#performers.set(event.performer, { phase: event.to, cause: event.cause, sinceS });
        this.#lostBefore.hear(event.performer, event.to);
        return true;
      }
      case 'heard-but':
        if (event.but === undefined) this.#heardBut.delete(event.performer);
        else this.#heardBut.set(event.performer, { but: event.but, sinceS: nowS });
        return true;
      case 'feed':
        this.#feed = { silent: event.silent, sinceS: nowS };
        return true;
      case 'stopped':
      case 'resumed':
        this.#stops.hear(event, nowS);
        return true;
      case 'desk':
        this.#deskLostSinceS = event.lost ? nowS : undefined;
        return true;
      case 'battery-unit':
        this.trouble(event.kind, batteryUnitInWords(event, labelsOf(this.show).performer), nowS);
        return true;
      case 'recording':
        this.trouble('recording', event.state === 'well' ? undefined : event.message, nowS);
        return true;
      case 'input-fault':
        this.trouble(inputOf(event.message), event.message, nowS);
        return true;
      case 'input-back':
        this.trouble(inputOf(event.message), undefined, nowS);
        return true;
      default:
        return this.#heads.hear(event, nowS) || this.#trackers.hear(event, nowS);
    }
  }

  #hearLighting(event: LightingEvent, nowS: number): boolean {
    if (this.#outputs.hear(event, nowS) || this.#silentNodes.hear(event, nowS)) return true;
    switch (event.kind) {
      case 'errand-failed':
        this.trouble(
          `errand ${event.errand} ${event.interface}`,
          `${event.errand} can't be sent from ${event.interface}, ${sendFaultInWords(event.reason)}. ${ERRAND_WORDS[event.errand]}`,
          nowS,
        );
        return true;
      case 'errand-sent':
        this.trouble(`errand ${event.errand} ${event.interface}`, undefined, nowS);
        return true;
      case 'sends-ended':
        for (const errand of event.errands) {
          this.trouble(`errand ${errand} ${event.interface}`, undefined, nowS);
        }
        return true;
      case 'other-source':
        if (!event.conflict) return event.partner !== undefined;
        this.trouble(
          sourceOf(event),
          `"${event.name}" at ${event.address} sends on our universes`,
          nowS,
        );
        return true;
      case 'nodes-unsteady':
        this.trouble('nodes', 'Art-Net nodes come and go: a loose cable, or forged answers', nowS);
        return true;
      case 'nodes-steady':
        this.trouble('nodes', undefined, nowS);
        return true;
      case 'interfaces-unread':
        this.trouble('interfaces', `interfaces can't be listed, ${event.reason}`, nowS);
        return true;
      case 'interfaces-read':
        this.trouble('interfaces', undefined, nowS);
        return true;
      case 'other-source-gone':
        this.trouble(sourceOf(event), undefined, nowS);
        return true;
      default:
        return false;
    }
  }
}

function sumOf(drops: Readonly<Record<string, number>>): number {
  let sum = 0;
  for (const reason in drops) sum += drops[reason] ?? 0;
  return sum;
}
