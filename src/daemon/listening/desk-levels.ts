import { createSocket, type Socket } from 'node:dgram';
import { decodeArtDmx, isSync } from '../../protocols/artnet/incoming.js';
import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import {
  createArtnetReceiver,
  expireArtnetSources,
  receiveArtDmx,
  receiveArtSync,
} from '../../protocols/artnet/receiver.js';
import { decodeSacn } from '../../protocols/sacn/decode.js';
import { multicastGroup } from '../../protocols/sacn/multicast.js';
import { SACN_PORT } from '../../protocols/sacn/options.js';
import {
  createSacnReceiver,
  expireSacnSources,
  leadingSources,
  receiveSacnData,
  receiveSacnSync,
} from '../../protocols/sacn/receiver.js';
import { findInterface, interfacesThere } from '../lighting/interfaces.js';
import { monotonicS } from '../machine/clock.js';
import { dropSocket } from '../machine/drop-socket.js';

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

/** Listens to the levels of one universe, without sending anything. */
export class DeskListener {
  readonly #sacn = createSacnReceiver([]);
  readonly #artnet = createArtnetReceiver([]);
  readonly #sockets: Socket[] = [];

  constructor(private readonly options: DeskOptions) {
    const { protocol, universe } = options;
    if (protocol === 'sacn') this.#sacn = createSacnReceiver([universe]);
    else this.#artnet = createArtnetReceiver([universe]);
  }

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
    expireSacnSources(this.#sacn, nowS);
    expireArtnetSources(this.#artnet, nowS);
    const [sacn, artnet] = [this.#sacn.universes[0], this.#artnet.ports[0]];
    const leading =
      sacn === undefined
        ? (artnet?.sources ?? []).map(({ address, slots }) => ({ name: address, slots }))
        : leadingSources(sacn).map(({ name, address, slots }) => {
            return { name: `${name} (${address})`, slots };
          });
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
    const nowS = monotonicS();
    if (this.options.protocol === 'sacn') {
      const packet = decodeSacn(bytes);
      expireSacnSources(this.#sacn, nowS);
      if (packet.kind === 'data') receiveSacnData(this.#sacn, packet, from, nowS);
      else if (packet.kind === 'sync') receiveSacnSync(this.#sacn, packet, nowS);
      return;
    }
    const dmx = decodeArtDmx(bytes);
    expireArtnetSources(this.#artnet, nowS);
    if (dmx !== undefined) receiveArtDmx(this.#artnet, dmx, from, nowS);
    else if (isSync(bytes)) receiveArtSync(this.#artnet, from, nowS);
  }
}
