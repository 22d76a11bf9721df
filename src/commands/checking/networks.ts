import { mayBePartner, sourceNameOf } from '../../daemon/files/identity.js';
import { listen } from '../../daemon/listening/listen.js';
import { SceneFeed } from '../../daemon/senders/scene-feed.js';
import type { Datagram } from '../../engine/values/inputs.js';
import type { NetworkFacts } from '../../readiness/facts.js';
import { rhythmOf } from '../../readiness/feed.js';
import { checkNetworks } from '../../readiness/networks.js';
import { tourOf } from '../../readiness/tour.js';
import type { OurSelves } from '../../readiness/universe-checks.js';
import type { Show } from '../../show/model/model.js';
import { loadShow } from '../files/show-file.js';
import { checkTable } from '../terminal/check-table.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { numberOption } from '../terminal/option-values.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';

const misuse = misuseOf('networks');

export const NETWORKS_HELP = `usage: lampwright networks SHOW [--seconds N] [--simulate] [--json]

Looks at both networks of a show without running it: interfaces, address ranges, multicast, universes
against outputs; then listens: who else sends on our universes and at what priority, which Art-Net nodes
answer, and the rate, jitter and loss of the tracking feed. Sends nothing but ArtPoll, and that only where
the outputs of the show do.

  --seconds N   how long it listens, seconds (60); Ctrl-C ends it early, with what was heard
  --simulate    simulates the performers, walking from zone to zone, on the first input: to try it without a tracking system
  --json        { ok, checks, facts }

Stop the show first: two programs can't have its ports at once.

examples:
  lampwright networks my.show.yaml
  lampwright networks config/salt-lantern.show.yaml --simulate --seconds 10

exit codes: 0 nothing failed, 1 a check failed or the show has errors, 2 bad usage or no such file`;

const LONGEST_S = 3600;

export async function networks(args: Arguments): Promise<number> {
  const faults: string[] = [];
  const seconds = listeningTime(args, faults);
  if (faults.length > 0) return misuse(...faults);
  const loaded = loadShow(args.positionals[0] ?? '');
  if (!loaded.ok) return refuse(loaded.problems);
  const { show } = loaded;
  const asJson = args.values.json === true;
  if (!asJson) complain(`listening for ${seconds} s ...`);
  const facts = await hearShow(show, seconds, args.values.simulate === true);
  const checks = checkNetworks(show, facts, ourselves(show, facts));
  const ok = checks.every(one => one.state !== 'fail');
  if (asJson) print(JSON.stringify({ ok, checks, facts: plainFacts(facts) }, undefined, 2));
  else {
    print(`${styled('bold', show.name)}: both networks, listened to for ${seconds} s`);
    for (const line of checkTable(checks)) print(line);
  }
  return ok ? EXIT.ok : EXIT.failed;
}

/** The value of --seconds: how long to listen. */
export function listeningTime({ values }: Arguments, faults: string[]): number {
  return numberOption(values.seconds, 'seconds', 60, 1, LONGEST_S, faults);
}

/** Listens to the networks of a show; with --simulate, simulated performers play to its first input. */
export async function hearShow(
  show: Show,
  seconds: number,
  simulate: boolean,
  keep?: (datagram: Datagram) => void,
): Promise<NetworkFacts> {
  const input = show.inputs.find(one => one.carries === 'positions');
  // Simulated performers stay on this machine.
  const feed =
    simulate && input?.listen.startsWith('127.') ? new SceneFeed(tourOf(show), input) : undefined;
  if (simulate && feed === undefined) {
    complain('--simulate plays only to an input that listens on 127.x.x.x: it is left out.');
  }
  feed?.start();
  // The first Ctrl-C ends the listening; a second one ends the program as usual.
  const early = new AbortController();
  const onSignal = () => early.abort();
  process.once('SIGINT', onSignal);
  try {
    const facts = await listen(show, seconds, keep, early.signal);
    return feed === undefined ? facts : { ...facts, simulated: true };
  } finally {
    process.off('SIGINT', onSignal);
    feed?.stop();
  }
}

export function ourselves(show: Show, facts: NetworkFacts): OurSelves {
  return {
    addresses: facts.interfaces.map(one => one.address),
    name: sourceNameOf(show, false),
    standbyName: sourceNameOf(show, true),
    mayBeStandby: name => mayBePartner(name, false),
  };
}

export function plainFacts(facts: NetworkFacts): unknown {
  return {
    ...facts,
    routes: facts.routes ?? null,
    sources: [...facts.sources.values()].map(source => ({
      ...source,
      universes: [...source.universes].map(([universe, priority]) => ({ universe, priority })),
      announced: [...source.announced],
    })),
    feeds: facts.feeds.map(({ record, problem, ...feed }) => ({
      ...feed,
      problem: problem ?? null,
      systems: [...record.systems],
      names: Object.fromEntries(record.names),
      trackers: Object.fromEntries(
        [...record.trackers].map(([tracker, heard]) => [tracker, rhythmOf(heard, record.endedS)]),
      ),
    })),
  };
}
