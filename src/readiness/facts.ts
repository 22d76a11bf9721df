import type { FeedRecord } from './feed.js';
import type { Route } from './routing.js';
import type { SourceBook } from './sources.js';

/** What a machine and its networks showed while they were listened to; no judgement. */
export interface NetworkFacts {
  /** How long was listened, seconds. */
  readonly seconds: number;
  readonly interfaces: readonly InterfaceFact[];
  /** Names of those that are there, but not up; left out: nobody knows. */
  readonly down?: readonly string[];
  /** undefined where the system does not tell. */
  readonly routes: readonly Route[] | undefined;
  readonly sources: SourceBook;
  readonly nodes: readonly NodeFact[];
  /** Interfaces on which nodes were asked. */
  readonly polled: readonly string[];
  /** For each input of the show that carries positions, in its order. */
  readonly feeds: readonly FeedFact[];
  /** Its feed is that of simulated performers on this machine: it says nothing of the venue's network. */
  readonly simulated?: boolean;
  /** Performers, by name, who have left the stage by an exit of the show: their silence is no fault. */
  readonly offStage?: readonly string[];
  /** What could not be listened to, in plain words. */
  readonly deaf: readonly string[];
}

export interface InterfaceFact {
  readonly name: string;
  readonly address: string;
  readonly netmask: string;
  readonly loopback: boolean;
  /** Whether a cable is in; undefined where the system does not tell. */
  readonly carrier: boolean | undefined;
  readonly multicast: boolean | undefined;
}

export interface NodeFact {
  readonly ip: string;
  readonly name: string;
  /** Port-Addresses that it puts out. */
  readonly outputs: readonly number[];
}

export interface FeedFact {
  readonly input: string;
  /** Why it could not be listened to; undefined where it was. */
  readonly problem: string | undefined;
  readonly datagrams: number;
  /** Datagrams and messages that were no position by the routes of the input, or from a stranger. */
  readonly rejected: number;
  readonly record: FeedRecord;
}
