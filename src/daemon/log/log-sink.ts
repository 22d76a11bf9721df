/** Writes some of the bytes; `done` once, as fs.write. */
export type LogWriter = (
  bytes: Buffer,
  done: (error: NodeJS.ErrnoException | null, written: number) => void,
) => void;

/** More than this unwritten, and lines are lost rather than kept: minutes of a busy show. */
const MAX_QUEUED_BYTES = 1024 * 1024;
/** After a full disk, or a pipe that takes nothing: when to try again, ms. */
const RETRY_MS = 500;
/** Nobody reads this any more, and nobody will. */
const GONE: ReadonlySet<string> = new Set(['EPIPE', 'EBADF', 'ECONNRESET', 'ENOTCONN']);

export interface LogSinkOptions {
  /** The line that stands for lines lost. */
  lossLine(lost: number, reason: string): string;
  readonly writer: LogWriter;
}

/**
 * Where log lines go. Never waits and never throws: a reader that stalls, a pipe that breaks or a disk
 * that is full costs lines of log, counted, and no light. fs.write runs beside the event loop, so that
 * even a pipe that blocks its writer blocks nothing here.
 */
export class LogSink {
  readonly #write: LogWriter;
  #queue: string[] = [];
  #queuedBytes = 0;
  #writing = false;
  #gone = false;
  #retry: NodeJS.Timeout | undefined;
  #lostNow = 0;
  #lossReason = '';
  /** A line was cut: the next begins on a line of its own. */
  #torn = false;
  #idle: (() => void)[] = [];
  /** Lines since the start that were not written. */
  lost = 0;

  constructor(private readonly options: LogSinkOptions) {
    this.#write = options.writer;
  }

  write(line: string): void {
    if (this.#gone) {
      this.lost += 1;
      return;
    }
    if (this.#queuedBytes + line.length > MAX_QUEUED_BYTES) {
      this.#lose(1, "whoever reads the log can't keep up");
      return;
    }
    this.#queue.push(line);
    this.#queuedBytes += line.length;
    this.#next();
  }

  /** When all is written, or can't be; waits for no longer than this. */
  async flush(withinMs: number): Promise<void> {
    if (!this.#writing && this.#queue.length === 0) return;
    await new Promise<void>(resolve => {
      const timer = setTimeout(resolve, withinMs);
      this.#idle.push(() => {
        clearTimeout(timer);
        resolve();
      });
    });
  }

  #next(): void {
    if (this.#writing || this.#retry !== undefined) return;
    if (this.#queue.length === 0) {
      for (const done of this.#idle.splice(0)) done();
      return;
    }
    const lines = this.#queue;
    const noted = this.#lostNow;
    if (noted > 0) lines.unshift(this.options.lossLine(noted, this.#lossReason));
    if (this.#torn) lines[0] = `\n${lines[0]}`;
    this.#queue = [];
    this.#queuedBytes = 0;
    this.#lostNow = 0;
    this.#writing = true;
    this.#put(Buffer.from(lines.join('')), error => {
      this.#writing = false;
      if (error === undefined) this.#torn = false;
      else {
        this.#lostNow += noted;
        this.#lose(lines.length - (noted > 0 ? 1 : 0), error.message);
        if (GONE.has(error.code ?? '')) this.#giveUp();
        else this.#wait(() => this.#next());
      }
      this.#next();
    });
  }

  #put(bytes: Buffer, done: (error: NodeJS.ErrnoException | undefined) => void): void {
    this.#write(bytes, (error, written) => {
      if (error !== null) {
        if (error.code !== 'EAGAIN') done(error);
        else this.#wait(() => this.#put(bytes, done));
      } else if (written < bytes.length) {
        this.#torn = true;
        this.#put(bytes.subarray(written), done);
      } else done(undefined);
    });
  }

  #wait(then: () => void): void {
    this.#retry = setTimeout(() => {
      this.#retry = undefined;
      then();
    }, RETRY_MS);
    // What waits for a full disk does not keep the process alive.
    this.#retry.unref();
  }

  #giveUp(): void {
    this.#gone = true;
    this.lost += this.#queue.length;
    this.#queue = [];
    this.#queuedBytes = 0;
    for (const done of this.#idle.splice(0)) done();
  }

  #lose(lines: number, reason: string): void {
    this.lost += lines;
    this.#lostNow += lines;
    this.#lossReason = reason;
  }
}
