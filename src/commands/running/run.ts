import { existsSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { tickHzOf } from '../../daemon/beats/show-lighting.js';
import type { Reloaded } from '../../daemon/beats/supervisor-options.js';
import { AcceptedShow, refusalOf } from '../../daemon/files/accepted-show.js';
import { FileWatch } from '../../daemon/files/file-watch.js';
import { LiveFeed } from '../../daemon/live/feed.js';
import { createLog, type LogFormat } from '../../daemon/log/log.js';
import type { Entry } from '../../daemon/log/log-entry.js';
import { LogLines } from '../../daemon/log/log-lines.js';
import { monotonicS } from '../../daemon/machine/clock.js';
import { OrderRepeater, type Repeated } from '../../daemon/operator/order-repeater.js';
import { Control } from '../../daemon/operator/requests.js';
import { Ownership } from '../../daemon/ownership/ownership.js';
import { readPanelOptions } from '../../daemon/panel/panel-options.js';
import { describePanel, PanelRunner } from '../../daemon/panel/panel-runner.js';
import { forgetWhere } from '../../daemon/panel/token.js';
import { SupervisorRecorder } from '../../daemon/recorder/supervisor-recorder.js';
import { ActionSender } from '../../daemon/senders/action-sender.js';
import { PositionsSender } from '../../daemon/senders/positions-sender.js';
import { ReceiverSockets } from '../../daemon/senders/receiver-sockets.js';
import { isService } from '../../daemon/service/service.js';
import { Supervisor, type SupervisorEvent } from '../../daemon/supervisor.js';
import { describe } from '../../daemon/words/describe.js';
import { DropNews } from '../../daemon/words/drop-news.js';
import { counted } from '../../engine/events/event-words.js';
import { labelsOf } from '../../show/model/labels.js';
import { outputNames, ownOutputs } from '../../show/model/own-outputs.js';
import { parseShow } from '../../show/parse.js';
import { formatProblem } from '../../show/problems/problem.js';
import { messageOf } from '../../stage/message-of.js';
import { savedProblems } from '../files/saved-problems.js';
import { type LoadedShow, loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { refuse } from '../terminal/refuse.js';
import { complain } from '../terminal/terminal.js';
import { onLastResort } from './last-resort.js';
import { leave } from './leave.js';
import { type LightSignals, listenToSignals } from './light-signals.js';
import { recordOrders } from './record-options.js';
import { loadShowInChild, notTaken } from './show-in-child.js';
import { whereSafeLookIsOut } from './where-light-is-out.js';

export const RUN_HELP = `usage: lampwright run SHOW [--log json|text] [--state-dir DIR] [--record DIR]
                        [--outputs NAMES] [--standby]

Runs a show until it is stopped: sends the safe look at once, starts the engine, and goes live when
performers are tracked. SIGINT, SIGTERM or SIGQUIT fades to the safe look, ends the streams and exits;
a second one, at least 0.1 s later, quits at once. Where a standby with the same light is heard, it ends the
streams without a fade, and the light is the standby's. SIGHUP reads the show file again: the light crossfades
to the changed show over its \`reload\` seconds; if patch, outputs or inputs have changed, it fades to the
safe look first. A file with errors is rejected and logged, and the running show carries on. When started in a
terminal, it takes SIGHUP to mean that the terminal closed, and keeps running: use \`lampwright tell STATE_DIR reload\` there.

  --log json|text   one JSON object a line, or plain sentences; the default is text in a terminal, else json
  --state-dir DIR   where to keep what people change while it runs (lampwright tell), for the next start;
                    under systemd the unit's StateDirectory, otherwise nothing is kept
                    it also keeps the show that was accepted last: if the show file has errors at a start,
                    or was refused by a reload, that one runs, and the log says so each minute
                    after kill -9 only a service carries on from the last levels; a daemon
                    started by hand begins at the safe look (unless RUNTIME_DIRECTORY is a folder in memory)
  --standby         this is the second machine of a pair: it sends at a lower priority, see
                    docs/guides/two-machines.md
  --outputs NAMES   send only these outputs of the show, "left,right": other machines send the rest, see
                    docs/guides/two-machines.md
  --panel WHERE     where the panel listens: ADDRESS:PORT (127.0.0.1:7240), or off. It needs --state-dir. On any address other than
                    loopback, a token is needed even to look (lampwright panel, docs/guides/the-panel.md)
  --panel-host NAME   a host name that browsers may use for it, besides its address
  --panel-cert FILE, --panel-key FILE   use TLS with this certificate and key (PEM)
  --watch           read the show again whenever it, or one of its profile files, is saved
  --trace-ticks     log each tick's start and length, for measurements
  --record DIR      record to a new folder in DIR: see \`lampwright replay --help\` and \`report\`
  --record-part S   size at which the next file begins (256MiB; a file never covers more than an hour)
  --record-total S  delete the oldest parts in DIR beyond this size, such as 20GiB (never)

examples:
  lampwright run config/salt-lantern.show.yaml
  lampwright run my.show.yaml --log json >> show.log
  lampwright run my.show.yaml --watch
  lampwright run my.show.yaml --record recordings --record-total 20GiB

exit codes: 0 stopped cleanly, 1 the show has errors, 2 bad usage or no such file,
3 another process has the show's universes or state folder, or the show can't be read at the moment;
under systemd 78 in place of 1 and 2: after any other code systemd restarts it`;

/** Drops are reported together, so that a flood of bad input doesn't flood the log. */
const REPORT_DROPS_EVERY_MS = 10_000;
/** How long the process waits at its end for the log to be written. */
const LAST_WORDS_MS = 500;
/** Wait before giving up under a service manager; shorter than the unit's TimeoutStartSec. */
const SERVED_PATIENCE_MS = 5000;
/**
 * One Ctrl-C can arrive twice: from the terminal, and from a program in between that passes it on at once. Somebody who
 * means a second one takes longer to press it.
 */
const SAME_SIGNAL_MS = 100;

export async function run(args: Arguments): Promise<number> {
  const format = args.values.log ?? (process.stdout.isTTY ? 'text' : 'json');
  if (format !== 'json' && format !== 'text') {
    complain(`lampwright run: --log is json or text, not "${format}".`);
    return EXIT.usage;
  }
  const file = args.positionals[0] ?? '';
  const stateFolder = stateFolderOf(args);
  const panelOptions = readPanelOptions({
    panel: textOf(args.values.panel),
    hosts: textOf(args.values['panel-host']),
    cert: textOf(args.values['panel-cert']),
    key: textOf(args.values['panel-key']),
  });
  if (typeof panelOptions === 'string') {
    complain(`lampwright run: ${panelOptions}`);
    return EXIT.usage;
  }
  if (stateFolder === undefined && args.values.panel !== undefined && panelOptions !== undefined) {
    complain('lampwright run: --panel takes --state-dir: its token is kept there.');
    return EXIT.usage;
  }
  const onDisk = loadShow(file);
  const inPlace = acceptedInPlaceOf(onDisk, stateFolder, file);
  const read = inPlace?.loaded ?? onDisk;
  if (!read.ok) return refuse(read.problems);
  const names = outputNames(args.values.outputs);
  const own = ownOutputs(read.show, names);
  if (!own.ok) {
    for (const problem of own.problems) complain(`lampwright run: ${problem}`);
    return EXIT.usage;
  }
  const loaded = { ...read, show: own.show };
  const recording = recordOrders(args, loaded.show);
  if (!recording.ok) {
    for (const fault of recording.faults) complain(`lampwright run: ${fault}`);
    return EXIT.usage;
  }
  const standby = args.values.standby === true;
  const lowest = loaded.show.outputs.find(one => one.protocol === 'sacn' && one.priority < 2);
  if (standby && lowest !== undefined) {
    complain(
      `lampwright run: output "${lowest.name}" has too low a priority for two machines: the standby sends one below it, a main machine that comes back two below; 2 is the least.`,
    );
    return EXIT.usage;
  }
  const ownership = new Ownership();
  const makesState = stateFolder !== undefined && !existsSync(stateFolder);
  // Before the first packet, and before any file is touched.
  const owned = await ownership.take(loaded.show, stateFolder);
  if (!owned.ok) {
    for (const problem of owned.problems) complain(problem);
    // A service manager tries again at once, and each try takes processor time from the running show.
    if (owned.isHeld && isService(process.env)) await sleep(SERVED_PATIENCE_MS);
    return EXIT.fault;
  }
  const record = recording.orders;
  const source = { text: loaded.whole, file, tickHz: tickHzOf(loaded.show) };
  const recorder = record && new SupervisorRecorder(record, loaded.show, source);
  // When the reader of the log goes away, the light must go on.
  for (const stream of [process.stdout, process.stderr]) stream.on('error', () => undefined);
  const { logger: log, sink } = await createLog(format as LogFormat);
  const looking = new LiveFeed(() => supervisor, monotonicS);
  const toLog = ({ level, text, data }: Entry) => log[level](data, text);
  const lines = format === 'text' ? new LogLines(toLog) : { note: toLog };
  const write = (entry: Entry) => {
    looking.note(entry, Date.now() / 1e3);
    lines.note(entry);
  };
  if (makesState) {
    log.info(
      { kind: 'state-folder', folder: stateFolder },
      `the state folder ${stateFolder} was missing and has been made: stops and tracker changes of earlier runs are not known. If it belongs on a disk, check that the disk is mounted`,
    );
  }
  if (recording.without !== undefined) {
    log.error({ kind: 'recording', state: 'faulty' }, recording.without);
  }
  const drops = new DropNews(write);

  let isAlone = true;
  const tellControl = (fault: string | undefined) => {
    isAlone = fault === undefined;
    supervisor.trouble(
      'control',
      fault && `no orders can be taken by \`lampwright tell\`: ${fault}`,
    );
    const entry = { kind: 'control-fault', fault };
    if (fault === undefined) log.info(entry, 'orders by `lampwright tell` can be taken again');
    else
      log.error(
        entry,
        `no orders can be taken by \`lampwright tell\`: ${fault}; trying again each second`,
      );
  };
  const control = stateFolder === undefined ? undefined : new Control(stateFolder, tellControl);
  const note = (event: SupervisorEvent) => {
    // The engine records its own.
    // The engine records its own; but why it was late is what the supervisor took the light for.
    if (event.kind !== 'engine' || event.event.kind === 'stalled') recorder?.event(event);
    write(describe(event, labelsOf(supervisor.show), supervisor.phase));
  };
  const sockets = new ReceiverSockets((receiver, fault, leftOut) => {
    supervisor.trouble(
      `receiver ${receiver}`,
      fault && `receiver ${receiver} can't be told: ${fault}`,
    );
    const entry = { kind: 'receiver-fault', receiver, fault, ...(leftOut > 0 && { leftOut }) };
    const missed = leftOut === 0 ? '' : `; ${counted(leftOut, 'message')} left out`;
    if (fault === undefined) log.info(entry, `receiver ${receiver} can be told again${missed}`);
    else log.error(entry, `receiver ${receiver} can't be told: ${fault}`);
  });
  const actions = new ActionSender(sockets);
  let repeater: OrderRepeater | undefined;
  const supervisor: Supervisor = new Supervisor({
    show: loaded.show,
    text: loaded.whole,
    file,
    traceTicks: args.values['trace-ticks'] === true,
    standby,
    stateFolder,
    ownership,
    startsAnyway: true,
    ...(inPlace && { staleBecause: inPlace.because }),
    runtimeFolder: process.env.RUNTIME_DIRECTORY?.split(':')[0],
    record,
    onEngineStarts: () => control?.makeRoom('engine'),
    onEvent: event => {
      if (event.kind === 'engine' && event.event.kind === 'action') {
        if (!actions.send(event.event, supervisor.show.receivers, supervisor.leads)) return;
      }
      note(event);
      control?.hear(event);
      if (event.kind === 'stopping') repeater?.end();
      // The other machine may have the light, or be about to take it.
      const what = event.kind === 'engine' ? event.event.kind : event.kind;
      if (!['stopped', 'resumed', 'pair'].includes(what)) return;
      setImmediate(() => repeater?.tell()); // when it is in the memory
    },
    onCounters: latest => {
      drops.hear(latest);
    },
    onSnapshot: text => looking.take(text),
    onPositions: rounds => positions.send(rounds),
  });
  const positions = new PositionsSender(
    sockets,
    () => supervisor.show,
    () => supervisor.leads,
  );
  const dropTimer = setInterval(() => {
    recorder?.delays(supervisor.delays);
    const closed = control?.takeDrops();
    if (closed !== undefined) {
      const text = `control socket: ${closed}`;
      write({ level: 'warn', text, data: { kind: 'control-dropped' } });
    }
    drops.tell();
  }, REPORT_DROPS_EVERY_MS);
  let files = filesOf(file, onDisk);
  const reload = (by: string | undefined) => {
    control?.makeRoom('reader');
    return reloadFrom({ file, names }, supervisor, note, by, read => {
      files = filesOf(file, read);
    });
  };
  const unheld = onLastResort(error => {
    supervisor.freeze();
    log.fatal(
      { kind: 'crash', stack: error.stack },
      `ends, and has to be started again: ${error.message}`,
    );
    recorder?.flushNow();
    return sink.flush(LAST_WORDS_MS);
  });
  await control?.open(supervisor, reload, looking);
  // Remove the address that an earlier daemon left; one that still answers there keeps its own.
  if (stateFolder !== undefined && isAlone) forgetWhere(stateFolder);
  const panel =
    stateFolder === undefined || panelOptions === undefined
      ? undefined
      : new PanelRunner({ ...panelOptions, folder: stateFolder }, event => {
          write(describePanel(event));
          supervisor.panel(event);
        });
  panel?.start();
  let wasLive = false;
  const repeated = (): Repeated | undefined => {
    const isLive = supervisor.phase === 'live';
    // A machine that has just started may be about to hear that the other one has the light.
    wasLive ||= isLive;
    const { cue, pins, mappingsOff, performers, stops, ownStops } = supervisor.keeping;
    const told = { show: supervisor.show, everybodyStopped: stops.everybody, performers };
    const which = supervisor.tellsOther;
    if (which === undefined || (!standby && !wasLive)) return undefined;
    const { everybody, performers: own } = ownStops;
    const said = which === 'all' ? told : { ...told, everybodyStopped: everybody, performers: own };
    if (standby) return { ...said, to: 'main', live: undefined };
    const live = which === 'all' && isLive ? { cue, pins, mappingsOff } : undefined;
    return { ...said, to: 'standby', live };
  };
  repeater = new OrderRepeater(repeated, () => ({
    show: supervisor.show,
    to: standby ? 'main' : 'standby',
    state: supervisor.hearsTracking ? 'well' : 'no-tracking',
  }));

  let watch: FileWatch | undefined;
  if (args.values.watch === true) {
    watch = new FileWatch(
      () => files,
      async () => {
        const done = await reload('a save');
        if (Array.isArray(done)) for (const entry of savedProblems(done)) write(entry);
      },
    );
    await watch.start();
  }
  const code = await runSupervisor(supervisor, `show "${loaded.show.name}"`, {
    say: text => log.info(text),
    reload: () => void reload('SIGHUP'),
    ignored: (signal, why) => log.warn({ kind: 'signal-ignored', signal }, `${signal}: ${why}`),
  });
  repeater?.close();
  watch?.end();
  positions.end();
  sockets.end();
  await panel?.end();
  looking.close();
  control?.close();
  clearInterval(dropTimer);
  drops.tell();
  recorder?.delays(supervisor.delays);
  await recorder?.close();
  await sink.flush(LAST_WORDS_MS);
  unheld();
  return leave(code);
}

function textOf(value: string | boolean | undefined): string | undefined {
  return typeof value === 'string' ? value : undefined;
}

/** --state-dir, or the unit's folder from systemd (systemd.exec(5), StateDirectory=; the first if there are several). */
function stateFolderOf(args: Arguments): string | undefined {
  const wanted = args.values['state-dir'] ?? process.env.STATE_DIRECTORY?.split(':')[0];
  return typeof wanted === 'string' && wanted !== '' ? wanted : undefined;
}

/**
 * The last accepted show of a file that now has errors or was refused by a reload. A bad file leaves the running show
 * untouched; after a crash and a restart the stage must not be dark because of it either.
 */
function acceptedInPlaceOf(onDisk: LoadedShow, stateFolder: string | undefined, file: string) {
  const accepted = stateFolder === undefined ? undefined : AcceptedShow.read(stateFolder, file);
  if (accepted === undefined) return undefined;
  const refusal = onDisk.ok ? refusalOf(accepted, onDisk.whole) : undefined;
  if (onDisk.ok && refusal === undefined) return undefined;
  const parsed = parseShow(accepted.text, file);
  if (!parsed.ok) return undefined;
  const because = onDisk.ok
    ? (refusal ?? []).map(problem => `the last reload refused it: ${problem}`)
    : onDisk.problems.map(formatProblem);
  return { loaded: { ...parsed, whole: accepted.text }, because };
}

/** Builds the whole new show, then swaps; one with errors is rejected and logged. @returns what is wrong with it */
async function reloadFrom(
  { file, names }: { readonly file: string; readonly names: readonly string[] | undefined },
  supervisor: Supervisor,
  note: (event: SupervisorEvent) => void,
  by: string | undefined,
  onRead: (loaded: LoadedShow) => void,
): Promise<Reloaded> {
  let problems: readonly string[];
  let trouble = 'the show file was refused at the last reload';
  try {
    const loaded = await loadShowInChild(file);
    onRead(loaded);
    const own = loaded.ok ? ownOutputs(loaded.show, names) : undefined;
    if (loaded.ok && own?.ok === true) {
      return await supervisor.reload(
        {
          show: own.show,
          text: loaded.whole,
          file,
          packed: loaded.packed,
          missing: loaded.missing,
        },
        by,
      );
    }
    if (loaded.ok) problems = own?.ok === false ? own.problems : [];
    else {
      problems = loaded.problems.map(formatProblem);
      trouble = notTaken(loaded);
    }
  } catch (error) {
    problems = [messageOf(error)];
  }
  note({ kind: 'reload-refused', problems, by });
  supervisor.trouble('reload', trouble);
  return problems;
}

/** The show file and the profile files that it names. */
function filesOf(file: string, { parts }: LoadedShow): readonly string[] {
  return [file, ...[...parts.values()].map(part => part.file)];
}

export interface RunHooks {
  say(text: string): void;
  /** Called on SIGHUP; undefined: there is nothing to reload. */
  readonly reload?: (() => void) | undefined;
  readonly ignored: LightSignals['ignored'];
}

/**
 * Runs a supervisor from its start until a signal ends it.
 * @param untilMs ends by itself after this time, ms; undefined: never
 * @returns the exit code
 */
export async function runSupervisor(
  supervisor: Supervisor,
  what: string,
  { say, reload, ignored }: RunHooks,
  untilMs?: number,
): Promise<number> {
  let end: (code: number) => void = () => undefined;
  const ended = new Promise<number>(resolve => {
    end = resolve;
  });
  let firstMs: number | undefined;
  const onSignal = () => {
    if (firstMs === undefined) {
      firstMs = performance.now();
      void supervisor.stop().then(() => end(EXIT.ok));
    } else if (performance.now() - firstMs > SAME_SIGNAL_MS) {
      void supervisor.abort().then(() => end(EXIT.ok));
    }
  };
  const deafen = listenToSignals({ stop: onSignal, reload, ignored });
  const problems = await supervisor.start(message => {
    complain(message);
    void supervisor.abort().then(() => end(EXIT.fault));
  });
  if (problems.length > 0) {
    for (const problem of problems) complain(problem);
    return EXIT.fault;
  }
  say(`${what} is running: ${whereSafeLookIsOut(supervisor.status.outputs)}`);
  const timer = untilMs === undefined ? undefined : setTimeout(onSignal, untilMs);
  const code = await ended;
  clearTimeout(timer);
  deafen();
  return code;
}
