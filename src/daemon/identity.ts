import { createHash, randomUUID } from 'node:crypto';
import { realpathSync } from 'node:fs';
import { hostname } from 'node:os';
import { join, resolve } from 'node:path';
import type { Show } from '../show/model.js';
import { messageOf } from '../stage/message-of.js';
import { writeWholeNow } from './operator/whole-file.js';
import { isThere, readBytes } from './read-file.js';

/** How the two machines of a pair know each other. */
export function sourceNameOf(show: Show, standby: boolean): string {
  return `lampwright ${standby ? 'standby ' : ''}${show.name}`;
}

export type IdentityEvent = {
  /** The identity can't be kept in the state folder: one made of machine and file serves. */
  readonly kind: 'identity-unkept';
  readonly file: string;
  readonly reason: string;
};

export interface IdentityOptions {
  readonly stateFolder: string | undefined;
  /** The show file. */
  readonly file: string;
  readonly standby: boolean;
  readonly machineId?: string;
  onEvent(event: IdentityEvent): void;
}

const FILE = 'cid';
/** A UUID is 36; what is much longer is none. */
const MOST_BYTES = 4096;
const UUID = /^[0-9a-f]{8}-([0-9a-f]{4}-){3}[0-9a-f]{12}$/;

/**
 * The CID of E1.31 5.6: of this installation, whatever the show is called. A random UUID that is kept in the
 * state folder; without one, made of the machine's id and the path of the show file. A standby has another, as
 * the two machines may be copies.
 */
export function installationIdentity(options: IdentityOptions): Uint8Array {
  const { stateFolder, standby } = options;
  const kept = stateFolder === undefined ? undefined : keptIdentity(stateFolder, options.onEvent);
  const seed = kept ?? `${options.machineId ?? machineId()}\0${pathOf(options.file)}`;
  if (kept !== undefined && !standby) return bytesOf(kept);
  return derived(`${seed}${standby ? '\0standby' : ''}`);
}

/** As it is kept, or a new one that is kept from now on; undefined where neither can be. */
function keptIdentity(folder: string, onEvent: (event: IdentityEvent) => void): string | undefined {
  const file = join(folder, FILE);
  // A pipe or a device in its place must not hold up the first packet.
  const read = readBytes(file, MOST_BYTES);
  if (read.ok) {
    const text = read.bytes.toString('latin1').trim();
    if (UUID.test(text)) return text;
    onEvent({ kind: 'identity-unkept', file, reason: 'it holds no UUID; remove it for a new one' });
    return undefined;
  }
  if (isThere(file)) {
    onEvent({ kind: 'identity-unkept', file, reason: read.fault });
    return undefined;
  }
  const made = randomUUID();
  try {
    writeWholeNow(file, `${made}\n`);
    return made;
  } catch (error) {
    onEvent({ kind: 'identity-unkept', file, reason: messageOf(error) });
    return undefined;
  }
}

/** Of this installation of the system: random, and kept (machine-id(5)); a host's name is neither. */
function machineId(): string {
  const read = readBytes('/etc/machine-id', MOST_BYTES);
  const text = read.ok ? read.bytes.toString('latin1').trim() : '';
  // A container may have none.
  return text === '' ? hostname() : text;
}

function pathOf(file: string): string {
  try {
    return realpathSync(file);
  } catch {
    return resolve(file);
  }
}

function bytesOf(uuid: string): Uint8Array {
  return Uint8Array.from(Buffer.from(uuid.replaceAll('-', ''), 'hex'));
}

function derived(seed: string): Uint8Array {
  const digest = createHash('sha256').update(`lampwright\0${seed}`).digest();
  const cid = Uint8Array.from(digest.subarray(0, 16));
  // A UUID of version 8 (made by its own rule) and of the variant of RFC 9562.
  cid[6] = ((cid[6] ?? 0) & 0x0f) | 0x80;
  cid[8] = ((cid[8] ?? 0) & 0x3f) | 0x80;
  return cid;
}
