/** What people want to know of the lighting sockets. */
export type LightingEvent =
  | { readonly kind: 'interface-lost'; readonly interface: string; readonly reason: string }
  | { readonly kind: 'interface-back'; readonly interface: string; readonly address: string }
  /** At most one a second an interface; `count` since the last. */
  | {
      readonly kind: 'send-failed';
      readonly interface: string;
      readonly reason: string;
      readonly count: number;
    }
  /** Another program owns the port to which nodes answer; sending goes on, without a node table. */
  | { readonly kind: 'poll-port-taken'; readonly interface: string }
  | {
      readonly kind: 'node-found';
      readonly ip: string;
      readonly name: string;
      readonly portAddresses: readonly number[];
    }
  | { readonly kind: 'node-gone'; readonly ip: string; readonly name: string }
  /** An output sends to it, and it has not answered a poll. */
  | { readonly kind: 'node-silent'; readonly ip: string; readonly output: string };
