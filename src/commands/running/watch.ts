import { follow } from '../../daemon/asking/follow.js';
import { monotonicS } from '../../daemon/machine/clock.js';
import type { LiveLine } from '../../live/schema.js';
import { plainView } from '../../panel/plain-view.js';
import { newsOf, Screen } from '../../panel/screen.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { complain, print, styled } from '../terminal/terminal.js';

export const WATCH_HELP = `usage: lampwright watch [STATE_DIR] [--plain | --json] [--rate N]

Shows a running daemon in the terminal: the stage from above, who is lost, since when and why, zones, lights, and recent
events. It can't change anything. STATE_DIR is the folder that the daemon was started with (run --state-dir); the default is that of the
service, /var/lib/lampwright/main. While the daemon does not answer, the view says how old its picture is, and reconnects
by itself. q or Ctrl-C quits.

  --plain    a line a second instead of the view; the default when the output is not a terminal
  --json     the snapshot stream as it is: docs/reference/snapshot-stream.md
  --rate N   snapshots a second, from 0.1 to 10 (10)

examples:
  lampwright watch
  lampwright watch ./state
  lampwright watch ./state --json --rate 1 > evening.jsonl

exit codes: 0 quit by the user, or nobody reads on, 2 bad usage, or with --json and --plain no daemon there`;

/** Where systemd keeps the state of the unit lampwright@main. */
const SERVICE_FOLDER = '/var/lib/lampwright/main';
const MOST_HZ = 10;
const LEAST_HZ = 0.1;
const AGAIN_MS = 500;
const REDRAW_MS = 500;
/** In raw mode Ctrl-C and Ctrl-D arrive as keys. */
const LEAVE_KEYS = ['q', 'Q', '\u0003', '\u0004'];

const misuse = misuseOf('watch');

export async function watch({ positionals, values }: Arguments): Promise<number> {
  const [folder = SERVICE_FOLDER] = positionals;
  const rateHz = values.rate === undefined ? undefined : Number(values.rate);
  if (rateHz !== undefined && !(rateHz >= LEAST_HZ && rateHz <= MOST_HZ)) {
    return misuse(`--rate is a number from ${LEAST_HZ} to ${MOST_HZ}, not "${values.rate}".`);
  }
  if (values.json === true) return stream(folder, rateHz ?? MOST_HZ, line => JSON.stringify(line));
  if (values.plain === true || process.stdout.isTTY !== true) {
    return stream(folder, rateHz ?? 1, plainLine());
  }
  return view(folder, rateHz ?? MOST_HZ);
}

/** Writes lines until the daemon ends. */
function stream(
  folder: string,
  rateHz: number,
  text: (line: LiveLine) => string | undefined,
): Promise<number> {
  return new Promise(resolve => {
    let any = false;
    const { end: stop } = follow(folder, rateHz, {
      line: line => {
        any = true;
        const told = text(line);
        if (told !== undefined) print(told);
      },
      ended: why => {
        complain(why);
        resolve(any ? EXIT.ok : EXIT.usage);
      },
    });
    onLeave(() => {
      stop();
      resolve(EXIT.ok);
    });
  });
}

function plainLine(): (line: LiveLine) => string | undefined {
  let stage: Extract<LiveLine, { kind: 'stage' }> | undefined;
  return line => {
    if (line.kind === 'stage') stage = line;
    if (line.kind === 'event') return newsOf(line);
    return line.kind === 'snapshot' && stage !== undefined ? plainView(stage, line) : undefined;
  };
}

/** Shows the view until somebody quits. */
function view(folder: string, rateHz: number): Promise<number> {
  const hint = 'q quits; the show goes on';
  const screen = new Screen(process.stdout, styled, hint, monotonicS);
  let stop: (() => void) | undefined;
  let again: NodeJS.Timeout | undefined;
  const begin = () => {
    screen.forgetNews();
    stop = follow(folder, rateHz, {
      line: line => screen.take(line),
      ended: why => {
        screen.fault = `${why} Trying again.`;
        again = setTimeout(begin, AGAIN_MS);
      },
    }).end;
  };
  screen.begin();
  screen.draw();
  begin();
  const redraw = setInterval(() => screen.draw(), REDRAW_MS);
  process.stdout.on('resize', () => screen.draw());
  return new Promise(resolve => {
    const leave = () => {
      clearInterval(redraw);
      clearTimeout(again);
      stop?.();
      if (process.stdin.isTTY) process.stdin.setRawMode(false);
      screen.end();
      resolve(EXIT.ok);
    };
    onLeave(leave);
    if (!process.stdin.isTTY) return;
    process.stdin.setRawMode(true);
    process.stdin.on('data', keys => {
      if (LEAVE_KEYS.some(key => keys.includes(key))) leave();
    });
  });
}

/** Calls `leave` on a signal, or when nobody reads on, as with `| head`. */
function onLeave(leave: () => void): void {
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, leave);
  process.stdout.on('error', ({ code }: NodeJS.ErrnoException) => {
    if (code === 'EPIPE') leave();
  });
}
