import type { LiveLine, LiveSnapshot } from '../../live/schema.js';
import { type Room, roomFor } from './room.js';

/** More than this unread, and a snapshot is left out; one that has read nothing for so long is gone. */
const MOST_UNREAD_BYTES = 1024 * 1024;
const STUCK_S = 15;
const SNAPSHOT_EARLY_S = 0.03;

interface Viewer {
  readonly from: string;
  readonly rateHz: number;
  /** It takes the token to look from there, or it has sent one. */
  readonly byToken: boolean;
  /** One that begins anew takes the place of its stream before, whose end may not have come here; undefined: nobody says. */
  readonly page: string | undefined;
}

interface Stream extends Viewer {
  readonly reader: ReadableStreamDefaultController<Uint8Array>;
  dueS: number;
  stuckS: number | undefined;
}

/** Server-sent events (HTML standard, 9.2) to all who look. */
export class Streams {
  readonly #all = new Set<Stream>();
  left = 0;
  /** This page looks no longer: its last stream has ended. */
  onLeft: (page: string, from: string) => void = () => undefined;

  constructor(
    private readonly nowS: () => number,
    /** How often the fastest of them wants a snapshot; 0: nobody looks. */
    private readonly onRate: (rateHz: number) => void,
    private readonly room: Room = roomFor(undefined),
  ) {}

  get count(): number {
    return this.#all.size;
  }

  /** Makes room where this page has a stream already. */
  hasRoomFor(from: string, page?: string): boolean {
    const before = [...this.#all].find(
      one => page !== undefined && one.page === page && one.from === from,
    );
    if (before !== undefined) this.#close(before);
    const own = [...this.#all].filter(one => one.from === from).length;
    return this.#all.size < this.room.streams && own < this.room.streamsOfOne;
  }

  /** @param first what it is told at once */
  add(viewer: Viewer, first: readonly LiveLine[]): ReadableStream<Uint8Array> {
    let stream: Stream | undefined;
    return new ReadableStream<Uint8Array>(
      {
        start: reader => {
          stream = { ...viewer, reader, dueS: 0, stuckS: undefined };
          this.#all.add(stream);
          // In one piece: each would be a packet of its own.
          if (first.length > 0) reader.enqueue(Buffer.concat(first.map(eventOf)));
          this.#tellRate();
        },
        cancel: () => {
          if (stream !== undefined) this.#remove(stream);
        },
      },
      new ByteLengthQueuingStrategy({ highWaterMark: MOST_UNREAD_BYTES }),
    );
  }

  /** There is another token: whoever sent the old one has to knock again. */
  closeByToken(): void {
    for (const stream of [...this.#all].filter(({ byToken }) => byToken)) this.#close(stream);
  }

  tell(line: LiveLine): void {
    if (this.#all.size === 0) return;
    const nowS = this.nowS();
    let text: Uint8Array | undefined;
    for (const stream of this.#all) {
      if (line.kind === 'snapshot' && !isDue(stream, nowS, line)) continue;
      text ??= eventOf(line);
      this.#write(stream, text, nowS);
    }
  }

  #write(stream: Stream, text: Uint8Array, nowS: number): void {
    const { reader } = stream;
    if ((reader.desiredSize ?? 0) > 0) {
      stream.stuckS = undefined;
      reader.enqueue(text);
      return;
    }
    this.left += 1;
    stream.stuckS ??= nowS;
    if (nowS - stream.stuckS <= STUCK_S) return;
    this.#remove(stream);
    reader.error(new Error('it reads nothing'));
  }

  #close(stream: Stream): void {
    this.#remove(stream);
    stream.reader.close();
  }

  #remove(stream: Stream): void {
    if (!this.#all.delete(stream)) return;
    this.#tellRate();
    const { page, from } = stream;
    // A phone that has changed its network looks on by another, and the end of the old one comes late.
    if (page === undefined || [...this.#all].some(one => one.page === page)) return;
    this.onLeft(page, from);
  }

  #tellRate(): void {
    this.onRate(Math.max(0, ...[...this.#all].map(({ rateHz }) => rateHz)));
  }
}

function isDue(stream: Stream, nowS: number, { universes }: LiveSnapshot): boolean {
  // With slots it is worth more than the one that would be next.
  if (universes === undefined && nowS < stream.dueS - SNAPSHOT_EARLY_S) return false;
  stream.dueS = Math.max(stream.dueS + 1 / stream.rateHz, nowS);
  return true;
}

const encoder = new TextEncoder();
/** Whoever comes is told the events of ten minutes, which are the same for all. */
const encoded = new WeakMap<LiveLine, Uint8Array>();

function eventOf(line: LiveLine): Uint8Array {
  const known = encoded.get(line);
  if (known !== undefined) return known;
  const bytes = encoder.encode(`event: ${line.kind}\ndata: ${JSON.stringify(line)}\n\n`);
  encoded.set(line, bytes);
  return bytes;
}
