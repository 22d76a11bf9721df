import { stat } from 'node:fs/promises';
import type { Show } from '../../show/model/model.js';
import { answers } from '../asking/ask.js';
import { makeFolder, PRIVATE } from '../files/make-folder.js';
import { findInterface, type InterfaceFinder } from '../lighting/interfaces.js';
import { type Holder, Lock } from './lock.js';

/** What one process may have at a time, and what it is called to people. */
interface Claim {
  readonly name: string;
  readonly called: string;
}

export type Taken =
  | { readonly ok: true }
  | {
      readonly ok: false;
      /** Another process has it; false: the system gives no way to know. */
      readonly isHeld: boolean;
      /** In plain words. */
      readonly problems: readonly string[];
    };

/** What is claimed by somebody else is one answer a holder, not one a universe. */
const MOST_NAMED = 8;
const FOLDER = 'lampwright/state/';
/** The machine has none left: nothing is known of who answers. */
const OUT_OF: ReadonlySet<string> = new Set(['EMFILE', 'ENFILE', 'ENOBUFS', 'ENOMEM']);

/**
 * What this process alone may use on this machine: the state folder of its show, and each universe on each
 * lighting interface. It is taken before the first packet and before any file is touched, and the kernel
 * gives it back when the process ends.
 */
export class Ownership {
  readonly #locks = new Map<string, Lock>();
  #hasFolder = false;
  #showName = '';

  constructor(private readonly find: InterfaceFinder = findInterface) {}

  /**
   * Takes what a show needs beside what is held already.
   * @returns who has some of it: then nothing more is held than before
   */
  async take(show: Show, stateFolder: string | undefined): Promise<Taken> {
    if (this.#showName === '') this.#showName = show.name;
    const taken = new Map<string, Lock>();
    const refuse = (isHeld: boolean, ...problems: string[]): Taken => {
      for (const lock of taken.values()) lock.release();
      return { ok: false, isHeld, problems };
    };
    const refused = new Map<string, { readonly holder: Holder; readonly called: string[] }>();
    const wanted = claimsOf(show, this.find);
    const folder = this.#hasFolder ? undefined : await folderClaim(stateFolder);
    if (folder !== undefined) wanted.push(folder);
    for (const { name, called } of wanted) {
      if (this.#locks.has(name) || taken.has(name)) continue;
      const result = await Lock.take(name, () => `show "${this.#showName}"`);
      if (result.ok) {
        taken.set(name, result.lock);
        continue;
      }
      const { holder } = result;
      if (holder === undefined) return refuse(false, unknown(called, result.fault));
      const known = refused.get(String(holder.pid));
      if (known === undefined) refused.set(String(holder.pid), { holder, called: [called] });
      else known.called.push(called);
      // It would be the same for the rest, one answer after the other.
      if (holder.what === undefined || (known?.called.length ?? 0) > MOST_NAMED) break;
    }
    if (refused.size > 0) {
      const all = [...refused.values()].map(({ holder, called }) => inWords(holder, called));
      return refuse(true, ...all);
    }
    // One in another network namespace has none of these names, and the same folder.
    if (folder !== undefined && stateFolder !== undefined) {
      const asked = await answers(stateFolder);
      if (asked === 'alive') {
        return refuse(true, inWords({ pid: undefined, what: undefined }, [folder.called]));
      }
      if (typeof asked === 'object' && OUT_OF.has(asked.code ?? '')) {
        return refuse(false, unknown(folder.called, asked.message));
      }
    }
    this.#hasFolder = true;
    for (const [name, lock] of taken) this.#locks.set(name, lock);
    return { ok: true };
  }

  /** Whether all that a show needs is held, by the names that its interfaces have now. */
  holds(show: Show): boolean {
    return claimsOf(show, this.find).every(({ name }) => this.#locks.has(name));
  }

  /** Another show runs from now on: what it does not need is free again. */
  keep(show: Show): void {
    this.#showName = show.name;
    const needed = new Set(claimsOf(show, this.find).map(({ name }) => name));
    for (const [name, lock] of this.#locks) {
      if (needed.has(name) || name.startsWith(FOLDER)) continue;
      lock.release();
      this.#locks.delete(name);
    }
  }

  release(): void {
    for (const lock of this.#locks.values()) lock.release();
    this.#locks.clear();
  }
}

function claimsOf(show: Show, find: InterfaceFinder): Claim[] {
  return show.outputs.flatMap(({ protocol, interface: wanted, universes }) => {
    // The interface has one name, whether the show says that or its address; all of 127/8 is one interface.
    const name = find(wanted)?.name ?? wanted;
    const what = protocol === 'sacn' ? 'sACN universe' : 'Art-Net Port-Address';
    return universes.map(({ onWire }) => ({
      name: `lampwright/${protocol}/${onWire}/${name}`,
      called: `${what} ${onWire} on ${name}`,
    }));
  });
}

/** By what the folder is, not by what it is called. One that is not there yet is made: it is nobody's. */
async function folderClaim(folder: string | undefined): Promise<Claim | undefined> {
  if (folder === undefined) return undefined;
  try {
    await makeFolder(folder, PRIVATE);
    const { dev, ino } = await stat(folder);
    return { name: `${FOLDER}${dev}:${ino}`, called: `the state folder ${folder}` };
  } catch {
    // What keeps things there will say why it can't.
    return undefined;
  }
}

function unknown(called: string, fault: string): string {
  return `whether another process has ${called} can't be known (${fault}): nothing was sent, and no file was touched. A service is started again at once; if it stays so, look at the machine's open files and memory, and whether Unix sockets are allowed here (RestrictAddressFamilies of a unit).`;
}

function inWords({ pid, what }: Holder, called: readonly string[]): string {
  const who =
    pid === undefined
      ? 'another process, which does not say who it is (as root, `ss -xlp | grep lampwright` shows it),'
      : `process ${pid}${what === undefined ? '' : ` (${what})`}`;
  const more = called.length > MOST_NAMED ? ' and more' : '';
  return `${who} has ${called.slice(0, MOST_NAMED).join(', ')}${more}: nothing was sent, and no file was touched. Stop it first; a standby belongs on a machine of its own.`;
}
