import type { PacketOf } from './delivery.js';
import type { Errand, LightingEvent } from './events.js';

/** Once something has failed, failures are evaluated this often, seconds. */
const LOOK_S = 1;
/** Failures that go on are reported again this often, with the count, seconds ... */
const STILL_S = 60;
/** ... and this often if some packets leave now and none did before, or the other way round. */
const CHANGED_S = 10;
/** It is over when packets leave and none has failed for this long, seconds. */
const OVER_S = 3;
/** If nothing left before, this long is enough, as its levels are there again ... */
const OVER_SOON_S = 0.9;
/** ... unless it has failed again within this time after it was over. */
const RELAPSE_S = 30;
/** A new reason is reported at once, for this many reasons. */
const MOST_REASONS = 8;

/** Failures of one output, from the first until it is over. */
interface Episode {
  readonly sinceS: number;
  lastS: number;
  /** Since then packets have left, and none has failed; NaN: not yet. */
  againS: number;
  /** It failed not long ago. */
  readonly isRelapse: boolean;
  toldS: number;
  lookDueS: number;
  count: number;
  untold: number;
  /** Whether nothing left, as last reported, and at the evaluation before. */
  toldDown: boolean;
  wasDown: boolean;
  readonly reasons: Set<string>;
}

/** What has happened since the last evaluation. */
interface Tally {
  reason: string;
  count: number;
  sent: number;
  /** The same at the beat before. */
  countBefore: number;
  sentBefore: number;
  /** When the last episode was over. */
  overS: number;
  episode: Episode | undefined;
}

/** Failed sends of one interface: reported for each output by its levels, and separately for packets without levels. */
export class SendFailures {
  readonly #outputs = new Map<string, Tally>();
  readonly #errands = new Set<Errand>();

  constructor(
    private readonly name: string,
    private readonly onEvent: (event: LightingEvent) => void,
  ) {}

  failed(of: PacketOf, reason: string, count: number): void {
    const { name } = this;
    if ('errand' in of) {
      const { errand } = of;
      if (this.#errands.has(errand)) return;
      this.#errands.add(errand);
      this.onEvent({ kind: 'errand-failed', interface: name, errand, reason });
      return;
    }
    const tally = this.#tallyOf(of.output);
    tally.reason = reason;
    tally.count += count;
  }

  sent(of: PacketOf): void {
    if ('errand' in of) {
      const { errand } = of;
      if (!this.#errands.delete(errand)) return;
      this.onEvent({ kind: 'errand-sent', interface: this.name, errand });
      return;
    }
    this.#tallyOf(of.output).sent += 1;
  }

  /** Once a beat. */
  report(nowS: number): void {
    for (const [output, tally] of this.#outputs) {
      const { episode } = tally;
      if (episode !== undefined) {
        this.#follow(tally, episode, nowS);
        if (isOver(episode, nowS)) {
          const { count, sinceS, againS } = episode;
          const event = { interface: this.name, output, count: count + tally.count };
          this.onEvent({ kind: 'sent-again', ...event, forS: againS - sinceS });
          tally.episode = undefined;
          tally.overS = nowS;
          tally.count = 0;
        } else if (nowS < episode.lookDueS) continue;
      }
      if (tally.count > 0) this.#note(output, tally, nowS);
      // What left before the first failure says nothing about it.
      tally.count = 0;
      tally.sent = 0;
      tally.countBefore = 0;
      tally.sentBefore = 0;
    }
  }

  /** Nothing is sent from here any more. Whoever sends from now on reports what still fails. */
  end(nowS: number): void {
    const outputs = [...this.#outputs].flatMap(([output, { count, episode }]) => {
      const whole = (episode?.count ?? 0) + count;
      const forS = nowS - (episode?.sinceS ?? nowS);
      return whole === 0 ? [] : [{ output, count: whole, forS }];
    });
    const errands = [...this.#errands];
    this.#outputs.clear();
    this.#errands.clear();
    if (outputs.length === 0 && errands.length === 0) return;
    this.onEvent({ kind: 'sends-ended', interface: this.name, outputs, errands });
  }

  #follow(tally: Tally, episode: Episode, nowS: number): void {
    const { count, sent, countBefore, sentBefore } = tally;
    if (count > countBefore) {
      episode.lastS = nowS;
      episode.againS = Number.NaN;
    } else if (sent > sentBefore && Number.isNaN(episode.againS)) episode.againS = nowS;
    tally.countBefore = count;
    tally.sentBefore = sent;
  }

  #note(output: string, tally: Tally, nowS: number): void {
    const { reason, count, sent } = tally;
    const isDown = sent === 0;
    const began = tally.episode === undefined;
    tally.episode ??= {
      sinceS: nowS,
      lastS: nowS,
      againS: Number.NaN,
      isRelapse: nowS - tally.overS < RELAPSE_S,
      toldS: Number.NEGATIVE_INFINITY,
      lookDueS: nowS,
      count: 0,
      untold: 0,
      toldDown: isDown,
      wasDown: isDown,
      reasons: new Set(),
    };
    const { episode } = tally;
    episode.lookDueS = nowS + LOOK_S;
    episode.count += count;
    episode.untold += count;
    const { reasons, untold, toldS } = episode;
    const isNew = !reasons.has(reason) && reasons.size < MOST_REASONS;
    // In the second in which it begins or ends some leave and some don't.
    const hasChanged = isDown !== episode.toldDown && isDown === episode.wasDown;
    episode.wasDown = isDown;
    const everyS = hasChanged ? CHANGED_S : STILL_S;
    if (!isNew && nowS - toldS < everyS) return;
    reasons.add(reason);
    episode.toldS = nowS;
    episode.untold = 0;
    episode.toldDown = isDown;
    const event = { interface: this.name, output, reason, count: untold, sent };
    const first = began ? { began } : {};
    this.onEvent({ kind: 'send-failed', ...event, ...first });
  }

  #tallyOf(output: string): Tally {
    let tally = this.#outputs.get(output);
    if (tally === undefined) {
      tally = {
        ...{ reason: '', count: 0, sent: 0, countBefore: 0, sentBefore: 0 },
        ...{ overS: Number.NEGATIVE_INFINITY, episode: undefined },
      };
      this.#outputs.set(output, tally);
    }
    return tally;
  }
}

function isOver({ againS, lastS, toldDown, isRelapse }: Episode, nowS: number): boolean {
  if (Number.isNaN(againS)) return false;
  return nowS - lastS >= (toldDown && !isRelapse ? OVER_SOON_S : OVER_S);
}
