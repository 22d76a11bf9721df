import { join } from 'node:path';
import { LiveFeed } from '../../daemon/live/feed.js';
import { monotonicS } from '../../daemon/machine/clock.js';
import { Ownership } from '../../daemon/ownership/ownership.js';
import { readPanelOptions } from '../../daemon/panel/panel-options.js';
import { EnableHand } from '../../daemon/senders/enable-hand.js';
import { SceneFeed } from '../../daemon/senders/scene-feed.js';
import { Supervisor } from '../../daemon/supervisor.js';
import { describe } from '../../daemon/words/describe.js';
import type { LiveLine } from '../../live/schema.js';
import type { LiveStage } from '../../live/stage-schema.js';
import { plainView } from '../../panel/plain-view.js';
import { Screen } from '../../panel/screen.js';
import { SALT_LANTERN } from '../../rehearsal/scenes/salt-lantern.js';
import { labelsOf } from '../../show/model/labels.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { packageFolder } from '../terminal/package-folder.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { DemoPanel } from './demo-panel.js';
import { runSupervisor } from './run.js';

export const DEMO_HELP = `usage: lampwright demo [--seconds N] [--plain] [--panel WHERE]

Runs config/salt-lantern.show.yaml with simulated performers, whose positions travel as real OSC
datagrams over loopback. Levels go to 127.0.0.1 only: sACN universe 1 and Art-Net Port-Address 2.
In a terminal it shows the stage from above; Ctrl-C fades to the safe look and quits. It prints the link to its panel,
a web page: anybody with the link can act.

  --seconds N     end by itself after N seconds
  --plain         lines instead of the live view, even in a terminal
  --panel WHERE   where the panel listens: ADDRESS:PORT (127.0.0.1:7240, or any port that is free), or off

examples:
  lampwright demo
  lampwright demo --seconds 30 --plain
  lampwright demo --panel off

exit codes: 0 ended cleanly, 2 bad usage, 3 a port is taken`;

const SHOW_FILE = join(packageFolder(), 'config', 'salt-lantern.show.yaml');
const VIEW_HZ = 10;
const PLAIN_EVERY_S = 2;

export async function demo(args: Arguments): Promise<number> {
  const seconds = args.values.seconds === undefined ? undefined : Number(args.values.seconds);
  if (seconds !== undefined && !(seconds > 0 && seconds <= 86_400)) {
    complain(
      `lampwright demo: --seconds is a number from 0 to 86400, not "${args.values.seconds}".`,
    );
    return EXIT.usage;
  }
  const where = typeof args.values.panel === 'string' ? args.values.panel : undefined;
  const panelOptions = readPanelOptions({
    ...{ panel: where, hosts: undefined, cert: undefined, key: undefined },
  });
  if (typeof panelOptions === 'string') {
    complain(`lampwright demo: ${panelOptions}`);
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
  const hint = 'Ctrl-C fades to the safe look and quits';
  const screen = new Screen(process.stdout, styled, hint, monotonicS);
  const say = (text: string) => (live ? screen.say(text) : print(text));
  const panel =
    panelOptions &&
    DemoPanel.make({
      listening: link => {
        // In the view the link has to stay visible, and fit 80 columns.
        if (live) screen.hint = `Ctrl-C quits. Panel: ${link}`;
        else print(`The panel is at ${link}`);
      },
      say,
    });
  const ownership = new Ownership();
  // Before the panel's socket exists: it would look like that of another show.
  const owned = await ownership.take(show, panel?.folder);
  if (!owned.ok) {
    for (const problem of owned.problems) complain(problem);
    await panel?.close();
    return EXIT.fault;
  }
  let stage: LiveStage | undefined;
  const looking = new LiveFeed(() => supervisor, monotonicS);
  const operator = show.inputs[show.operator?.input ?? -1];
  const hand =
    operator === undefined
      ? undefined
      : new EnableHand('atmospheric', operator.listen, operator.port);
  const supervisor: Supervisor = new Supervisor({
    show,
    text: loaded.whole,
    file: SHOW_FILE,
    traceTicks: false,
    stateFolder: panel?.folder,
    ownership,
    onEvent: event => {
      if (event.kind === 'lights' && event.to === 'live') hand?.start();
      panel?.hear(event);
      const entry = describe(event, labels);
      looking.note(entry, Date.now() / 1e3);
      if (!live) print(`${new Date().toISOString().slice(11, 23)}  ${entry.text}`);
    },
    onCounters: () => undefined,
    onSnapshot: text => looking.take(text),
  });
  looking.add({
    rateHz: live ? VIEW_HZ : 1 / PLAIN_EVERY_S,
    write: text => {
      const line = JSON.parse(text) as LiveLine;
      if (line.kind === 'stage') stage = line;
      if (live) screen.take(line);
      else if (line.kind === 'snapshot' && line.engine !== null && stage !== undefined) {
        print(plainView(stage, line));
      }
    },
  });
  if (panelOptions !== undefined) await panel?.open(supervisor, looking, panelOptions);
  const feed = new SceneFeed(SALT_LANTERN, input);
  feed.start();
  if (live) screen.begin();
  const until = seconds === undefined ? undefined : seconds * 1000;
  const code = await runSupervisor(
    supervisor,
    `The Salt Lantern (OSC on ${input.listen}:${input.port}, sACN universe 1 and Art-Net Port-Address 2 to 127.0.0.1)`,
    {
      say,
      ignored: (signal, why) => screen.say(`${signal}: ${why}`),
    },
    until,
  );
  feed.stop();
  hand?.stop();
  await panel?.close();
  looking.close();
  if (live) screen.end();
  return code;
}
