import { fileURLToPath } from 'node:url';
import { describe } from '../daemon/describe.js';
import { EnableHand } from '../daemon/enable-hand.js';
import { SceneFeed } from '../daemon/scene-feed.js';
import { Supervisor } from '../daemon/supervisor.js';
import type { Snapshot } from '../engine/snapshot.js';
import { liveView } from '../panel/live-view.js';
import { SALT_LANTERN } from '../rehearsal/salt-lantern.js';
import { type Labels, labelsOf } from '../show/labels.js';
import type { Arguments } from './dispatch.js';
import { EXIT } from './exit-codes.js';
import { refuse } from './refuse.js';
import { runSupervisor } from './run.js';
import { loadShow } from './show-file.js';
import { complain, print, styled } from './terminal.js';

export const DEMO_HELP = `usage: lampwright demo [--seconds N] [--plain]

Runs config/salt-lantern.show.yaml with simulated performers, whose positions travel as real OSC
datagrams over loopback. Levels go to 127.0.0.1 only: sACN universe 1 and Art-Net Port-Address 2.
On a terminal it shows the stage from above; Ctrl-C fades to the safe look and leaves.

  --seconds N   end by itself after N seconds
  --plain       lines instead of the live view, also on a terminal

examples:
  lampwright demo
  lampwright demo --seconds 30 --plain

exit codes: 0 ended cleanly, 2 bad usage, 3 a port is taken`;

const SHOW_FILE = fileURLToPath(new URL('../../config/salt-lantern.show.yaml', import.meta.url));
const VIEW_HZ = 10;
const PLAIN_EVERY_S = 2;
const NEWS_KEPT = 20;

export async function demo(args: Arguments): Promise<number> {
  const seconds = args.values.seconds === undefined ? undefined : Number(args.values.seconds);
  if (seconds !== undefined && !(seconds > 0 && seconds <= 86_400)) {
    complain(
      `lampwright demo: --seconds is a number from 0 to 86400, not "${args.values.seconds}".`,
    );
    return EXIT.usage;
  }
  const loaded = loadShow(SHOW_FILE);
  if (!loaded.ok) {
    refuse(loaded.problems);
    return EXIT.failed;
  }
  const { show } = loaded;
  const labels = labelsOf(show);
  const input = show.inputs[0];
  if (input === undefined) return EXIT.failed;
  const live = process.stdout.isTTY === true && args.values.plain !== true;
  const news: string[] = [];
  let latest: Snapshot | undefined;
  let printedS = Number.NEGATIVE_INFINITY;

  const supervisor = new Supervisor({
    show,
    text: loaded.whole,
    file: SHOW_FILE,
    snapshotHz: VIEW_HZ,
    traceTicks: false,
    onEvent: event => {
      const { text } = describe(event, labels);
      const line = `${new Date().toISOString().slice(11, 23)}  ${text}`;
      if (!live) print(line);
      news.push(line);
      if (news.length > NEWS_KEPT) news.shift();
    },
    onCounters: () => undefined,
    onSnapshot: snapshot => {
      latest = snapshot;
      if (live) draw();
      else if (snapshot.atS - printedS >= PLAIN_EVERY_S) {
        printedS = snapshot.atS;
        print(plainLine(snapshot, labels));
      }
    },
  });
  const draw = () => {
    const { columns, rows } = process.stdout;
    const lines = liveView({
      show,
      snapshot: latest,
      lights: supervisor.phase,
      enginePid: supervisor.enginePid,
      news,
      columns,
      rows,
      style: styled,
    });
    // Home, each line cleared to its end, and all below: no flicker, nothing left over.
    process.stdout.write(
      `\x1b[H${lines
        .slice(0, rows - 1)
        .map(line => `${line}\x1b[K\n`)
        .join('')}\x1b[J`,
    );
  };
  const feed = new SceneFeed(SALT_LANTERN, input);
  feed.start();
  const operator = show.inputs[show.operator?.input ?? -1];
  const hand =
    operator === undefined
      ? undefined
      : new EnableHand('atmospheric', operator.listen, operator.port);
  hand?.start();
  // A screen of its own, no cursor, and long lines cut instead of wrapped.
  if (live) process.stdout.write('\x1b[?1049h\x1b[?25l\x1b[?7l');
  const until = seconds === undefined ? undefined : seconds * 1000;
  const code = await runSupervisor(
    supervisor,
    `The Salt Lantern (OSC on ${input.listen}:${input.port}, sACN universe 1 and Art-Net Port-Address 2 to 127.0.0.1)`,
    {
      say: text => (live ? news.push(text) : print(text)),
      ignored: (signal, why) => news.push(`${signal}: ${why}`),
    },
    until,
  );
  feed.stop();
  hand?.stop();
  if (live) {
    process.stdout.write('\x1b[?7h\x1b[?25h\x1b[?1049l');
    for (const line of news.slice(-5)) print(line);
  }
  return code;
}

function plainLine(snapshot: Snapshot, labels: Labels): string {
  const performers = snapshot.performers.map(
    p =>
      `${labels.performer(p.name)} ${p.phase} ${Math.round(p.confidence.value * 100)} % (${p.x.toFixed(1)}, ${p.y.toFixed(1)})${p.zones.length > 0 ? ` in ${p.zones.map(labels.zone).join(', ')}` : ''}`,
  );
  const levels = snapshot.fixtures.map(
    f => `${labels.fixture(f.name)} ${Math.round(f.values.Dimmer ?? 0)}`,
  );
  return `    ${performers.join(' | ')}\n    ${levels.join(', ')}`;
}
