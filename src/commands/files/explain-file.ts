import { closeSync, openSync, writeSync } from 'node:fs';
import type { EngineView } from '../../engine/view.js';
import { encodeJson } from '../../recording/encode.js';
import {
  type Explained,
  explainedHead,
  explainedLine,
  explainReports,
} from '../../recording/explain.js';
import { MAGIC, PART_SUFFIX } from '../../recording/layout.js';
import { messageOf } from '../../stage/message-of.js';

const WRITE_FROM_BYTES = 256 * 1024;

export type ExplainChoice =
  | { readonly ok: true; readonly file: ExplainFile | undefined }
  | { readonly ok: false; readonly fault: string };

export function openExplainFile(path: string | boolean | undefined): ExplainChoice {
  if (typeof path !== 'string') return { ok: true, file: undefined };
  const kind = ['.csv', '.jsonl', PART_SUFFIX].find(suffix => path.endsWith(suffix));
  if (kind === undefined) {
    const fault = `the name after --explain ends in .csv, .jsonl or ${PART_SUFFIX}, not as in "${path}".`;
    return { ok: false, fault };
  }
  try {
    return { ok: true, file: new ExplainFile(openSync(path, 'w'), kind) };
  } catch (error) {
    return { ok: false, fault: `can't write ${path}: ${messageOf(error)}.` };
  }
}

/** Writes what the tracker made of each report. */
export class ExplainFile {
  #pieces: Buffer[] = [];
  #bytes = 0;
  #unixOffsetS = 0;
  #hasHead = false;
  #fault: string | undefined;

  constructor(
    private readonly fd: number,
    private readonly kind: string,
  ) {
    if (kind === PART_SUFFIX) this.#add(Buffer.from(MAGIC));
  }

  /** From now on the reports of this engine are written. */
  begin(run: { readonly view: EngineView }): void {
    explainReports(
      run.view,
      () => this.#unixOffsetS,
      explained => this.#add(this.#encode(explained)),
    );
  }

  intake({ unixOffsetS }: { readonly unixOffsetS: number }): void {
    this.#unixOffsetS = unixOffsetS;
  }

  /** @returns a message if something could not be written */
  close(): string | undefined {
    this.#write();
    closeSync(this.fd);
    return this.#fault;
  }

  #encode(explained: Explained): Buffer {
    switch (this.kind) {
      case PART_SUFFIX:
        return encodeJson('explain', explained);
      case '.csv': {
        const head = this.#hasHead ? '' : `${explainedHead(Object.keys(explained.regimes))}\n`;
        this.#hasHead = true;
        return Buffer.from(`${head}${explainedLine(explained)}\n`);
      }
      default:
        return Buffer.from(`${JSON.stringify(explained)}\n`);
    }
  }

  #add(bytes: Buffer): void {
    this.#pieces.push(bytes);
    this.#bytes += bytes.length;
    if (this.#bytes >= WRITE_FROM_BYTES) this.#write();
  }

  #write(): void {
    const bytes = Buffer.concat(this.#pieces);
    this.#pieces = [];
    this.#bytes = 0;
    if (this.#fault !== undefined) return;
    try {
      for (let done = 0; done < bytes.length; ) {
        done += writeSync(this.fd, bytes, done);
      }
    } catch (error) {
      this.#fault = `the explanations could not be written: ${messageOf(error)}`;
    }
  }
}
