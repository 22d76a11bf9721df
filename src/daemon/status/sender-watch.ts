import type { TrackerFeed } from '../../engine/values/counters.js';
import { enumerated } from '../../stage/enumerated.js';

/** A feed is live for so many looks after it has grown: slow ones don't grow in each. */
const LIVE_LOOKS = 3;
/** One that makes room for another is live beside it for {@link LIVE_LOOKS}; two that go on are two. */
const SURE_LOOKS = 6;
/** Two that both send in so many looks in a row are no restart, in which the one ends as the other begins. */
const TOGETHER_LOOKS = 3;
const COUNTED: Readonly<Record<number, string>> = { 2: 'two', 3: 'three', 4: 'four' };
/** Trackers that are named. */
const MOST_NAMED = 6;

interface Counted {
  readonly feed: TrackerFeed;
  /** undefined: all ports of the sender. */
  readonly port: number | undefined;
  readonly positions: number;
}

interface Doubled {
  /** For how many looks there have been two. */
  readonly looks: number;
  /** In how many of the last ones, in a row, both have sent something. */
  readonly together: number;
}

interface Watched extends Counted {
  readonly perS: number;
  readonly quietLooks: number;
}

/** Trackers whose positions two send at a time: a scene that is played beside the live feed, a number given twice, or a program that runs twice. */
export class SenderWatch {
  #watched = new Map<string, Watched>();
  /** By tracker. */
  #doubled = new Map<string, Doubled>();
  #lookedS = Number.NaN;

  /**
   * @param feeds as the engine has counted them, about once a second
   * @returns what is wrong, a sentence without a full stop; undefined: nothing
   */
  look(feeds: readonly TrackerFeed[], nowS: number): string | undefined {
    const passedS = Math.max(0.1, nowS - this.#lookedS);
    this.#lookedS = nowS;
    const before = this.#watched;
    const watched = new Map<string, Watched>();
    const liveOf = (feed: TrackerFeed, kind: string, positions = feed.positions, port?: number) => {
      const key = `${feed.tracker}\n${feed.input}\n${feed.from}\n${kind}`;
      const one = watchedAgain(before.get(key), { feed, port, positions }, passedS);
      watched.set(key, one);
      return one.quietLooks < LIVE_LOOKS ? [one] : [];
    };
    const live = new Map<string, Watched[]>();
    for (const feed of feeds) {
      const { tracker, ports = [], apart = 0 } = feed;
      const whole = liveOf(feed, '');
      const byPort = [...ports]
        .sort((a, b) => a.port - b.port)
        .flatMap(one => liveOf(feed, `${one.port}`, one.positions, one.port));
      // One program may send from several ports; two that mean the same place do no harm.
      const areApart = liveOf(feed, 'apart', apart).length > 0 && byPort.length > 1;
      live.set(tracker, [...(live.get(tracker) ?? []), ...(areApart ? byPort : whole)]);
    }
    this.#watched = watched;
    const doubled = [...live].filter(([, senders]) => senders.length > 1);
    this.#doubled = new Map(
      doubled.map(([tracker, senders]) => [
        tracker,
        doubledAgain(this.#doubled.get(tracker), senders),
      ]),
    );
    return inWords(doubled.filter(([tracker]) => isSure(this.#doubled.get(tracker))));
  }
}

/** Once it is sure it stays so for as long as there are two. */
function doubledAgain(
  { looks, together }: Doubled = { looks: 0, together: 0 },
  senders: readonly Watched[],
): Doubled {
  const send = senders.filter(({ quietLooks }) => quietLooks === 0).length > 1 ? together + 1 : 0;
  return {
    looks: send >= TOGETHER_LOOKS ? Math.max(SURE_LOOKS, looks + 1) : looks + 1,
    together: send,
  };
}

function isSure(doubled: Doubled | undefined): boolean {
  return doubled !== undefined && doubled.looks >= SURE_LOOKS;
}

function watchedAgain(before: Watched | undefined, now: Counted, passedS: number): Watched {
  const { positions } = now;
  const grew = positions - (before?.positions ?? 0);
  // First seen, or of an engine that counts from 0: nobody knows since when.
  if (before === undefined || grew < 0) return { ...now, perS: 0, quietLooks: LIVE_LOOKS };
  if (grew === 0) return { ...before, ...now, quietLooks: before.quietLooks + 1 };
  return { ...now, perS: grew / passedS, quietLooks: 0 };
}

/** Trackers with the same senders are one sentence. */
function inWords(doubled: readonly (readonly [string, readonly Watched[]])[]): string | undefined {
  const groups = new Map<string, { trackers: string[]; perS: number[] }>();
  for (const [tracker, senders] of doubled) {
    const key = senders
      .map(({ feed, port }) => {
        const by = port === undefined ? '' : ` port ${port}`;
        return `${feed.from ?? 'somebody'}${by} (input ${feed.input},`;
      })
      .join('\n');
    const group = groups.get(key) ?? { trackers: [], perS: senders.map(() => 0) };
    group.trackers.push(tracker);
    group.perS = group.perS.map((sum, i) => sum + (senders[i]?.perS ?? 0));
    groups.set(key, group);
  }
  const all = [...groups].map(([key, { trackers, perS }]) => {
    const named = trackers.slice(0, MOST_NAMED);
    const more = trackers.length - named.length;
    const which = enumerated([...named, ...(more > 0 ? [`${more} more`] : [])]);
    const senders = key.split('\n').map((sender, i) => {
      return `${sender} ${Math.round((perS[i] ?? 0) / trackers.length)} a second)`;
    });
    const are = trackers.length > 1 ? `trackers ${which} are` : `tracker ${which} is`;
    return `${are} sent by ${COUNTED[senders.length] ?? 'several'} at once: ${enumerated(senders)}`;
  });
  return all.length === 0 ? undefined : all.join('; ');
}
