import type { HeardPort } from '../../protocols/artnet/controller-reply.js';
import type { OutputPlan } from '../../show/model/model.js';
import type { LimitedLight } from './catch-up.js';
import type { InterfaceFinder } from './interfaces.js';
import type { SocketCounters } from './lighting-socket.js';
import type { NodeCounters } from './node-watch.js';
import type { LineOptions } from './open-line.js';

export interface LightingOptions extends LineOptions {
  readonly outputs: readonly OutputPlan[];
  readonly universeCount: number;
  /** Source name of the other machine of a pair, to know it when it is heard. */
  readonly partnerName: string;
  /** Whether a source may be that machine with a show of another name. */
  mayBePartner(name: string): boolean;
  /** Addresses at which the show says that it is. */
  readonly partners?: readonly string[];
  /** This is the second machine of a pair. */
  readonly standby?: boolean;
  /** Time between two calls of `send`, seconds. */
  readonly beatS: number;
  /** An interface that is missing is lost like any other, and looked for; else it is a problem. */
  readonly mayBeLost?: boolean;
  /** The show's fixtures and limits; asked only where several outputs send one universe. */
  limited?(): LimitedLight;
  /** Port-Addresses that a desk is heard on at an address of ours: nodes are asked for theirs. */
  portsAt?(address: string): readonly HeardPort[];
  /** For tests: 0 to 1, for what happens at a moment by chance. */
  random?(): number;
  /** For tests: other interfaces than those of this machine. */
  readonly findInterface?: InterfaceFinder;
}

/** Since the start; a view of the moment. */
export interface LightingCounters {
  readonly interfaces: readonly (SocketCounters & { readonly interface: string })[];
  readonly streams: readonly {
    readonly output: string;
    /** Number of the universe (or the Port-Address) in the protocol. */
    readonly universe: number;
    /** Times sent, to however many destinations. */
    readonly sent: number;
    /** Monotonic seconds; -Infinity before the first time. */
    readonly lastSentS: number;
  }[];
  readonly nodes: NodeCounters & { readonly known: number };
}
