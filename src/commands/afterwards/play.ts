import { resolve } from 'node:path';
import { ask } from '../../daemon/asking/ask.js';
import { Player } from '../../daemon/senders/player.js';
import { printable } from '../../stage/printable.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { textOption } from '../terminal/option-values.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print } from '../terminal/terminal.js';
import { readPlayed } from './play-source.js';
import { type PlayTarget, targetOf } from './play-target.js';

const misuse = misuseOf('play');

export const PLAY_HELP = `usage: lampwright play SCENE|RECORDING --show SHOW [--to WHERE] [--interface ADDRESS]
                       [--loop] [--rehearsal STATE_DIR] [--json]

Sends what trackers would report in a scene, or did report in a recording, in real time, so that light,
sound and video can be programmed with nobody on stage. A running show takes it as its tracking feed. Ctrl-C ends it.

  --show SHOW            the show with the performers, trackers and inputs; a recording brings its own
  --to WHERE             name of an input of the show (the first one): sent to its address, in its format;
                         HOST:PORT, in the same format; osc:HOST:PORT or psn:HOST:PORT
  --interface ADDRESS    address or name of the interface to send from
  --loop                 start again at the end; a scene with different noise each time
  --rehearsal STATE_DIR  the daemon with this state folder shows in its status that this is a rehearsal,
                         for as long as this plays
  --json                 what was sent, as JSON, at the end

Switch the tracking system off first: a tracker with two feeds jumps between them. The status of a running
show names both after a few seconds, if they send from two addresses or to two inputs.

examples:
  lampwright play config/scenes/lantern.scene.yaml --show config/salt-lantern.show.yaml --loop
  lampwright play recordings/2026-11-28 --to psn:236.10.10.10:56565 --interface eth1
  lampwright play act-two.scene.yaml --show my.show.yaml --rehearsal /var/lib/lampwright/main

exit codes: 0 played, or ended by Ctrl-C, 1 the show, the scene or the recording has errors, 2 bad usage or no
such file, 3 nothing could be sent`;

/** How often the daemon is told that it is a rehearsal, ms; it believes it for `HOLDS_S`. */
const SAID_EVERY_MS = 3000;
const HOLDS_S = 10;
const PROGRESS_MS = 10_000;

export async function play(args: Arguments): Promise<number> {
  const { values } = args;
  const path = args.positionals[0] ?? '';
  const showFile = textOption(values.show);
  const loaded = showFile === undefined ? undefined : loadShow(showFile);
  if (loaded !== undefined && !loaded.ok) return refuse(loaded.problems);
  const played = readPlayed(path, loaded?.show);
  if (!played.ok) {
    if (played.usage !== undefined) return misuse(played.usage);
    for (const fault of played.faults) complain(fault);
    return played.code ?? EXIT.failed;
  }
  for (const one of played.cut) complain(one);
  const target = targetOf(played.show, textOption(values.to), textOption(values.interface));
  if (typeof target === 'string') return misuse(target);
  const { name, trackers } = played;
  const unsendable = trackers.filter(one => !target.carries(one));
  if (unsendable.length > 0) {
    complain(
      `${unsendable.join(', ')}: PosiStageNet numbers its trackers from 0 to 65535; these are left out.`,
    );
  }
  return run({ name, played, target, args });
}

interface Run {
  readonly name: string;
  readonly played: Extract<ReturnType<typeof readPlayed>, { ok: true }>;
  readonly target: PlayTarget;
  readonly args: Arguments;
}

async function run({ name, played, target, args: { values } }: Run): Promise<number> {
  const asJson = values.json === true;
  const player = new Player({ ...target, round: played.round, loops: values.loop === true });
  const problem = await player.open();
  if (problem !== undefined) {
    complain(`lampwright play: ${problem}`);
    return EXIT.fault;
  }
  const where = `${target.protocol === 'psn' ? 'PosiStageNet' : 'OSC'} to ${target.address}:${target.port}`;
  if (!asJson)
    print(
      `playing ${name}: ${where}, ${Math.round(played.lengthS)} s${values.loop === true ? ', again and again' : ''}; Ctrl-C ends it`,
    );
  const said = sayRehearsal(textOption(values.rehearsal), name);
  const progress = setInterval(() => {
    if (!asJson) print(`${Math.round(player.elapsedS)} s, ${player.sent} reports`);
  }, PROGRESS_MS);
  const stop = () => player.stop();
  process.once('SIGINT', stop);
  process.once('SIGTERM', stop);
  await player.play();
  process.off('SIGINT', stop);
  process.off('SIGTERM', stop);
  clearInterval(progress);
  await said?.end();
  const { sent, failed, elapsedS, fault } = player;
  if (asJson) {
    const result = {
      played: name,
      protocol: target.protocol,
      to: `${target.address}:${target.port}`,
      trackers: played.trackers,
      elapsedS,
      reports: sent,
      failed,
      fault: fault ?? null,
    };
    print(JSON.stringify(result, undefined, 2));
  } else
    print(
      `played for ${elapsedS.toFixed(1)} s: ${sent} reports of ${played.trackers.length} trackers${failed > 0 ? `; ${failed} could not be sent: ${fault}` : ''}`,
    );
  return sent === 0 && failed > 0 ? EXIT.fault : EXIT.ok;
}

/** Repeats it, so that a restarted daemon knows it too; when we are gone, the daemon forgets it. */
function sayRehearsal(folder: string | undefined, name: string) {
  if (folder === undefined) return undefined;
  let isTold = true;
  const say = async (words: readonly string[]) => {
    const answer = await ask(resolve(folder), ['rehearsal', ...words]);
    if (!answer.ok && isTold)
      complain(`the daemon can't be told that it is a rehearsal: ${answer.text}`);
    isTold = answer.ok;
  };
  const what = printable(name);
  void say([what, String(HOLDS_S)]);
  const timer = setInterval(() => void say([what, String(HOLDS_S)]), SAID_EVERY_MS);
  return {
    end: () => {
      clearInterval(timer);
      return say(['off']);
    },
  };
}
