// npm run campaign -- --help
// Brings about each fault against the real processes on hosts of its own, and measures on the wire what
// becomes of the light. Needs root, iproute2, tcpdump, trafgen and gcc. Exit code 1: something did not hold.
import { spawn, spawnSync } from 'node:child_process';
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { agreement } from '../campaign/agreement.mjs';
import { FAULTS, makeDisk, removeDisk } from '../campaign/faults.mjs';
import { HOSTS, makeHosts, removeHosts } from '../campaign/hosts.mjs';
import {
  greatestStep,
  longestGapS,
  lost,
  median,
  random,
  safeAt,
  shown,
  streamFaults,
} from '../campaign/measures.mjs';
import { Ola } from '../campaign/ola.mjs';
import { Rig, until } from '../campaign/rig.mjs';
import { buildShims, Orders } from '../campaign/shims.mjs';
import { LIVE, safeLooksOf, writeShow } from '../campaign/show.mjs';
import { sayBout, sayExcused, walkAbout } from '../campaign/walk.mjs';
import { inLanes, ownNetwork } from './lanes.mjs';
import { misuse, readOptions } from './options.mjs';

// Each child is ended with the campaign, by a listener of its own.
process.setMaxListeners(0);

const USAGE = `
npm run campaign [-- OPTIONS]

Brings about each fault against the real processes, on hosts of its own, and measures on the wire what becomes of
the light (docs/reference/campaign.md). Takes some 25 s a fault and seed; needs root. Exit code 1: something did not hold.

  --quick          the short form: some faults, one seed each, without OLA
  --seeds N        runs of each fault, 3 unless said
  --only WORDS     faults that have this in their name
  --universes N    a house of so many universes beside the rig: with more than 14 a frame leaves in sections
  --jobs N         so many faults at a time, each in networks of its own
  --write FILE     the table into this page, below its mark; with --only the rows of these faults
  --list           the names of the faults, and nothing else
  --walk           everything at once instead: faults, orders, cues and reloads drawn by a seed, one on top of the other
  --seed N         of the walk, 1 unless said: the same seed draws the same again
  --minutes N      how long the walk takes, 5 unless said
  --from-bout N    the walk begins at this one of its bouts: to see again what was seen in it
  --help           this

  npm run campaign -- --seeds 1 --only "engine killed"
  npm run campaign -- --seeds 1 --write docs/reference/campaign.md
  npm run campaign -- --walk --seed 7 --minutes 10
`;
const { values } = readOptions(USAGE, {
  quick: { type: 'boolean', default: false },
  seeds: { type: 'string', default: '3', least: 1 },
  only: { type: 'string' },
  universes: { type: 'string', default: '0', least: 0 },
  jobs: { type: 'string', default: '1', least: 1 },
  write: { type: 'string' },
  list: { type: 'boolean', default: false },
  walk: { type: 'boolean', default: false },
  seed: { type: 'string', default: '1', least: 1 },
  minutes: { type: 'string', default: '5', least: 1 },
  'from-bout': { type: 'string', default: '0', least: 0 },
  // Of a process of --jobs: the one fault that it is there for. Its row goes to the process that started it.
  fault: { type: 'string', hidden: true },
});
if (values.list) {
  for (const { name, quick } of FAULTS) console.log(quick ? `${name} (in --quick too)` : name);
  process.exit(0);
}
const { only } = values;
if (only !== undefined && !FAULTS.some(({ name }) => name.includes(only))) {
  misuse(`--only "${only}": no fault has that in its name; --list gives them all.`);
}
if (process.getuid?.() !== 0) {
  console.error('The campaign makes hosts of its own (network namespaces): run it as root.');
  process.exit(3);
}
const seeds = values.quick ? 1 : values.seeds;
const show = writeShow(values.universes);
const shims = buildShims(show.folder);
if (values.walk) {
  const { seed, minutes, 'from-bout': firstBout } = values;
  const sum = await walkAbout({ show, shims, seed, minutes, firstBout, onBout: sayBout });
  console.log(sayExcused(sum));
  rmSync(show.folder, { recursive: true, force: true });
  process.exit(sum.bad > 0 ? 1 : 0);
}
const faults = FAULTS.filter(fault => {
  if (values.fault !== undefined) return fault.name === values.fault;
  if (only !== undefined && !fault.name.includes(only)) return false;
  if (values.quick && !fault.quick) return false;
  if (!fault.shims || shims !== undefined) return true;
  console.error(`left out, for want of a C compiler (packages gcc and libc6-dev): ${fault.name}`);
  return false;
});

const safeOf = safeLooksOf(show);

/** OLA's recorder keeps whole milliseconds between packets; their sum is so exact over the time of a run. */
const OLA_CLOCK_S = 0.1;
/** In the short form our own capture does. */
const hasOla = !values.quick && spawnSync('olad', ['--version']).error === undefined;
if (!values.quick && !hasOla) console.error('olad is not there: nothing is compared with OLA');

const isolated = values.jobs > 1 ? ownNetwork() : undefined;
const rows = [];
try {
  await inLanes(isolated === undefined ? 1 : values.jobs, faults, async fault => {
    const row = isolated === undefined ? await held(fault) : await heldByAnother(fault);
    rows.push(row);
    if (values.fault === undefined) console.log(lineOf(row));
    else await new Promise(sent => process.send(row, sent));
  });
} finally {
  if (isolated === undefined) removeHosts();
  rmSync(show.folder, { recursive: true, force: true });
}
rows.sort((a, b) => indexOf(a) - indexOf(b));
if (values.write !== undefined) writePage(values.write);
process.exit(rows.some(row => row.wrong > 0) ? 1 : 0);

function indexOf(row) {
  return faults.findIndex(fault => fault.name === row.name);
}

/** All runs of a fault, in the network of this process. */
async function held(fault) {
  const runs = [];
  for (let seed = 1; seed <= seeds; seed++) {
    let result;
    try {
      result = await once(fault, seed);
    } catch (error) {
      result = { wrong: [error.message] };
    }
    runs.push(result);
    for (const wrong of result.wrong) sayWrong(fault, `seed ${seed}: ${wrong}`);
  }
  return rowOf(fault, runs);
}

function sayWrong(fault, what) {
  console.error(`WRONG: ${fault.name}, ${what}`);
}

/** The same by a process in a network of its own. */
function heldByAnother(fault) {
  const options = [
    values.quick && '--quick',
    `--seeds=${seeds}`,
    `--universes=${values.universes}`,
  ];
  const own = [process.argv[1], ...options.filter(Boolean), `--fault=${fault.name}`];
  const [command, ...rest] = isolated([process.execPath, ...own]);
  const stdio = ['ignore', 'inherit', 'inherit', 'ipc'];
  return new Promise(resolve => {
    // A row has numbers that JSON has not.
    const child = spawn(command, rest, { stdio, serialization: 'advanced' });
    let isHeard = false;
    child.once('message', row => {
      isHeard = true;
      resolve(row);
    });
    child.once('close', code => {
      if (isHeard) return;
      const wrong = `ended with ${code}, without a result`;
      sayWrong(fault, wrong);
      resolve(rowOf(fault, [{ wrong: [wrong] }]));
    });
  });
}

async function once(fault, seed) {
  const draw = random(seed);
  makeHosts();
  writeFileSync(show.file, fault.show?.(show.text) ?? show.text);
  const stateFolder = join(show.folder, `state-${fault.name.replace(/\W+/g, '-')}-${seed}`);
  const disk = fault.disk ? makeDisk(show.folder) : undefined;
  const rig = await Rig.open(show);
  rig.quick = values.quick;
  rig.seed = seed;
  rig.wire = shims?.wire;
  rig.recordParent = join(show.folder, 'stick');
  rig.disk = disk?.disk;
  rig.stateFolder = disk === undefined ? stateFolder : join(disk.disk, 'state');
  const wrong = [];
  try {
    const options = ['--state-dir', rig.stateFolder, ...(fault.options ?? [])];
    if (disk !== undefined) options.push('--record', join(disk.disk, 'rec'));
    if (fault.records) {
      rmSync(rig.recordParent, { recursive: true, force: true });
      options.push('--record', join(rig.recordParent, 'rec'));
    }
    if (fault.shims) rig.orders = new Orders(shims);
    const env = { ...rig.orders?.env, ...fault.how?.env };
    rig.daemon = rig.start('lwca', options, { ...fault.how, env, stdout: disk?.log ?? 'pipe' });
    const first = rig.daemon;
    if (hasOla && fault.ola !== false) {
      rig.ola = await Ola.open('lwco', { sacn: 1, artnet: 2 });
    }
    rig.place('ines');
    rig.place('gull');
    await until('both are live', () => rig.isLive(), 25);
    if (fault.standby) {
      rig.standby = rig.start('lwcb', ['--standby']);
      await until('the standby is heard', () => rig.daemon.told('other-source').length > 0, 15);
      await sleep(4000); // it goes live itself
    }
    if (fault.state) {
      const answer = await rig.tell(rig.stateFolder, 'assign', '7', 'tobias');
      if (!answer.includes('given to Tobias')) wrong.push(`tell: ${answer}`);
    }
    // In the middle of a step somewhere on the stove's place.
    rig.place('ines', (draw() - 0.5) * 0.4, (draw() - 0.5) * 0.4);
    await sleep(300 + draw() * 700);

    const { capture } = rig;
    const fromS = Date.now() / 1000;
    rig.stayedLive = name => {
      const latest = new Map();
      return capture.packets.every(packet => {
        latest.set(`${packet.protocol} ${packet.universe}`, packet.slots);
        if (packet.atS < fromS) return true;
        return LIVE[name]((protocol, universe) => latest.get(`${protocol} ${universe}`));
      });
    };
    await fault.inject(rig);
    const doneS = Date.now() / 1000;
    const { struckS = fromS } = rig;
    const safe = safeOf(fault.cue);
    let safeS;
    if (fault.declaredS !== undefined) {
      const find = () => safeAt(shown(capture.packets), safe, struckS, fault.whose);
      const deadline = Date.now() + (fault.declaredS + 3) * 1000;
      for (; safeS === undefined && Date.now() < deadline; safeS = find()) await sleep(50);
      if (safeS === undefined) wrong.push('safe was not reached');
      else if (safeS - struckS > fault.declaredS) {
        wrong.push(
          `safe after ${(safeS - struckS).toFixed(2)} s, ${fault.declaredS.toFixed(2)} s are declared`,
        );
      }
    }
    const clearedS = fault.clear === undefined ? (safeS ?? doneS) : Date.now() / 1000;
    await fault.clear?.(rig);
    await until('both are live again', () => rig.isLive(), 25);
    const liveS = Date.now() / 1000;
    await sleep(300);
    const toS = Date.now() / 1000;

    const seen = shown(capture.packets);
    const step = greatestStep(seen, fromS, toS, { overGaps: !fault.unseen, waited: fault.waited });
    const goesOn = ({ universe }) => !fault.ends?.includes(universe);
    const gapS = longestGapS(capture.packets.filter(goesOn), fromS, toS);
    const missed = lost(capture.packets, fromS, toS);
    if (missed > (fault.mostLost ?? Number.POSITIVE_INFINITY)) wrong.push(`${missed} packets lost`);
    if (missed < (fault.leastLost ?? 0)) wrong.push(`only ${missed} packets lost`);
    wrong.push(...streamFaults(capture.packets, goesOn, toS));
    if (first.restarts !== (fault.restarts ?? 0)) {
      wrong.push(`the supervisor ended ${first.restarts} times`);
    }
    if (fault.declaredS === undefined && !fault.mayGo) {
      for (const name of ['ines', 'gull'])
        if (!rig.stayedLive(name) && !fault.stays) wrong.push(`${name} lost their light`);
    }
    if (step.ofLimit > 1 && !fault.ignoresSteps) {
      wrong.push(`a step of ${(step.ofLimit * 100).toFixed(0)} % of its limit: ${step.where}`);
    }
    if (gapS > (fault.mostGapS ?? 1)) wrong.push(`a gap of ${gapS.toFixed(2)} s`);
    const verdict = fault.check?.(rig) ?? true;
    if (verdict !== true) wrong.push(verdict);
    for (const daemon of rig.daemons) {
      const said =
        daemon
          .told('engine-said')
          .map(line => line.line)
          .join('\n') + daemon.stderr;
      if (/unhandled|uncaught|TypeError|NaN/i.test(said)) wrong.push(said.slice(0, 300));
      if (JSON.stringify(daemon.log).includes('NaN')) wrong.push('NaN in the log');
    }
    if (fault.state) {
      await sleep(disk === undefined ? 0 : 6000); // a failed save is tried again after 5 s
      const kept = JSON.parse(readFileSync(join(rig.stateFolder, 'operator.json'), 'utf8'));
      const wearer = disk === undefined ? 'tobias' : 'gull';
      if (kept.trackers['7'] !== wearer) wrong.push('operator state was lost');
    }
    const byOla =
      rig.ola && (await compareWithOla(rig, goesOn, fault, { safe, struckS, safeS }, wrong));
    const end = await rig.daemon.stop();
    if (end !== undefined) wrong.push(end);
    else if (rig.daemons.length === 1) {
      await sleep(50);
      // E1.31 6.2.6.
      const last = capture.packets
        .filter(({ protocol, from }) => protocol === 'sacn' && from !== HOSTS.lwcb)
        .slice(-3);
      if (!last.every(({ terminated }) => terminated)) wrong.push('the stream did not end');
    }
    return {
      wrong,
      byOla,
      safeS: safeS === undefined ? undefined : safeS - struckS,
      step,
      gapS,
      missed,
      backS: liveS - clearedS,
      note: rig.note,
    };
  } finally {
    await rig.close();
    if (disk !== undefined) removeDisk(disk);
  }
}

/** What OLA has recorded is what our capture has, and it shows the safe look when that does. */
async function compareWithOla(rig, goesOn, fault, { safe, struckS, safeS }, wrong) {
  const theirs = await rig.ola.close();
  const ours = rig.capture.packets.filter(goesOn);
  const { seen, of, foreign, onOurClock } = agreement(ours, theirs);
  if (seen < of) wrong.push(`OLA recorded ${seen} of ${of} looks`);
  if (foreign > 0) wrong.push(`OLA recorded ${foreign} looks that were not on the wire`);
  if (safeS === undefined) return { seen, of };
  const olaS = safeAt(onOurClock, safe, struckS, fault.whose);
  if (olaS === undefined) wrong.push('OLA did not show the safe look');
  else if (Math.abs(olaS - safeS) > OLA_CLOCK_S) {
    wrong.push(`OLA showed the safe look ${(olaS - safeS).toFixed(2)} s later than our capture`);
  }
  return { seen, of, safeS: olaS === undefined ? undefined : olaS - struckS };
}

function rowOf(fault, runs) {
  const good = runs.filter(run => run.step !== undefined);
  const worst = of => (good.length === 0 ? Number.NaN : Math.max(...good.map(of)));
  const safeTimes = good.map(run => run.safeS).filter(time => time !== undefined);
  return {
    name: fault.name,
    runs: runs.length,
    wrong: runs.filter(run => run.wrong.length > 0).length,
    declaredS: fault.declaredS,
    medianS: safeTimes.length > 0 ? median(safeTimes) : undefined,
    worstS: safeTimes.length > 0 ? Math.max(...safeTimes) : undefined,
    olaS: Math.max(...good.map(run => run.byOla?.safeS ?? Number.NEGATIVE_INFINITY)),
    looks: good.map(run => run.byOla).filter(one => one !== undefined),
    intensity: worst(run => run.step.intensity),
    movement: worst(run => run.step.movement),
    ofLimit: worst(run => run.step.ofLimit),
    gapS: worst(run => run.gapS),
    missed: worst(run => run.missed),
    backS: good.length > 0 ? median(good.map(run => run.backS)) : Number.NaN,
    stepsCount: !fault.ignoresSteps,
    notes: good.map(run => run.note).filter(note => note !== undefined),
  };
}

function cellsOf(row) {
  const seconds = value => (value === undefined ? '-' : value.toFixed(2));
  const percent = value => `${(value * 100).toFixed(1)} %`;
  return [
    row.name,
    `${row.runs - row.wrong} of ${row.runs}`,
    seconds(row.declaredS),
    seconds(row.medianS),
    seconds(row.worstS),
    Number.isFinite(row.olaS) ? seconds(row.olaS) : '-',
    looksOf(row),
    row.stepsCount ? percent(row.intensity) : '-',
    row.stepsCount ? percent(row.movement) : '-',
    row.stepsCount ? percent(row.ofLimit) : '-',
    seconds(row.gapS),
    String(row.missed),
    seconds(row.backS),
  ];
}

/** Looks that OLA recorded of those that our capture has. */
function looksOf({ looks }) {
  if (looks.length === 0) return '-';
  const sum = of => looks.reduce((total, one) => total + one[of], 0);
  return `${sum('seen')} of ${sum('of')}`;
}

function lineOf(row) {
  const widths = [44, 9, 8, 8, 8, 8, 13, 9, 9, 9, 8, 6, 8];
  const cells = cellsOf(row).map((cell, i) =>
    i === 0 ? cell.padEnd(widths[i]) : cell.padStart(widths[i]),
  );
  return [cells.join(' '), ...row.notes.map(note => `    ${note}`)].join('\n');
}

function writePage(file) {
  const head = [
    'fault',
    'held',
    'declared, s',
    'to safe, s: median',
    'worst',
    'worst by OLA',
    'looks that OLA has',
    'greatest step: intensity',
    'movement',
    'of its limit',
    'longest gap, s',
    'packets lost',
    'back to live, s',
  ];
  const [intro, before = ''] = readFileSync(file, 'utf8').split('<!-- table -->');
  // Of faults that were not run this time the page keeps what it has.
  const line = cells => `| ${cells.join(' | ')} |`;
  const ran = new Map(rows.map(row => [row.name, line(cellsOf(row))]));
  const kept = before.split('\n').filter(one => one.startsWith('| '));
  const table = FAULTS.flatMap(
    ({ name }) => ran.get(name) ?? kept.filter(one => one.startsWith(`| ${name} |`)),
  );
  const notes = FAULTS.flatMap(({ name }) => {
    const mine = rows.find(row => row.name === name)?.notes.map(note => `- ${name}: ${note}`);
    return mine ?? before.split('\n').filter(one => one.startsWith(`- ${name}: `));
  });
  const runs = table.map(one => / \| (\d+) of (\d+) \| /.exec(one)?.slice(1).map(Number) ?? [0, 0]);
  const [held, all] = [0, 1].map(at => runs.reduce((sum, run) => sum + run[at], 0));
  const said = `${table.length} faults; ${held} of ${all} runs held.`;
  const whole = [line(head), line(head.map(() => '---')), ...table].join('\n');
  const parts = ['<!-- table -->', said, whole, notes.join('\n')].filter(Boolean);
  writeFileSync(file, `${intro}${parts.join('\n\n')}\n`);
}
