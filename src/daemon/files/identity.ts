import { createHash, randomUUID } from 'node:crypto';
import { realpathSync } from 'node:fs';
import { hostname } from 'node:os';
import { join, resolve } from 'node:path';
import { sourceNameAsSent } from '../../protocols/sacn/head.js';
import type { Show } from '../../show/model/model.js';
import { messageOf } from '../../stage/message-of.js';
import { isThere, readBytes } from './read-file.js';
import { writeWholeNow } from './whole-file.js';

const OURS = 'lampwright ';
const STANDBY = `${OURS}standby `;

/** How the two machines of a pair know each other: as it is read from the wire, where a long one is cut. */
export function sourceNameOf(show: Show, standby: boolean): string {
  return sourceNameAsSent(`${standby ? STANDBY : OURS}${show.name}`);
}

/**
 * Whether a source may be the other machine of a pair although its show has another name: it is renamed on one
 * machine before the other.
 * @param standby what this machine is itself
 */
export function mayBePartner(name: string, standby: boolean): boolean {
  return name.startsWith(OURS) && name.startsWith(STANDBY) !== standby;
}

export interface IdentityOptions {
  readonly stateFolder: string | undefined;
  /** The show file. */
  readonly file: string;
  readonly standby: boolean;
  readonly machineId?: string;
}

export interface Identity {
  readonly cid: Uint8Array;
  /** The UUID that makes the same one at the next start, where the state folder holds it; undefined: none does. */
  readonly seed: string | undefined;
  /** Why it is not in the state folder; undefined: it is, or there is no folder. */
  readonly fault: string | undefined;
}

export const IDENTITY_FILE = 'cid';
/** A UUID is 36; what is much longer is none. */
export const MOST_IDENTITY_BYTES = 4096;
const UUID = /^[0-9a-f]{8}-([0-9a-f]{4}-){3}[0-9a-f]{12}$/;

/**
 * The CID of E1.31 5.6: of this installation, whatever the show is called. A random UUID that is kept in the
 * state folder; without one, made of the machine's id and the path of the show file. A standby has another, as
 * the two machines may be copies.
 */
export function installationIdentity(options: IdentityOptions): Identity {
  const { stateFolder, standby } = options;
  const { kept, fault } = stateFolder === undefined ? NOWHERE : keptIdentity(stateFolder);
  const seed = kept ?? `${options.machineId ?? machineId()}\0${pathOf(options.file)}`;
  if (kept !== undefined && !standby) return { cid: bytesOf(kept), seed: kept, fault };
  const cid = derived(`${seed}${standby ? '\0standby' : ''}`);
  return { cid, seed: kept ?? seedOf(cid, standby), fault };
}

/** What an identity in use goes back to; that of a standby is made of another that its CID doesn't tell. */
export function seedOf(cid: Uint8Array, standby: boolean): string | undefined {
  if (standby) return undefined;
  const hex = Buffer.from(cid).toString('hex');
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');
}

interface KeptIdentity {
  readonly kept: string | undefined;
  readonly fault: string | undefined;
}
const NOWHERE: KeptIdentity = { kept: undefined, fault: undefined };

/** As it is kept, or a new one that is kept from now on; where neither can be, why. */
function keptIdentity(folder: string): KeptIdentity {
  const file = join(folder, IDENTITY_FILE);
  // A pipe or a device in its place must not hold up the first packet.
  const read = readBytes(file, MOST_IDENTITY_BYTES);
  if (read.ok) {
    const text = read.bytes.toString('latin1').trim();
    if (UUID.test(text)) return { kept: text, fault: undefined };
    return { kept: undefined, fault: 'it holds no UUID; remove it for a new one' };
  }
  if (isThere(file)) return { kept: undefined, fault: read.fault };
  const made = randomUUID();
  try {
    writeWholeNow(file, `${made}\n`);
    return { kept: made, fault: undefined };
  } catch (error) {
    return { kept: undefined, fault: messageOf(error) };
  }
}

/** Of this installation of the system: random, and kept (machine-id(5)); a host's name is neither. */
function machineId(): string {
  const read = readBytes('/etc/machine-id', MOST_IDENTITY_BYTES);
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
