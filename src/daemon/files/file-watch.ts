import { stat } from 'node:fs/promises';

/** How often the files are looked at, ms; and so long nothing may have changed before a save is over. */
const LOOKS_EVERY_MS = 200;

/**
 * Notices each save of a few files. It polls them, so that an editor that writes a new file and renames it, a file on
 * a network, and a replaced folder all work alike.
 */
export class FileWatch {
  #seen: string | undefined;
  /** What was found in the last look, where that is not what was seen. */
  #found: string | undefined;
  #timer: NodeJS.Timeout | undefined;
  #ended = false;

  /**
   * @param files which they are just now
   * @param saved awaited: what is saved meanwhile is told of afterwards
   */
  constructor(
    private readonly files: () => readonly string[],
    private readonly saved: () => Promise<void>,
    private readonly everyMs = LOOKS_EVERY_MS,
  ) {}

  async start(): Promise<void> {
    this.#seen = await this.#marks();
    this.#again();
  }

  end(): void {
    this.#ended = true;
    clearTimeout(this.#timer);
  }

  #again(): void {
    if (this.#ended) return;
    this.#timer = setTimeout(() => void this.#look(), this.everyMs);
  }

  async #look(): Promise<void> {
    const now = await this.#marks();
    const isStill = now === this.#found;
    this.#found = now;
    // One that is gone is about to be put there again, or is nothing to load.
    if (now !== this.#seen && isStill && now !== undefined && !this.#ended) {
      this.#seen = now;
      await this.saved();
    }
    this.#again();
  }

  /** The same for as long as nobody has written; undefined while one of them is not there. */
  async #marks(): Promise<string | undefined> {
    try {
      const marks = this.files().map(async file => {
        const { dev, ino, size, mtimeMs } = await stat(file);
        return [file, dev, ino, size, mtimeMs].join(' ');
      });
      return (await Promise.all(marks)).join('\n');
    } catch {
      return undefined;
    }
  }
}
