import { appendFile } from 'node:fs/promises';
import { join } from 'node:path';
import { type HistoryLine, readHistory } from '../../live/history.js';
import { OwnFolder } from '../files/own-folder.js';
import { isThere, readText } from '../files/read-file.js';
import { writeWhole } from '../files/whole-file.js';

const HISTORY_FILE = 'panel-history.jsonl';
/** Twenty minutes of a hundred performers are four megabytes. */
const MOST_BYTES = 16 * 1024 * 1024;
/** So often what no longer counts is left out, seconds. */
const ANEW_EVERY_S = 600;

/**
 * In the state folder: what the panel has seen in the last ten minutes, so that it is not gone after a restart of it or of the
 * daemon. It is for people to look at: where it can't be read or written, nothing else suffers.
 */
export class HistoryFile {
  readonly #file: string;
  #waiting: HistoryLine[] = [];
  #anewS = Number.NEGATIVE_INFINITY;
  #isWriting = false;
  readonly #folder: OwnFolder;

  constructor(folder: string) {
    this.#folder = new OwnFolder(folder);
    this.#file = join(folder, HISTORY_FILE);
  }

  read(): HistoryLine[] {
    if (!isThere(this.#file)) return [];
    const read = readText(this.#file, MOST_BYTES);
    return read.ok ? readHistory(read.text) : [];
  }

  add(line: HistoryLine): void {
    this.#waiting.push(line);
  }

  /**
   * Brings to the file what was added since.
   * @param all what counts of it all
   * @param nowS monotonic seconds
   */
  async write(all: () => readonly HistoryLine[], nowS: number): Promise<void> {
    // A disk that is slow is not asked twice.
    if (this.#isWriting) return;
    this.#isWriting = true;
    const lines = this.#waiting;
    this.#waiting = [];
    try {
      const fault = await this.#folder.fault();
      if (fault !== undefined) throw new Error(fault);
      if (nowS - this.#anewS >= ANEW_EVERY_S || !isThere(this.#file)) {
        await writeWhole(this.#file, textOf(all()));
        this.#anewS = nowS;
      } else if (lines.length > 0) await appendFile(this.#file, textOf(lines));
    } catch {
      // That the folder is gone, or the disk full, is told by those who can't do without. Once they can, all is written.
      this.#anewS = Number.NEGATIVE_INFINITY;
    }
    this.#isWriting = false;
  }
}

const textOf = (lines: readonly HistoryLine[]) =>
  lines.map(line => `${JSON.stringify(line)}\n`).join('');
