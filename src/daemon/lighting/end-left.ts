import { setTimeout as sleep } from 'node:timers/promises';
import { createDataPacket } from '../../protocols/sacn/data-packet.js';
import { SACN_PORT, type SacnSourceOptions } from '../../protocols/sacn/options.js';
import { MAX_RATE_HZ } from '../../protocols/transmission.js';
import { Delivery } from './delivery.js';
import { LightingSocket, type LightingSocketOptions } from './lighting-socket.js';
import type { SentStream } from './streams.js';

/** E1.31 6.2.6 */
const TERMINATIONS = 3;
/** Of no account in these packets, as their levels are. */
const PRIORITY = 100;
const MOST_UNDER_WAY = 1024;

/**
 * Ends sACN streams that a daemon which was killed has left, and that this one does not go on with: three packets
 * each with Stream_Terminated (E1.31 6.2.6), as the same source and with the numbers that follow. Receivers that
 * hold the last look would else wait 2.5 s (6.7.1). What can't be sent is left at that.
 * @param skip packets that may have left without being noted
 */
export async function endLeft(
  streams: readonly Pick<SentStream, 'onWire' | 'address' | 'to' | 'sequence'>[],
  source: SacnSourceOptions,
  skip: number,
  seams: Pick<LightingSocketOptions, 'socketFactory' | 'findInterface'> = {},
): Promise<void> {
  const byAddress = new Map<string, (typeof streams)[number][]>();
  for (const stream of streams) {
    byAddress.set(stream.address, [...(byAddress.get(stream.address) ?? []), stream]);
  }
  await Promise.all(
    [...byAddress].map(async ([address, left]) => {
      const socket = new LightingSocket({
        interface: address,
        polls: false,
        mostUnderWay: MOST_UNDER_WAY,
        onEvent: () => undefined,
        onMessage: () => undefined,
        ...seams,
      });
      if ((await socket.open()) !== undefined) return;
      const packets = left.map(({ onWire, to, sequence }) => {
        const packet = createDataPacket({ ...source, universe: onWire, priority: PRIORITY });
        packet.setSequence((sequence + skip) & 0xff);
        packet.setTerminated(true);
        const sender = new Delivery(packet.slots, new Uint8Array(packet.slots.length), {
          output: address,
        });
        return { packet, to, sender };
      });
      for (let i = 0; i < TERMINATIONS; i++) {
        if (i > 0) await sleep(Math.ceil(1e3 / MAX_RATE_HZ));
        for (const { packet, to, sender } of packets) {
          packet.advanceSequence();
          for (const ip of to) socket.send(packet.buffer, SACN_PORT, ip, sender);
        }
      }
      await socket.close();
    }),
  );
}
