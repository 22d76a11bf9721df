import type { PollReply } from '../../protocols/artnet/poll-reply.js';
import type { LightingEvent } from './events.js';

/** A token bucket for reports: full at first, and refilled bit by bit. */
interface Bucket {
  left: number;
  atS: number;
}
interface BucketOptions {
  readonly most: number;
  readonly everyS: number;
}

/** Of one node: it comes, goes and comes again without much ado; then once a minute. */
const OF_A_NODE: BucketOptions = { most: 4, everyS: 60 };
/** Of all: a large house at its start; then one in ten seconds. */
const OF_ALL: BucketOptions = { most: 128, everyS: 10 };
/** What was not told one by one is told in numbers, so often, seconds. */
const NUMBERS_EVERY_S = 60;
/** And the first time so soon. */
const FIRST_NUMBERS_S = 5;
/** Nodes of which it is known what was told of them; more are only counted. */
const MOST_KNOWN = 2048;

interface Entry {
  readonly ip: string;
  name: string;
  portAddresses: readonly number[];
  readonly isOurs: boolean;
  isHere: boolean;
  toldHere: boolean;
  readonly bucket: Bucket;
}

/**
 * Which nodes come and go, without a flood: a loose cable, or forged replies, make some lines and a count. The last
 * report on a node is brought up to date as soon as the bucket allows.
 */
export class NodeNews {
  readonly #entries = new Map<string, Entry>();
  /** Those that are not there, the one first that left first. */
  readonly #gone = new Map<string, Entry>();
  /** Those of which something else was told last than what is so. */
  readonly #due = new Set<Entry>();
  readonly #bucket: Bucket = { left: OF_ALL.most, atS: Number.NEGATIVE_INFINITY };
  #came = 0;
  #went = 0;
  #numbersDueS: number | undefined;
  #isUnsteady = false;
  /** Changes that were not told of one by one, since the start. */
  untold = 0;

  /** @param isOurs whether an output lists the address: of such a node is told whatever others do */
  constructor(
    private readonly isOurs: (ip: string) => boolean,
    private readonly onEvent: (event: LightingEvent) => void,
  ) {}

  came(reply: PollReply, nowS: number): void {
    const entry = this.#entryOf(reply, nowS);
    if (entry === undefined) this.#count(true, nowS);
    else this.#change(entry, reply, true, nowS);
  }

  went(reply: PollReply, nowS: number): void {
    const entry = this.#entries.get(keyOf(reply));
    if (entry === undefined) this.#count(false, nowS);
    else this.#change(entry, reply, false, nowS);
  }

  /** Several times a second. */
  look(nowS: number): void {
    for (const entry of this.#due) {
      if (entry.isHere === entry.toldHere) this.#due.delete(entry);
      else if (this.#mayTell(entry, nowS)) this.#tell(entry);
    }
    const dueS = this.#numbersDueS;
    if (dueS === undefined || nowS < dueS) return;
    const [came, went] = [this.#came, this.#went];
    this.#came = 0;
    this.#went = 0;
    const isSteady = came + went === 0;
    this.#numbersDueS = isSteady ? undefined : nowS + NUMBERS_EVERY_S;
    if (!isSteady) {
      this.#isUnsteady = true;
      this.onEvent({ kind: 'nodes-unsteady', came, went });
    } else if (this.#isUnsteady) {
      this.#isUnsteady = false;
      this.onEvent({ kind: 'nodes-steady' });
    }
  }

  #change(entry: Entry, reply: PollReply, isHere: boolean, nowS: number): void {
    if (isHere) this.#gone.delete(keyOf(reply));
    else this.#gone.set(keyOf(reply), entry);
    entry.name = reply.shortName;
    entry.portAddresses = reply.outputs;
    entry.isHere = isHere;
    if (isHere !== entry.toldHere && this.#mayTell(entry, nowS)) {
      this.#tell(entry);
      return;
    }
    this.#count(isHere, nowS);
    this.#due.add(entry);
  }

  #tell(entry: Entry): void {
    const { ip, name, isHere, portAddresses } = entry;
    entry.toldHere = isHere;
    this.#due.delete(entry);
    if (isHere) this.onEvent({ kind: 'node-found', ip, name, portAddresses });
    else this.onEvent({ kind: 'node-gone', ip, name });
  }

  #mayTell({ bucket, isOurs }: Entry, nowS: number): boolean {
    fill(bucket, OF_A_NODE, nowS);
    fill(this.#bucket, OF_ALL, nowS);
    if (bucket.left < 1 || (!isOurs && this.#bucket.left < 1)) return false;
    bucket.left -= 1;
    if (!isOurs) this.#bucket.left -= 1;
    return true;
  }

  #count(isHere: boolean, nowS: number): void {
    this.untold += 1;
    if (isHere) this.#came += 1;
    else this.#went += 1;
    this.#numbersDueS ??= nowS + FIRST_NUMBERS_S;
  }

  #entryOf(reply: PollReply, nowS: number): Entry | undefined {
    const key = keyOf(reply);
    const known = this.#entries.get(key);
    if (known !== undefined) return known;
    if (this.#entries.size >= MOST_KNOWN && !this.#forgetOne()) return undefined;
    const { ip, bindIndex, shortName: name, outputs: portAddresses } = reply;
    const bucket = { left: OF_A_NODE.most, atS: nowS };
    // Only its first part: an address may be forged, and has room for 255.
    const isOurs = bindIndex <= 1 && this.isOurs(ip);
    const made = { ip, name, portAddresses, isOurs, isHere: false, toldHere: false, bucket };
    this.#entries.set(key, made);
    return made;
  }

  /** The oldest that is not there. */
  #forgetOne(): boolean {
    for (const [key, entry] of this.#gone) {
      this.#gone.delete(key);
      this.#entries.delete(key);
      this.#due.delete(entry);
      return true;
    }
    return false;
  }
}

function fill(bucket: Bucket, { most, everyS }: BucketOptions, nowS: number): void {
  const forS = nowS - bucket.atS;
  bucket.left = Math.min(most, bucket.left + Math.max(0, forS) / everyS);
  bucket.atS = nowS;
}

function keyOf({ ip, bindIndex }: PollReply): string {
  return `${ip}#${bindIndex}`;
}
