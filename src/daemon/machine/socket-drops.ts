import { readdir, readFile, readlink } from 'node:fs/promises';

/** How often the kernel is asked. */
const LOOK_EVERY_MS = 1000;
/** Columns of /proc/net/udp; proc(5). */
const INODE = 9;
const DROPS = 12;

/**
 * Datagrams that the kernel has dropped because a UDP socket of this process had no room left in its receive buffer:
 * this process never hears of them. They are counted where Linux counts them, in /proc/net/udp.
 */
export class SocketDrops {
  /** By inode of the socket, what it had dropped when looked at last. */
  #before = new Map<string, number>();
  #timer: NodeJS.Timeout | undefined;

  /** @param onDrops how many since the last time; more than none */
  constructor(private readonly onDrops: (count: number) => void) {}

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
    let count = 0;
    // Below /proc/self, which a unit with ProcSubset=pid has too.
    for (const table of ['udp', 'udp6']) {
      for (const line of (await text(`/proc/self/net/${table}`)).split('\n')) {
        const columns = line.trim().split(/ +/);
        const inode = columns[INODE] ?? '';
        if (!mine.has(inode)) continue;
        const drops = Number(columns[DROPS]) || 0;
        now.set(inode, drops);
        count += Math.max(0, drops - (this.#before.get(inode) ?? 0));
      }
    }
    this.#before = now;
    if (count > 0) this.onDrops(count);
  }
}

async function socketsOfOurs(): Promise<ReadonlySet<string>> {
  const files = await readdir('/proc/self/fd').catch((): string[] => []);
  const links = await Promise.all(
    files.map(file => readlink(`/proc/self/fd/${file}`).catch(() => '')),
  );
  return new Set(links.flatMap(link => /^socket:\[(\d+)\]$/.exec(link)?.[1] ?? []));
}

function text(file: string): Promise<string> {
  return readFile(file, 'utf8').catch(() => '');
}
