/** What is sent beside the levels. */
export type Errand =
  | 'ArtPoll'
  | 'ArtPollReply'
  | 'ArtSync'
  | 'E1.31 synchronization'
  | 'Per-address priority'
  | 'Universe Discovery';

interface LinkChange {
  readonly interface: string;
  /** Where it comes and goes too often to tell of each: changes since it was told last, this one among them. */
  readonly changes?: number;
  /** Not for the log: one of too many, which are counted in a later one, or said before. It is so all the same. */
  readonly quiet?: true;
}

/** Of the two machines of a pair. */
export type PairMachine = 'main' | 'standby';

/** Whose levels of a universe receivers take: E1.31 arbitrates by priority, and Art-Net merges those that send. */
export type Taken = 'ours' | 'theirs' | 'both';

/** What people want to know of the lighting sockets. */
export type LightingEvent =
  | (LinkChange & { readonly kind: 'interface-lost'; readonly reason: string })
  | (LinkChange & { readonly kind: 'interface-back'; readonly address: string })
  /** Levels that could not be sent: told once, for each reason, and each minute while it goes on. */
  | {
      readonly kind: 'send-failed';
      readonly interface: string;
      readonly output: string;
      readonly reason: string;
      /** Since it was told last. */
      readonly count: number;
      /** Packets of this output that did leave, in the last second at most: to other receivers, or before. */
      readonly sent: number;
      /** The first of an outage: how many there will be nobody knows yet. */
      readonly began?: boolean;
    }
  /** And that it is over: how many could not be sent in all, and from the first of them to the first that left, seconds. */
  | {
      readonly kind: 'sent-again';
      readonly interface: string;
      readonly output: string;
      readonly count: number;
      readonly forS: number;
    }
  /** A packet that is no levels could not be sent: said once, until one is. */
  | {
      readonly kind: 'errand-failed';
      readonly interface: string;
      readonly errand: Errand;
      readonly reason: string;
    }
  | { readonly kind: 'errand-sent'; readonly interface: string; readonly errand: Errand }
  /** Its sockets are closed (a reload opens others) while something failed: what of that was not told of yet, and nobody else tells of. */
  | {
      readonly kind: 'sends-ended';
      readonly interface: string;
      readonly outputs: readonly {
        readonly output: string;
        readonly count: number;
        readonly forS: number;
      }[];
      readonly errands: readonly Errand[];
    }
  /** sACN streams of a daemon that was killed, which the show of now does not have. */
  | { readonly kind: 'left-ended'; readonly universes: readonly number[] }
  /** Another program owns the port to which nodes answer; sending goes on, without a node table. */
  | { readonly kind: 'poll-port-taken'; readonly interface: string }
  | {
      readonly kind: 'node-found';
      readonly ip: string;
      readonly name: string;
      readonly portAddresses: readonly number[];
    }
  | { readonly kind: 'node-gone'; readonly ip: string; readonly name: string }
  /** So many nodes came and went besides those that were told of one by one, since this was last told. */
  | { readonly kind: 'nodes-unsteady'; readonly came: number; readonly went: number }
  /** And none for a minute. */
  | { readonly kind: 'nodes-steady' }
  /** So many since this was last told, for whom there was no room beside the `most` that are kept. */
  | { readonly kind: 'nodes-displaced'; readonly count: number; readonly most: number }
  /** More nodes ask for a Port-Address than levels of it are sent to. */
  | {
      readonly kind: 'port-address-crowded';
      readonly portAddress: number;
      readonly output: string;
      readonly nodes: number;
      readonly most: number;
    }
  /** An output sends to it, and it has not answered a poll. */
  | { readonly kind: 'node-silent'; readonly ip: string; readonly output: string }
  /** No node was to be expected there: it has answered now, and is the other machine of the pair. */
  | { readonly kind: 'node-is-partner'; readonly ip: string; readonly output: string }
  /** No node that answers puts this Port-Address out. */
  | { readonly kind: 'port-address-unheard'; readonly portAddress: number; readonly output: string }
  /** It was cut off alone, of several that send these universes: what has changed goes by way of the safe look. */
  | {
      readonly kind: 'output-rejoins';
      readonly interface: string;
      readonly output: string;
      /** Numbers in the protocol. */
      readonly universes: readonly number[];
    }
  /** The cable is out, or what is at its other end is off: packets leave for nowhere. */
  | (LinkChange & { readonly kind: 'carrier-lost' })
  | (LinkChange & { readonly kind: 'carrier-back' })
  /** Levels by Art-Net stay away from this interface while the other machine of a pair is, or may be, the one that sends. */
  | { readonly kind: 'artnet-held'; readonly interface: string; readonly held: boolean }
  /** An output lists the broadcast address of the interface's network: nothing is sent there. */
  | {
      readonly kind: 'broadcast-left-out';
      readonly interface: string;
      readonly address: string;
      readonly output: string;
    }
  /** The system does not list its interfaces now: those that were there last count. */
  | { readonly kind: 'interfaces-unread'; readonly reason: string }
  | { readonly kind: 'interfaces-read' }
  /** Somebody else sends on universes of ours. */
  | {
      readonly kind: 'other-source';
      readonly protocol: 'sacn' | 'artnet';
      readonly universes: readonly number[];
      readonly name: string;
      readonly address: string;
      /** E1.31 priority, the highest heard, of the other machine of a pair the last; Art-Net has none. */
      readonly priority: number | undefined;
      /** What we sent with when it was heard last. */
      readonly ourPriority: number | undefined;
      /** At that moment; `both`: mixed, or either. */
      readonly taken: Taken;
      /** Which of the two it is, if it is the other machine of our pair. */
      readonly partner: PairMachine | undefined;
      /** Receivers take it instead of us, or mix the two. */
      readonly conflict: boolean;
      /** It has our CID: receivers can't tell the two apart. */
      readonly sameIdentity: boolean;
      /** The other machine of a pair, with a show of another name. */
      readonly otherShow: boolean;
    }
  | {
      readonly kind: 'other-source-gone';
      readonly protocol: 'sacn' | 'artnet';
      /** That it no longer sends, while it goes on with others or by the other protocol; missing: it sends nothing. */
      readonly universes?: readonly number[];
      readonly name: string;
      readonly address: string;
      readonly partner: PairMachine | undefined;
    }
  /** So many others besides those that were told of one by one. */
  | { readonly kind: 'more-sources'; readonly more: number }
  /** More comes in on our universes than we care to look at; heard again later. */
  | { readonly kind: 'listener-closed'; readonly interface: string; readonly forS: number };

export type LinkEvent = Extract<
  LightingEvent,
  { readonly kind: 'interface-lost' | 'interface-back' | 'carrier-lost' | 'carrier-back' }
>;
