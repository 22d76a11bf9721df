import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import { SACN_PORT } from '../../protocols/sacn/options.js';
import type { InputPlan } from '../../show/model/model.js';
import type { SocketPlace } from './socket-drops.js';

/** `input "tracking" (UDP 10.0.0.5:9010)`; of a socket that is none of these inputs `Art-Net (UDP 0.0.0.0:6454)`. */
export function socketInWords(
  { address, port }: SocketPlace,
  inputs: readonly Pick<InputPlan, 'name' | 'listen' | 'port' | 'psn'>[],
): string {
  const ofPort = inputs.filter(one => one.port === port);
  const isAt = ({ listen, psn }: (typeof ofPort)[number]) => (psn?.group ?? listen) === address;
  // PosiStageNet that is sent to this machine is heard by the address of the interface that is named.
  const input = ofPort.find(isAt) ?? (ofPort.length === 1 ? ofPort[0] : undefined);
  const socket = `UDP ${address}:${port}`;
  if (input !== undefined) return `input "${input.name}" (${socket})`;
  if (port === SACN_PORT) return `sACN (${socket})`;
  return port === ARTNET_PORT ? `Art-Net (${socket})` : socket;
}
