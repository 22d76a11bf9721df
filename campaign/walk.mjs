// Everything at once: faults, orders, cues and reloads of the real processes, drawn by a seed, one on top of the other. After each bout all is
// cleared, and what was on the wire and in the log meanwhile is held against what was really done (walk-wire.mjs, walk-log.mjs).
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { loadavg, setPriority } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { overDesk, startDesk } from './faults-desk.mjs';
import { makeHosts, removeHosts } from './hosts.mjs';
import { random } from './measures.mjs';
import { Rig, until } from './rig.mjs';
import { Orders } from './shims.mjs';
import { BOUT_S, DEEDS, drawBout, finding } from './walk-deeds.mjs';
import { wrongInLog } from './walk-log.mjs';
import { wrongOnWire } from './walk-wire.mjs';

const nowS = () => Date.now() / 1000;
/** Receivers forget a source after 2.5 s (E1.31 6.7.1): packets before a bout that still count in it. */
const BEFORE_S = 3;
/** So late, this process is not the only one: what is found at that moment may be the machine's. */
export const LATE_S = 0.12;
/** How often it is looked for how long the daemon has waited for a processor. */
const LOOK_MS = 100;
/** What the machine was late for is seen a little before or after. */
const AROUND_S = 0.25;

/**
 * @param options show, shims, seed, minutes, firstBout, leftOut(elapsedS): names of deeds, onBout(result): { done, wrong, excused, late, ... }
 * @returns bad: the number of bouts that did not hold; excused: of findings for which the machine's own lateness may be the reason;
 *   lateS of lastedS: for how long it was late
 */
export async function walkAbout({
  show,
  shims,
  seed,
  minutes,
  firstBout = 0,
  leftOut = () => [],
  onBout,
}) {
  // As the daemon: what is measured here is not to be this process's lateness.
  setPriority(-10);
  makeHosts();
  const underShow = { ...show, text: overDesk(show.text) };
  writeFileSync(show.file, underShow.text);
  const rig = await Rig.open(underShow);
  const lateness = watchLateness(() => [rig.daemon?.pid, rig.daemon?.enginePid]);
  const stateFolder = join(show.folder, `state-walk-${seed}`);
  const sum = { bad: 0, excused: 0, lateS: 0, lastedS: 0 };
  try {
    if (shims !== undefined) rig.orders = new Orders(shims);
    rig.wire = shims?.wire;
    rig.startDesk = (name, priority) => startDesk(rig, name, priority);
    rig.desk = rig.startDesk('main', 100);
    rig.stateFolder = stateFolder;
    rig.daemon = rig.start('lwca', ['--state-dir', stateFolder], { env: rig.orders?.env });
    rig.place('ines');
    rig.place('gull');
    await until('both are live', () => rig.isLive(), 40);
    const beganS = nowS();
    for (let index = firstBout; nowS() < beganS + minutes * 60; index++) {
      const bout = drawBout(random(seed * 1000 + index), leftOut(nowS() - beganS));
      const result = await oneBout(rig, bout);
      const { fromS, toS } = result;
      const late = lateness.within(fromS, toS);
      const wrong = result.wrong.filter(one => !isExcused(one, late));
      const excused = result.wrong.filter(one => isExcused(one, late));
      if (wrong.length > 0) sum.bad += 1;
      sum.excused += excused.length;
      sum.lateS += late.reduce((all, { byS }) => all + byS, 0);
      sum.lastedS += toS - fromS;
      const sizes = sizesOf(rig.daemon);
      const whole = { ...result, wrong, excused, late, index, sizes };
      onBout({ ...whole, atS: nowS() - beganS, load: loadavg()[0] });
      if (result.stuck) break;
    }
    const end = await rig.daemon.stop();
    if (end !== undefined) {
      sum.bad += 1;
      const at = { atS: nowS() - beganS, load: loadavg()[0] };
      onBout({ ...at, index: 'end', wrong: [finding(end)], excused: [], late: [] });
    }
  } finally {
    lateness.end();
    await rig.close();
    removeHosts();
  }
  return sum;
}

async function oneBout(rig, bout) {
  const fromS = nowS();
  const { capture, daemon } = rig;
  capture.packets.splice(
    0,
    capture.packets.findIndex(({ atS }) => atS > fromS - BEFORE_S),
  );
  const restartsBefore = daemon.restarts;
  const logFrom = daemon.log.length;
  const refusedBefore = rig.orders?.refused ?? 0;
  const deeds = [];
  const answers = [];
  const tell = async (...words) => {
    const asked = { words, askedS: nowS() };
    answers.push(asked);
    asked.answer = await rig.tell(rig.stateFolder, ...words, '--json').then(readAnswer);
    asked.answeredS = nowS();
  };
  await Promise.all(
    bout.map(async ({ name, atS, forS }) => {
      await sleep(Math.max(0, (fromS + atS - nowS()) * 1000));
      const deed = { name, ...DEEDS[name], fromS: nowS() };
      // There is none to be killed or stopped while the next one starts.
      if (deed.group === 'engine' && !isThere(daemon.enginePid)) return;
      deeds.push(deed);
      const begun = await deed.begin({ rig, tell });
      deed.begun = begun;
      deed.begunS = nowS();
      await sleep(forS * 1000);
      deed.endsS = nowS();
      await deed.end?.({ rig, tell }, begun);
      deed.toS = nowS();
    }),
  );
  // All that there is to be seen of the last of it.
  await sleep(Math.max(0, fromS + BOUT_S - nowS()) * 1000);
  const wrong = [];
  let status;
  let stuck = false;
  const clearedS = nowS();
  try {
    writeFileSync(rig.show.file, rig.show.text);
    await until('the show is as it was', () => isAsItWas(daemon, clearedS), 40);
    const undone = deeds.flatMap(({ undo }) => (undo === undefined ? [] : [undo]));
    const still = [['cue', 'evening'], ['resume', 'everybody'], ['unassign', '7'], ...undone];
    for (const words of still) {
      // Where the control socket was gone, it is looked for every 5 s.
      for (const endS = nowS() + 12; nowS() < endS; await sleep(500)) {
        await tell(...words);
        if (!['no daemon', 'failed', 'unreadable'].includes(answers.at(-1).answer.outcome)) break;
      }
    }
    await until('both are live again', () => rig.isLive(), 25);
    await until('the engine has the light', () => daemon.told('lights').at(-1)?.to === 'live', 10);
    // A state that could not be saved is saved after 5 s at most; troubles go by then.
    for (const endS = nowS() + 8; nowS() < endS; await sleep(500)) {
      status = readAnswer(await rig.tell(rig.stateFolder, 'status', '--json')).status;
      if (status !== undefined && status.troubles.length === 0) break;
    }
  } catch (error) {
    stuck = true;
    wrong.push(finding(error.message));
  }
  const toS = nowS();
  const seen = {
    fromS,
    clearedS,
    toS,
    deeds,
    answers,
    status,
    refused: (rig.orders?.refused ?? 0) - refusedBefore,
    packets: capture.packets,
    log: daemon.log.slice(logFrom),
    logBefore: daemon.log.slice(0, logFrom),
    restarts: daemon.restarts - restartsBefore,
    stderr: daemon.stderr,
  };
  wrong.push(...wrongOnWire(seen), ...wrongInLog(seen));
  daemon.stderr = '';
  const done = deeds.map(({ name, fromS: beganS, endsS }) => {
    const lasted = endsS - beganS > 0.05 ? ` for ${(endsS - beganS).toFixed(2)}` : '';
    return `${(beganS - fromS).toFixed(2)}${lasted} ${name}`;
  });
  return {
    fromS,
    toS,
    done,
    wrong,
    stuck,
    status,
    packets: seen.packets,
    backS: toS - clearedS,
    log: daemon.log.slice(logFrom),
  };
}

/** Asked again and again, as a reload is refused while another is under way. */
function isAsItWas(daemon, sinceS) {
  const last = daemon.log.findLast(({ kind }) => /^reload/.test(kind ?? ''));
  const isLoaded =
    last !== undefined &&
    last.heardS > sinceS &&
    (last.kind === 'reloaded' || last.kind === 'reload-unneeded');
  if (!isLoaded && (daemon.askedS ?? 0) < nowS() - 2) {
    daemon.askedS = nowS();
    daemon.signal('SIGHUP');
  }
  return isLoaded;
}

function readAnswer(text) {
  try {
    return JSON.parse(text);
  } catch {
    return { outcome: 'unreadable', text };
  }
}

function isThere(pid) {
  try {
    return !/^\d+ \(.*\) [ZXT] /.test(readFileSync(`/proc/${pid}/stat`, 'utf8'));
  } catch {
    return false;
  }
}

/** Of supervisor and engine: memory, descriptors (which handles hold), threads. */
function sizesOf(daemon) {
  return Object.fromEntries(
    [
      ['supervisor', daemon.pid],
      ['engine', daemon.enginePid],
    ].map(([name, pid]) => [
      name,
      {
        pid,
        rssMiB: daemon.rssMiB(pid),
        descriptors: countIn(pid, 'fd'),
        threads: countIn(pid, 'task'),
      },
    ]),
  );
}

function countIn(pid, folder) {
  try {
    return readdirSync(`/proc/${pid}/${folder}`).length;
  } catch {
    return 0;
  }
}

/**
 * When this process, at the daemon's priority, did not get its turn; and when supervisor and engine did not, by what the kernel
 * counts of their main threads' waiting for a processor (schedstat of proc(5), nanoseconds). What they stand still for themselves is not in that.
 */
function watchLateness(pids) {
  const late = [];
  const waitedS = new Map();
  const look = setInterval(() => {
    for (const pid of pids()) {
      const now = waitedSoFarS(pid);
      const byS = now - (waitedS.get(pid) ?? now);
      waitedS.set(pid, now);
      if (byS > LATE_S) late.push({ fromS: nowS() - LOOK_MS / 1000 - byS, toS: nowS(), byS });
    }
  }, LOOK_MS);
  let lastS = performance.now() / 1000;
  const timer = setInterval(() => {
    const atS = performance.now() / 1000;
    const byS = atS - lastS - 0.02;
    if (byS > LATE_S) late.push({ fromS: nowS() - byS, toS: nowS(), byS });
    lastS = atS;
  }, 20);
  return {
    within: (fromS, toS) => late.filter(one => one.toS > fromS && one.fromS < toS),
    end() {
      clearInterval(timer);
      clearInterval(look);
    },
  };
}

function waitedSoFarS(pid) {
  try {
    return Number(readFileSync(`/proc/${pid}/schedstat`, 'utf8').split(' ')[1]) / 1e9;
  } catch {
    return 0;
  }
}

/** What came about while the machine was late may be its own doing; of what has no moment nothing can be said. */
export function isExcused({ fromS, toS }, late) {
  if (fromS === undefined) return false;
  return late.some(one => one.fromS < toS + AROUND_S && one.toS > fromS - AROUND_S);
}

/** Of a walk. */
export function sayExcused({ excused, lateS, lastedS }) {
  return `${excused} findings were excused: the machine itself was late for ${lateS.toFixed(1)} of ${lastedS.toFixed(0)} s`;
}

/** Of a list that may be long. */
const MOST_LINES = 12;
const firstOf = list => list.slice(0, MOST_LINES).map(({ what }) => what);
const moreOf = list =>
  list.length > MOST_LINES ? [`and ${list.length - MOST_LINES} more of the kind`] : [];

/** What came of a bout, with the log of one that did not hold. */
export function sayBout({ index, atS, load, done, backS, wrong, excused, late, log, fromS }) {
  if (done === undefined) {
    console.log(`at the end: ${firstOf(wrong).join('; ')}`);
    return;
  }
  const verdict = wrong.length > 0 ? 'WRONG' : excused.length > 0 ? 'late' : 'held';
  const what = `${done.join(', ')}; live again ${backS.toFixed(1)} s after`;
  console.log(
    `${verdict.padEnd(6)} bout ${index}, ${atS.toFixed(0)} s, load ${load.toFixed(0)}: ${what}`,
  );
  for (const { fromS: whenS, byS } of excused.length > 0 ? late : []) {
    console.log(`    the machine was ${byS.toFixed(2)} s late at ${(whenS - fromS).toFixed(2)} s`);
  }
  for (const one of [...firstOf(excused), ...moreOf(excused)]) console.log(`    excused: ${one}`);
  for (const one of [...firstOf(wrong), ...moreOf(wrong)]) console.log(`    ${one}`);
  for (const { heardS, msg } of wrong.length > 0 ? log : []) {
    console.log(`      ${(heardS - fromS).toFixed(2).padStart(6)} ${String(msg).slice(0, 160)}`);
  }
}
