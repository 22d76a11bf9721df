import type { EngineEvent } from '../../engine/events/events.js';
import { encodePacket } from '../../protocols/osc/encode.js';
import type { OscArgument } from '../../protocols/osc/library.js';
import type { ReceiverPlan } from '../../show/model/model.js';
import type { ReceiverSockets } from './receiver-sockets.js';

type Action = Extract<EngineEvent, { kind: 'action' }>;

/** Sends the messages of actions. */
export class ActionSender {
  constructor(private readonly sockets: ReceiverSockets) {}

  /**
   * @param leads a standby sees the same, and says nothing until it stands in
   * @returns whether it was this machine's to send
   */
  send(
    { receiver: name, address, args }: Action,
    receivers: readonly ReceiverPlan[],
    leads: boolean,
  ): boolean {
    const receiver = receivers.find(one => one.name === name);
    if (!leads || receiver === undefined) return leads;
    this.sockets.send(receiver, [encodePacket({ address, args: args.map(argumentOf) })]);
    return true;
  }
}

/** Whole numbers as int32, others as float32 (OSC 1.0). */
function argumentOf(value: number | string | boolean): OscArgument {
  if (value === true) return { type: 'T', value };
  if (value === false) return { type: 'F', value };
  if (typeof value === 'string') return { type: 's', value };
  return { type: Number.isInteger(value) ? 'i' : 'f', value };
}
