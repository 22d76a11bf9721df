// What a real machine can't be made to do at will, done by libraries that are loaded into the daemon before all
// others (ld.so(8), LD_PRELOAD): its clock jumps, sends and forks are refused. And a bad cable. See shims/.
import { spawnSync } from 'node:child_process';
import { closeSync, openSync, readSync, writeFileSync, writeSync } from 'node:fs';
import { constants } from 'node:os';
import { join } from 'node:path';

/** As in shims/orders.h: 32 bits each, in the order of the machine, which is little-endian wherever this runs. */
const FIELDS = ['clockS', 'sendErrno', 'forkErrno', 'refused', 'sendPort'];
const IN_DAEMON = ['orders', 'clock', 'send', 'fork'];

/** @returns undefined without a compiler */
export function buildShims(folder) {
  if (spawnSync('gcc', ['--version']).error !== undefined) return undefined;
  const [library, wire] = [join(folder, 'faults.so'), join(folder, 'wire')];
  const flags = ['-O2', '-Wall', '-Wextra', '-Werror'];
  const sources = IN_DAEMON.map(name => `campaign/shims/${name}.c`);
  compile([...flags, '-shared', '-fPIC', '-o', library, ...sources, '-ldl']);
  compile([...flags, '-o', wire, 'campaign/shims/wire.c']);
  return { library, wire, orders: join(folder, 'orders') };
}

function compile(options) {
  const { status, stderr } = spawnSync('gcc', options, { encoding: 'utf8' });
  if (status !== 0) throw new Error(`gcc: ${stderr}`);
}

/** What the libraries are told to do from now on, in all processes of a daemon at once. */
export class Orders {
  #file;

  constructor({ library, orders }) {
    writeFileSync(orders, Buffer.alloc(4 * FIELDS.length));
    this.#file = openSync(orders, 'r+');
    this.env = { LD_PRELOAD: library, LAMPWRIGHT_CAMPAIGN_ORDERS: orders };
  }

  #set(field, value) {
    const bytes = Buffer.alloc(4);
    bytes.writeInt32LE(value);
    writeSync(this.#file, bytes, 0, 4, 4 * FIELDS.indexOf(field));
  }

  /** The clock of the day is so many seconds on. */
  stepClock(seconds) {
    this.#set('clockS', seconds);
  }

  /**
   * @param name of an error, as in errno(3); undefined: sends succeed again
   * @param port what is sent to it; 0: all
   */
  refuseSends(name, port = 0) {
    this.#set('sendPort', port);
    this.#set('sendErrno', name === undefined ? 0 : constants.errno[name]);
  }

  /** @param name see `refuseSends` */
  refuseForks(name) {
    this.#set('forkErrno', name === undefined ? 0 : constants.errno[name]);
  }

  /** Sends and forks that were refused so far. */
  get refused() {
    const bytes = Buffer.alloc(4);
    readSync(this.#file, bytes, 0, 4, 4 * FIELDS.indexOf('refused'));
    return bytes.readInt32LE(0);
  }

  close() {
    closeSync(this.#file);
  }
}
