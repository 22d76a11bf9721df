import { readdir, readFile, readlink } from 'node:fs/promises';

/** How often the kernel is asked. */
const LOOK_EVERY_MS = 1000;
/** Columns of /proc/net/udp; proc(5). */
const LOCAL = 1;
const INODE = 9;
const DROPS = 12;

/** Where a socket of ours listens: address (`*` where that is not known) and port. */
export interface SocketPlace {
  readonly address: string;
  readonly port: number;
}

/**
 * Datagrams that the kernel has dropped because a UDP socket of this process had no room left in its receive buffer:
 * this process never hears of them. They are counted where Linux counts them, in /proc/net/udp.
 */
export class SocketDrops {
  /** How many datagrams each socket had dropped at the last look, by its inode. */
  #before = new Map<string, number>();
  #timer: NodeJS.Timeout | undefined;

  /** @param onDrops called for each socket that has dropped datagrams since the last look, with their number */
  constructor(private readonly onDrops: (count: number, at: SocketPlace) => void) {}

  start(): void {
    this.#timer = setTimeout(() => {
      void this.look().then(() => {
        if (this.#timer !== undefined) this.start();
      });
    }, LOOK_EVERY_MS);
    this.#timer.unref();
  }

  close(): void {
    clearTimeout(this.#timer);
    this.#timer = undefined;
  }

  /** Off the main thread: a long table takes its time. */
  async look(): Promise<void> {
    const now = new Map<string, number>();
    const mine = await socketsOfOurs();
    // Below /proc/self, which a unit with ProcSubset=pid has too.
    for (const table of ['udp', 'udp6']) {
      for (const line of (await text(`/proc/self/net/${table}`)).split('\n')) {
        const columns = line.trim().split(/ +/);
        const inode = columns[INODE] ?? '';
        if (!mine.has(inode)) continue;
        const drops = Number(columns[DROPS]) || 0;
        now.set(inode, drops);
        const count = drops - (this.#before.get(inode) ?? 0);
        if (count > 0) this.onDrops(count, placeOf(columns[LOCAL] ?? ''));
      }
    }
    this.#before = now;
  }
}

async function socketsOfOurs(): Promise<ReadonlySet<string>> {
  const files = await readdir('/proc/self/fd').catch((): string[] => []);
  const links = await Promise.all(
    files.map(file => readlink(`/proc/self/fd/${file}`).catch(() => '')),
  );
  return new Set(links.flatMap(link => /^socket:\[(\d+)\]$/.exec(link)?.[1] ?? []));
}

/** @param text such as `0100007F:2332`: the address byte by byte from its end, as x86 and ARM have it, and the port */
function placeOf(text: string): SocketPlace {
  const [hex = '', port = ''] = text.split(':');
  const bytes = /^[0-9A-F]{8}$/.test(hex) ? [6, 4, 2, 0].map(at => hex.slice(at, at + 2)) : [];
  const address = bytes.map(byte => Number.parseInt(byte, 16)).join('.');
  return { address: address === '' ? '*' : address, port: Number.parseInt(port, 16) };
}

function text(file: string): Promise<string> {
  return readFile(file, 'utf8').catch(() => '');
}
