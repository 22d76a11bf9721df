/** What the log says of an event. */
export interface Entry {
  readonly level: 'debug' | 'info' | 'warn' | 'error';
  readonly text: string;
  /** The event as data, for a machine that reads the log. */
  readonly data: object;
}
