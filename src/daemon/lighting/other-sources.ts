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

  /** It has said that it ends. */
  end(source: Pick<HeardSource, 'protocol' | 'identity' | 'address'>): void {
    this.#forget(`${source.protocol} ${source.identity} ${source.address}`);
  }

  /** Tells of those that are new, and of those that have gone. */
  look(nowS: number): void {
    let more = 0;
    for (const [key, entry] of this.#entries) {
      if (nowS - entry.lastS > this.goneAfterS) {
        this.#forget(key);
      } else if (!entry.told && isThere(entry, nowS)) {
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

  #forget(key: string): void {
    const entry = this.#entries.get(key);
    if (entry === undefined) return;
    this.#entries.delete(key);
    if (!entry.counted) return;
    this.#told -= 1;
    const { protocol, name, address, partner } = entry.first;
    this.onEvent({ kind: 'other-source-gone', protocol, name, address, partner });
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
