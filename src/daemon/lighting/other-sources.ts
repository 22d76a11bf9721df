import type { LightingEvent, PairMachine, Taken } from './events.js';

/** One packet of somebody else, on a universe of ours. */
export interface HeardSource {
  readonly protocol: 'sacn' | 'artnet';
  /** The CID in hexadecimal, or the address for Art-Net. */
  readonly identity: string;
  readonly universe: number;
  readonly name: string;
  readonly address: string;
  readonly priority: number | undefined;
  /** What we send it with just now. */
  readonly ourPriority: number | undefined;
  /** False: ours is held back, as Art-Net of a machine that is not wanted is. */
  readonly weSend: boolean;
  readonly sameIdentity: boolean;
  /** The other machine of our pair, and which of the two it is: told of, but as it should be. */
  readonly partner: PairMachine | undefined;
  /** And its show has another name than ours. */
  readonly otherShow: boolean;
}

interface Entry {
  first: HeardSource;
  last: HeardSource;
  readonly universes: Set<number>;
  /** Of them, those that it has said it ends, and when it said so last. */
  readonly ended: Set<number>;
  endedS: number;
  readonly sinceS: number;
  /** When it was last taken down by its name. */
  namedS: number;
  lastS: number;
  priority: number | undefined;
  conflict: boolean;
  told: boolean;
  /** Told of before: it is among the few that are. */
  counted: boolean;
}

/** Far more than a network that works has; bounds what forged packets can fill. */
const MOST_SOURCES = 64;
/** So many are told of one by one; of more there is the number. Harmless ones leave room for those in conflict. */
const MOST_TOLD = 16;
const MOST_HARMLESS_TOLD = 8;
/** And that no more often, seconds. */
const NUMBER_EVERY_S = 10;
/** Universes named in one event. */
const MOST_UNIVERSES = 512;
/** So long are the universes of a source gathered before it is told of: unchanged ones come each second. */
const GATHER_S = 1.5;
/** And so long has it been there: a packet of our own from before a socket was opened anew is nobody. */
const STAYS_S = 0.5;
/** A source that ends says so of all its universes within this time, three times of each (E1.31 6.2.6). */
const ENDS_WITHIN_S = 0.5;
/** What goes on is heard again within this time (E1.31 6.6.2). */
const HEARD_WITHIN_S = 1.1;
/** A forged name that changes with each packet makes no flood of the log. */
const RENAMED_AFTER_S = 5;

/** Who else sends on our universes: two desks, a second daemon by mistake, or the standby. */
export class OtherSources {
  readonly #entries = new Map<string, Entry>();
  /** Packets of sources beyond the {@link MOST_SOURCES} that are kept. */
  refused = 0;

  /** @param goneAfterS silent for so long, and it is gone */
  #told = 0;
  #numberDueS = Number.NEGATIVE_INFINITY;
  #lastNumber = 0;

  constructor(
    private readonly goneAfterS: number,
    private readonly onEvent: (event: LightingEvent) => void,
  ) {}

  hear(source: HeardSource, nowS: number): void {
    const key = `${source.protocol} ${source.identity} ${source.address}`;
    let entry = this.#entries.get(key);
    if (entry === undefined) {
      if (this.#entries.size >= MOST_SOURCES) {
        this.refused += 1;
        return;
      }
      entry = {
        first: source,
        last: source,
        universes: new Set(),
        ended: new Set(),
        endedS: nowS,
        sinceS: nowS,
        namedS: nowS,
        lastS: nowS,
        priority: source.priority,
        conflict: false,
        told: false,
        counted: false,
      };
      this.#entries.set(key, entry);
    }
    entry.lastS = nowS;
    entry.last = source;
    if (entry.universes.size < MOST_UNIVERSES) entry.universes.add(source.universe);
    entry.ended.delete(source.universe);
    // The priority of the other machine of a pair goes up and down with its part.
    entry.priority =
      source.partner === undefined ? higher(entry.priority, source.priority) : source.priority;
    if (isRenamed(entry.first, source) && nowS - entry.namedS >= RENAMED_AFTER_S) {
      entry.first = source;
      entry.namedS = nowS;
      entry.told = false;
    }
    const wins = takenOf(source, source.priority) !== 'ours';
    if (source.partner === undefined && (wins || source.sameIdentity) && !entry.conflict) {
      entry.conflict = true;
      // It was harmless until now.
      entry.told = false;
    }
  }

  /** It has said that it ends one of its universes: the others may end with it, or go on. */
  end(
    source: Pick<HeardSource, 'protocol' | 'identity' | 'address' | 'universe'>,
    nowS: number,
  ): void {
    const key = `${source.protocol} ${source.identity} ${source.address}`;
    const entry = this.#entries.get(key);
    if (entry === undefined || !entry.universes.has(source.universe)) return;
    entry.ended.add(source.universe);
    entry.endedS = nowS;
  }

  /** Tells of those that are new, and of those that have gone. */
  look(nowS: number): void {
    let more = 0;
    for (const [key, entry] of this.#entries) {
      const isPartEnded = entry.ended.size > 0 && nowS - entry.endedS >= ENDS_WITHIN_S;
      if (this.#isGone(entry, nowS)) {
        this.#lose(key, entry, nowS);
      } else if (isPartEnded && entry.ended.size < entry.universes.size) {
        for (const universe of entry.ended) entry.universes.delete(universe);
        this.#tellEnd(entry, [...entry.ended]);
        entry.ended.clear();
      } else if (!entry.told && entry.ended.size === 0 && isThere(entry, nowS)) {
        const most = entry.conflict ? MOST_TOLD : MOST_HARMLESS_TOLD;
        if (!entry.counted && this.#told >= most) {
          more += 1;
          continue;
        }
        if (!entry.counted) this.#told += 1;
        entry.counted = true;
        entry.told = true;
        const { protocol, name, address, sameIdentity, otherShow } = entry.first;
        this.onEvent({
          kind: 'other-source',
          protocol,
          universes: [...entry.universes].sort((a, b) => a - b),
          name,
          address,
          priority: entry.priority,
          ourPriority: entry.last.ourPriority,
          taken: takenOf(entry.last, entry.priority),
          conflict: entry.conflict,
          sameIdentity,
          partner: entry.last.partner,
          otherShow,
        });
      }
    }
    if (more <= this.#lastNumber || nowS < this.#numberDueS) {
      if (more === 0) this.#lastNumber = 0;
      return;
    }
    this.#lastNumber = more;
    this.#numberDueS = nowS + NUMBER_EVERY_S;
    this.onEvent({ kind: 'more-sources', more });
  }

  #isGone({ lastS, ended, endedS, universes }: Entry, nowS: number): boolean {
    if (nowS - lastS > this.goneAfterS) return true;
    return ended.size === universes.size && nowS - endedS >= ENDS_WITHIN_S;
  }

  /** The other machine of a pair may send by the other protocol too: with that it is gone, or goes on. */
  #lose(key: string, entry: Entry, nowS: number): void {
    const { partner, address } = entry.first;
    const others = [...this.#entries].filter(
      ([otherKey, { first }]) =>
        partner !== undefined &&
        otherKey !== key &&
        first.partner === partner &&
        first.address === address,
    );
    const endS = Math.max(entry.lastS, entry.ended.size > 0 ? entry.endedS : 0) + STAYS_S;
    const isThereStill = ([, other]: [string, Entry]) => !this.#isGone(other, nowS);
    // All that it sends it sends once a second: until then nobody knows whether it goes on.
    const goesOn = others.some(
      ([, other]) => other.lastS > endS && nowS - other.lastS <= HEARD_WITHIN_S,
    );
    if (!goesOn && others.some(isThereStill)) return;
    this.#forget(key, entry);
    if (goesOn) {
      this.#tellEnd(entry, [...entry.universes]);
      return;
    }
    for (const [otherKey, other] of others) this.#forget(otherKey, other);
    const counted = [entry, ...others.map(([, other]) => other)].find(one => one.counted);
    if (counted !== undefined) this.#tellEnd(counted);
  }

  #forget(key: string, entry: Entry): void {
    this.#entries.delete(key);
    if (entry.counted) this.#told -= 1;
  }

  /** @param universes that have ended, while others go on; undefined: all have */
  #tellEnd({ first, counted }: Entry, universes?: number[]): void {
    if (!counted) return;
    const { protocol, name, address, partner } = first;
    const ended = universes === undefined ? {} : { universes: universes.sort((a, b) => a - b) };
    this.onEvent({ kind: 'other-source-gone', protocol, name, address, partner, ...ended });
  }
}

/** The show has another name on one machine of a pair, or no longer. */
function isRenamed(before: HeardSource, now: HeardSource): boolean {
  if (now.name === before.name) return now.otherShow && !before.otherShow;
  return now.otherShow || before.otherShow;
}

function isThere({ sinceS, lastS }: Entry, nowS: number): boolean {
  return nowS - sinceS >= GATHER_S && lastS - sinceS >= STAYS_S;
}

/** @param priority of theirs */
function takenOf({ ourPriority, weSend }: HeardSource, priority: number | undefined): Taken {
  if (!weSend) return 'theirs';
  if (priority === undefined || ourPriority === undefined || priority === ourPriority) {
    return 'both';
  }
  return priority > ourPriority ? 'theirs' : 'ours';
}

function higher(a: number | undefined, b: number | undefined): number | undefined {
  return a === undefined || b === undefined ? (a ?? b) : Math.max(a, b);
}
