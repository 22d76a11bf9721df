/** Where and how much to record; the same for both processes. */
export interface RecordOrders {
  /** Folder of this run of the daemon, made already. */
  readonly folder: string;
  /** Folder that holds those of all runs, for `totalBytes`. */
  readonly parent: string;
  /** Of the file system that `parent` was on; undefined: `folder` is not made anew. */
  readonly device?: number | undefined;
  /** A part is followed by the next when it has so many bytes, or so many seconds. */
  readonly partBytes: number;
  readonly partS: number;
  /** The oldest parts in `parent` are deleted beyond so many bytes; undefined: none ever is. */
  readonly totalBytes: number | undefined;
  /** Of lampwright. */
  readonly version: string;
}

/** The show as it was read, and how often it is run. */
export interface RecordedSource {
  readonly text: string;
  readonly file: string;
  readonly tickHz: number;
}
