// Faults that could end the supervisor itself, or leave it without an engine; see faults.mjs.
import { execFileSync } from 'node:child_process';
import { mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { engineLateS, engineSpeaksOf, lostS, restartS, wayS } from './declared.mjs';
import { until } from './rig.mjs';
import { TIMES } from './show.mjs';

/** The engine is killed, and none can be started for so long. */
const NO_ENGINE_MS = 5000;
/** What reading a show may take of the supervisor's own memory, however large it is. */
const MOST_READING_MIB = 64;

const couldNotStart = rig =>
  rig.daemon.log.some(({ msg }) => /could not be started/.test(msg)) ||
  'nobody told that no engine could be started';

/** Descriptors that a process may have from now on. */
const limitDescriptors = (pid, most) =>
  execFileSync('prlimit', ['--pid', String(pid), `--nofile=${most}:1024`]);

/** The most memory that a process has had, MiB (proc_pid_status(5)). */
const peakMiB = pid =>
  Number(/VmHWM:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024;

/** A show that is far too much, and files that have no end: name, text of the show file. */
function tooMuch(rig) {
  const { text, file } = rig.show;
  const pipe = join(dirname(file), 'pipe');
  rmSync(pipe, { force: true });
  execFileSync('mkfifo', [pipe]);
  const withProfile = from =>
    text.replace('\nprofiles:\n', `\nprofiles:\n  more: { file: ${from} }\n`);
  return [
    `${text}${'# much ado\n'.repeat(1.5e6)}`,
    `x: [${'1,'.repeat(2e6)}]\n`,
    `x: ${'['.repeat(4e6)}\n`,
    withProfile('/dev/zero'),
    withProfile(pipe),
  ];
}

export const LIFE_FAULTS = [
  {
    name: "engine killed in a cue's crossfade",
    quick: true,
    declaredS: engineLateS,
    cue: 'storm',
    async inject(rig) {
      await rig.tell(rig.stateFolder, 'cue', 'storm');
      await until('the cue comes', () => rig.daemon.told('cue').length > 0, 5);
      await sleep(1000); // of the 4 s of its fade
      rig.struckS = Date.now() / 1000;
      rig.daemon.signalEngine('SIGKILL');
    },
    clear: rig => rig.tell(rig.stateFolder, 'cue', 'evening'),
  },
  {
    name: 'no descriptor left, and the engine killed',
    quick: true,
    declaredS: wayS,
    async inject(rig) {
      const { pid } = rig.daemon;
      limitDescriptors(pid, readdirSync(`/proc/${pid}/fd`).length - 4);
      rig.daemon.signalEngine('SIGKILL');
      await sleep(NO_ENGINE_MS);
    },
    clear: rig => limitDescriptors(rig.daemon.pid, 1024),
    check: couldNotStart,
  },
  ...['EAGAIN', 'ENOMEM'].map(error => ({
    name: `fork refused (${error}), and the engine killed`,
    declaredS: wayS,
    shims: true,
    async inject(rig) {
      rig.orders.refuseForks(error);
      rig.daemon.signalEngine('SIGKILL');
      await sleep(NO_ENGINE_MS);
    },
    clear: rig => rig.orders.refuseForks(undefined),
    check: rig => (rig.orders.refused === 0 ? 'no fork was refused' : couldNotStart(rig)),
  })),
  {
    name: 'recording folder gone, and the engine killed',
    declaredS: wayS,
    records: true,
    async inject(rig) {
      // No folder can be made below a file.
      rmSync(rig.recordParent, { recursive: true });
      writeFileSync(rig.recordParent, '');
      rig.daemon.signalEngine('SIGKILL');
    },
    check: rig =>
      rig.daemon.log.some(({ kind, state }) => kind === 'recording' && state === 'faulty') ||
      'nobody told that nothing is recorded',
  },
  {
    name: 'state folder gone for 3 s',
    async inject(rig) {
      rmSync(rig.stateFolder, { recursive: true });
      writeFileSync(rig.stateFolder, '');
      await sleep(3000);
      rmSync(rig.stateFolder);
      mkdirSync(rig.stateFolder);
    },
    async clear(rig) {
      await sleep(6000); // it is looked for every 5 s
      rig.answer = await rig.tell(rig.stateFolder, 'assign', '7', 'tobias');
    },
    check: rig => rig.answer.includes('given to Tobias') || `tell: ${rig.answer}`,
  },
  {
    name: 'huge and endless files at a reload',
    async inject(rig) {
      const { file, text } = rig.show;
      const before = peakMiB(rig.daemon.pid);
      const refused = () => rig.daemon.told('reload-refused').length;
      for (const [i, much] of tooMuch(rig).entries()) {
        writeFileSync(file, much);
        rig.daemon.signal('SIGHUP');
        await until(`reload ${i + 1} is refused`, () => refused() > i, 30);
      }
      rmSync(file);
      execFileSync('mkfifo', [file]);
      const soFar = refused();
      rig.daemon.signal('SIGHUP');
      await until('a pipe is refused', () => refused() > soFar, 30);
      rmSync(file);
      writeFileSync(file, text);
      rig.grownMiB = peakMiB(rig.daemon.pid) - before;
    },
    check(rig) {
      rig.note = `${rig.daemon.told('reload-refused').length} refused; the supervisor's memory grew by ${rig.grownMiB.toFixed(0)} MiB at its peak`;
      return rig.grownMiB < MOST_READING_MIB || `memory grew by ${rig.grownMiB.toFixed(0)} MiB`;
    },
  },
  {
    name: 'terminal closed',
    how: { terminal: true },
    async inject(rig) {
      rig.daemon.closeTerminal();
      await sleep(3000);
    },
  },
  {
    name: 'supervisor stopped for 3 s, then going on',
    quick: true,
    // As after any outage each universe goes by its safe look when it leaves again, and not all at once.
    // The 3 s, 1.25 s in which a main machine listens who has taken its Art-Net, and a beat or two.
    mayGo: true,
    mostGapS: 4.5,
    async inject(rig) {
      rig.daemon.signal('SIGSTOP');
      await sleep(3000);
      rig.daemon.signal('SIGCONT');
    },
    check: rig => rig.daemon.told('stood-still').length > 0 || 'nobody told that it stood still',
  },
  {
    name: 'engine hangs, and the supervisor killed',
    declaredS: restartS,
    mostGapS: 2,
    restarts: 1,
    inject(rig) {
      rig.daemon.signalEngine('SIGSTOP');
      rig.daemon.signal('SIGKILL');
    },
  },
  {
    name: 'SIGUSR1, SIGUSR2, SIGTSTP to both, SIGHUP to the engine',
    async inject(rig) {
      const told = signal => rig.daemon.log.filter(line => line.signal === signal).length;
      for (const signal of ['SIGUSR1', 'SIGUSR2']) {
        rig.daemon.signal(signal);
        rig.daemon.signalEngine(signal);
        await until(`${signal} is told of`, () => told(signal) > 0, 5);
      }
      rig.daemon.signal('SIGTSTP');
      rig.daemon.signalEngine('SIGHUP');
      await sleep(2000);
    },
    check: rig => !rig.daemon.stderr.includes('Debugger') || 'a debugger was opened',
  },
  {
    name: 'feed silent, and a reload every 0.3 s',
    quick: true,
    declaredS: lostS,
    async inject(rig) {
      rig.order({ silence: 1 });
      rig.order({ silence: 3 });
      for (let ms = 0; ms < 1000 * (TIMES.after + wayS + 1); ms += 300) {
        writeFileSync(rig.show.file, `${rig.show.text}\n# edited at ${ms} ms\n`);
        rig.daemon.signal('SIGHUP');
        await sleep(300);
      }
    },
    clear(rig) {
      writeFileSync(rig.show.file, rig.show.text);
      rig.place('ines');
      rig.place('gull');
    },
    check: rig => rig.daemon.told('reloaded').length > 2 || 'it was not loaded',
  },
  {
    name: 'show file broken, reload refused, supervisor killed',
    quick: true,
    declaredS: restartS,
    mostGapS: 2,
    restarts: 1,
    state: true,
    async inject(rig) {
      writeFileSync(rig.show.file, rig.show.text.replace('zone: stove', 'zone: stoev'));
      rig.daemon.signal('SIGHUP');
      await engineSpeaksOf(rig, 'reload-refused');
      rig.killedS = Date.now() / 1000;
      rig.daemon.signal('SIGKILL');
    },
    check: rig =>
      rig.daemon.log.some(
        ({ heardS, level, msg }) => heardS > rig.killedS && level >= 50 && /stoev/.test(msg),
      ) || 'nobody told that the show file is broken',
  },
];
