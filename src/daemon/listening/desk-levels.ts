import { createSocket, type Socket } from 'node:dgram';
import { decodeArtDmx } from '../../protocols/artnet/incoming.js';
import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import { decodeSacn } from '../../protocols/sacn/decode.js';
import { multicastGroup } from '../../protocols/sacn/multicast.js';
import { SACN_PORT } from '../../protocols/sacn/options.js';
import { monotonicS } from '../clock.js';
import { dropSocket } from '../drop-socket.js';
import { findInterface, interfacesThere } from '../lighting/interfaces.js';

export interface DeskOptions {
  readonly protocol: 'sacn' | 'artnet';
  /** On the wire: E1.31 universe or Port-Address. */
  readonly universe: number;
  /** Address or name of the interface to listen on. */
  readonly interface: string;
}

/** What the desk sends now. */
export type DeskLevels =
  | { readonly kind: 'none' }
  /** Two sources of the same priority: which of them a fixture follows is the gateway's affair. */
  | { readonly kind: 'several'; readonly sources: readonly string[] }
  | { readonly kind: 'levels'; readonly source: string; readonly slots: Uint8Array };

/** Network data loss of E1.31 (6.7.1): a source that has been silent for longer is gone. */
const GONE_AFTER_S = 2.5;
/** More sources on one universe are nobody's desk. */
const MOST_SOURCES = 32;

interface Heard {
  readonly name: string;
  readonly priority: number;
  readonly slots: Uint8Array;
  readonly atS: number;
}

/** Listens to the levels of one universe, without sending anything. */
export class DeskListener {
  readonly #sources = new Map<string, Heard>();
  readonly #sockets: Socket[] = [];

  constructor(private readonly options: DeskOptions) {}

  /** @returns why nothing can be heard, in plain words, or undefined */
  async open(): Promise<string | undefined> {
    const where = findInterface(this.options.interface);
    if (where === undefined) {
      return `can't listen on interface ${this.options.interface}: this machine has no such interface; it has ${interfacesThere()}.`;
    }
    const { protocol, universe } = this.options;
    const port = protocol === 'sacn' ? SACN_PORT : ARTNET_PORT;
    const own = await this.#bind(where.address, port);
    const shared =
      protocol === 'sacn'
        ? await this.#bind(multicastGroup(universe), port, where.address)
        : await this.#bind(where.broadcast, port);
    if (own === undefined || shared === undefined) return undefined;
    this.close();
    return `can't listen to the desk on ${where.name} (${where.address}), port ${port}: ${own}. Another program on this machine may have it; stop the show while you calibrate.`;
  }

  close(): void {
    for (const socket of this.#sockets.splice(0)) dropSocket(socket);
  }

  get levels(): DeskLevels {
    const nowS = monotonicS();
    const alive = [...this.#sources.values()].filter(one => nowS - one.atS <= GONE_AFTER_S);
    const highest = Math.max(...alive.map(one => one.priority));
    const leading = alive.filter(one => one.priority === highest);
    const [first, second] = leading;
    if (first === undefined) return { kind: 'none' };
    if (second !== undefined) return { kind: 'several', sources: leading.map(one => one.name) };
    return { kind: 'levels', source: first.name, slots: first.slots };
  }

  /** @returns why not, or undefined */
  #bind(address: string, port: number, multicastFrom?: string): Promise<string | undefined> {
    const socket = createSocket({ type: 'udp4', reuseAddr: true });
    return new Promise(resolve => {
      const failed = (error: Error) => {
        dropSocket(socket);
        resolve(error.message);
      };
      socket.once('error', failed);
      socket.bind({ address, port }, () => {
        try {
          if (multicastFrom !== undefined) socket.addMembership(address, multicastFrom);
        } catch (error) {
          failed(error as Error);
          return;
        }
        socket.off('error', failed);
        socket.on('error', () => undefined);
        socket.on('message', (bytes, from) => this.#hear(bytes, from.address));
        this.#sockets.push(socket);
        resolve(undefined);
      });
    });
  }

  #hear(bytes: Buffer, from: string): void {
    const { protocol, universe } = this.options;
    if (protocol === 'sacn') {
      const packet = decodeSacn(bytes);
      if (packet.kind !== 'data' || packet.universe !== universe) return;
      // Not for the stage: a preview, or data of another kind than levels (E1.31 6.2.6, E1.11 8.5.1).
      if (packet.preview || packet.startCode !== 0) return;
      const key = Buffer.from(packet.cid).toString('hex');
      if (packet.terminated) this.#sources.delete(key);
      else this.#note(key, `${packet.sourceName} (${from})`, packet.priority, packet.slots);
      return;
    }
    const dmx = decodeArtDmx(bytes);
    if (dmx !== undefined && dmx.portAddress === universe) this.#note(from, from, 0, dmx.slots);
  }

  #note(key: string, name: string, priority: number, slots: Uint8Array): void {
    if (!this.#sources.has(key) && this.#sources.size >= MOST_SOURCES) return;
    this.#sources.set(key, { name, priority, slots: Uint8Array.from(slots), atS: monotonicS() });
  }
}
