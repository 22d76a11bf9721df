import { EventEmitter } from 'node:events';

/** Only remembers what dmxnet sends: left alone it would bind every interface, and broadcast. */
export class DeafSocket extends EventEmitter {
  readonly sent: Buffer[] = [];
  bind(...args: unknown[]): void {
    const done = args.at(-1);
    if (typeof done === 'function') done();
  }
  setBroadcast(): void {}
  close(): void {}
  send(bytes: Buffer): void {
    this.sent.push(bytes);
  }
}
