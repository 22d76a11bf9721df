import { execFileSync } from 'node:child_process';
import { createSocket } from 'node:dgram';
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it, onTestFinished } from 'vitest';
import { createDmxPacket } from '../../src/protocols/artnet/dmx-packet.js';
import { parseShow } from '../../src/show/parse.js';
import { spawn } from '../tethered.js';
import { Daemon, lampwright, SALT_LANTERN, Trackers, until } from './support.js';

const POINTS = 'config/examples/salt-lantern.points.csv';
const MARKERS = 'config/examples/salt-lantern.markers.csv';
const AIMS = 'config/examples/salt-lantern.aims.csv';
const FLOOR = 'config/examples/salt-lantern.floor.csv';

/** Ports and an address of their own, so that what others send on this machine is not heard. */
const PORT = 19_047;
const DESK = '127.0.47.1';
const APART = [
  ['port: 9010', `port: ${PORT}`],
  ['interface: 127.0.0.1', `interface: ${DESK}`],
] as const;

/** Where markers lie on the floor, metres; trackers 31 and up lie on them, in a frame that is moved. */
const SPOTS = [
  [0.5, 0.5],
  [9.5, 0.5],
  [0.5, 7.5],
  [8, 7],
] as const;
const MARKER_HEAD = 'name,x,y,z,tracker';
const SPOT_ROWS = SPOTS.map(([x, y], i) => `m${i},${x},${y},0,${31 + i}`);

let folder = '';
/** The example show with those. */
let apart = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-calibrate-'));
  apart = join(folder, 'apart.show.yaml');
  const text = APART.reduce(
    (sum, [from, to]) => sum.replaceAll(from, to),
    readFileSync(SALT_LANTERN, 'utf8'),
  );
  writeFileSync(apart, text);
});
afterEach(() => rmSync(folder, { recursive: true }));

function placeOnSpots(trackers: Trackers): void {
  for (const [i, [x, y]] of SPOTS.entries()) trackers.place(31 + i, x - 0.25, y + 0.5, 0);
}

/** The samples of head-right in the example: x, y, z, pan and tilt of each. */
function headRightAims(): string[][] {
  const lines = readFileSync(AIMS, 'utf8').split('\n');
  return lines.filter(line => line.startsWith('head-right')).map(line => line.split(',').slice(1));
}

/** Runs the program elsewhere than here: names in a diff are relative to where one is. */
function run(args: readonly string[], input = '', cwd = '.') {
  const child = spawn(process.execPath, [resolve('dist/main.js'), ...args], { cwd });
  let [stdout, stderr] = ['', ''];
  child.stdout.on('data', (text: Buffer) => {
    stdout += text.toString();
  });
  child.stderr.on('data', (text: Buffer) => {
    stderr += text.toString();
  });
  child.stdin.end(input);
  return new Promise<{ code: number | null; stdout: string; stderr: string }>(done => {
    child.once('close', code => done({ code, stdout, stderr }));
  });
}

/** A running command, spoken with. */
class Conversation {
  #said = '';
  readonly #child;
  readonly ended: Promise<{ code: number | null; stdout: string }>;

  constructor(args: readonly string[]) {
    this.#child = spawn(process.execPath, ['dist/main.js', ...args]);
    let stdout = '';
    this.#child.stderr.on('data', (text: Buffer) => {
      this.#said += text.toString();
    });
    this.#child.stdout.on('data', (text: Buffer) => {
      stdout += text.toString();
    });
    this.ended = new Promise(done => this.#child.once('close', code => done({ code, stdout })));
    onTestFinished(() => void this.#child.kill('SIGKILL'));
  }

  /** Waits for the words, and forgets all up to them. */
  async says(words: string): Promise<void> {
    await until(`it says "${words}"`, () => this.#said.includes(words), 20).catch(error => {
      throw new Error(`${error}, but: ${this.#said}`);
    });
    this.#said = this.#said.slice(this.#said.indexOf(words) + words.length);
  }

  type(line: string): void {
    this.#child.stdin.write(`${line}\n`);
  }
}

/** A desk that aims head-right of The Salt Lantern by Art-Net at 40 Hz, once it has been told where to. */
class Desk {
  readonly #socket = createSocket('udp4');
  readonly #packet = createDmxPacket({ portAddress: 2, slotCount: 512 });
  #timer: NodeJS.Timeout | undefined;

  aim(panDeg: number, tiltDeg: number): void {
    const raw = (value: number, most: number) => Math.round(((value + most) / (2 * most)) * 65535);
    const { slots } = this.#packet;
    const [pan, tilt] = [raw(panDeg, 270), raw(tiltDeg, 135)];
    slots.set([pan >> 8, pan & 255, tilt >> 8, tilt & 255]);
    this.#timer ??= setInterval(() => {
      this.#packet.advanceSequence();
      this.#socket.send(this.#packet.buffer, 6454, DESK);
    }, 25);
  }

  close(): void {
    clearInterval(this.#timer);
    this.#socket.close();
  }
}

describe('calibrate stage', () => {
  it('fits the example from points, and from a recording of trackers on markers', async () => {
    for (const from of [
      ['--points', POINTS],
      ['--markers', MARKERS, '--recording', FLOOR],
    ]) {
      const { code, stdout, stderr } = await lampwright([
        'calibrate',
        'stage',
        SALT_LANTERN,
        ...from,
        '--json',
      ]);
      expect(stderr).toBe('');
      expect(code).toBe(0);
      const result = JSON.parse(stdout);
      expect(result.ok).toBe(true);
      // The invented room: origin [-0.62, 1.35, 0.04], turned by 7.4 degrees, tilted by 0.3 about x.
      expect(Math.hypot(result.frame.origin[0] + 0.62, result.frame.origin[1] - 1.35)).toBeLessThan(
        0.03,
      );
      expect(Math.abs(result.frame.turn.z - 7.4)).toBeLessThan(0.2);
      expect(Math.abs(result.frame.turn.x - 0.3)).toBeLessThan(0.3);
      expect(result.patch).toContain('+    origin: [');
    }
  });

  it('writes a diff that patch and git apply take, a picture, and nothing else', async () => {
    mkdirSync(join(folder, 'config'));
    const show = join(folder, 'config/mine.show.yaml');
    copyFileSync(SALT_LANTERN, show);
    const before = readFileSync(show, 'utf8');
    const { code, stdout } = await run(
      [
        'calibrate',
        'stage',
        'config/mine.show.yaml',
        '--points',
        resolve(POINTS),
        '--patch',
        'frame.patch',
        '--plot',
        'frame.svg',
        '--save',
        'again.csv',
      ],
      '',
      folder,
    );
    expect(code).toBe(0);
    expect(stdout).toContain('patch config/mine.show.yaml frame.patch');
    expect(readFileSync(show, 'utf8')).toBe(before);
    expect(readFileSync(join(folder, 'frame.svg'), 'utf8')).toMatch(
      /^<svg [\s\S]*lantern \d+ mm<[\s\S]*<\/svg>\n$/,
    );
    expect(readFileSync(join(folder, 'again.csv'), 'utf8')).toMatch(
      /^name,x,y,z,tx,ty,tz,use\norigin,0\.5,0\.5,0\.05,/,
    );

    execFileSync('patch', ['config/mine.show.yaml', 'frame.patch'], { cwd: folder });
    const patched = readFileSync(show, 'utf8');
    expect(patched).not.toBe(before);
    expect(parseShow(patched, show).ok).toBe(true);
    for (const [command, ...args] of [
      ['patch', '-p0', '-i', 'frame.patch'],
      ['git', 'apply', '-p0', 'frame.patch'],
    ]) {
      writeFileSync(show, before);
      execFileSync(command ?? '', args, { cwd: folder });
      expect(readFileSync(show, 'utf8'), command).toBe(patched);
    }

    // The show says so now; and what is there is not overwritten.
    const again = await run(
      ['calibrate', 'stage', 'config/mine.show.yaml', '--points', resolve(POINTS)],
      '',
      folder,
    );
    expect(again.stdout).toContain('nothing to change');
    const twice = await run(
      [
        'calibrate',
        'stage',
        'config/mine.show.yaml',
        '--points',
        resolve(POINTS),
        '--plot',
        'frame.svg',
      ],
      '',
      folder,
    );
    expect(twice.code).toBe(2);
    expect(twice.stderr).toContain('--force replaces what is there');
  });

  it('refuses swapped markers with 1 and writes no diff', async () => {
    const swapped = readFileSync(MARKERS, 'utf8')
      .replace('fit,21', 'fit,0')
      .replace('fit,22', 'fit,21')
      .replace('fit,0', 'fit,22');
    const markers = join(folder, 'markers.csv');
    writeFileSync(markers, swapped);
    const patch = join(folder, 'frame.patch');
    const { code, stdout } = await lampwright([
      'calibrate',
      'stage',
      SALT_LANTERN,
      '--markers',
      markers,
      '--recording',
      FLOOR,
      '--patch',
      patch,
    ]);
    expect(code).toBe(1);
    expect(stdout).toContain('if "origin" and "along-x" change places');
    expect(existsSync(patch)).toBe(false);
  });

  it('hears trackers on the markers, all at once or one after the other', async () => {
    const trackers = new Trackers(PORT);
    placeOnSpots(trackers);
    const markers = join(folder, 'markers.csv');
    writeFileSync(markers, [MARKER_HEAD, ...SPOT_ROWS].join('\n'));
    const show = ['calibrate', 'stage', apart, '--markers', markers, '--seconds', '1', '--json'];
    const atOnce = await run(show);
    // The last marker with the tracker of the first: the one is carried there, so it is asked for each.
    writeFileSync(markers, [MARKER_HEAD, ...SPOT_ROWS.slice(0, 3), 'm3,8,7,0,31'].join('\n'));
    const inTurn = await run([...show, '--tolerance', '0.2'], '\n\n\n\n');
    trackers.close();
    expect(atOnce.code).toBe(0);
    expect(JSON.parse(atOnce.stdout).frame).toEqual({ origin: [0.25, -0.5, 0], turn: 0, scale: 1 });
    expect(inTurn.stderr).toContain('Put tracker 31 on "m3" (8, 7, 0)');
    expect(inTurn.code).toBe(1);
    expect(JSON.parse(inTurn.stdout).standings).toHaveLength(4);
  });

  it('takes a recording of the daemon', async () => {
    const daemon = Daemon.run(apart, {}, ['--record', folder]);
    const trackers = new Trackers(PORT);
    placeOnSpots(trackers);
    await until('it is recorded', () => daemon.log.some(line => line.kind === 'engine-started'));
    await sleep(3000);
    trackers.close();
    await daemon.stop();
    const markers = join(folder, 'markers.csv');
    writeFileSync(markers, [MARKER_HEAD, ...SPOT_ROWS].join('\n'));
    const { code, stdout, stderr } = await run([
      'calibrate',
      'stage',
      apart,
      '--markers',
      markers,
      '--recording',
      folder,
      '--seconds',
      '2',
      '--json',
    ]);
    expect(stderr).toBe('');
    expect(code).toBe(0);
    expect(JSON.parse(stdout).frame).toEqual({ origin: [0.25, -0.5, 0], turn: 0, scale: 1 });
  });

  it('has help of its own', async () => {
    const { code, stdout } = await lampwright(['calibrate', 'stage', '--help']);
    expect(code).toBe(0);
    expect(stdout).toMatch(/^usage: lampwright calibrate stage SHOW/);
  });
});

describe('calibrate fixture', () => {
  it('finds the three heads of the example, and its diff makes the aims right', async () => {
    const show = join(folder, 'mine.show.yaml');
    copyFileSync(SALT_LANTERN, show);
    const args = ['calibrate', 'fixture', 'mine.show.yaml', '--samples', resolve(AIMS), '--json'];
    const first = await run([...args, '--patch', 'heads.patch'], '', folder);
    expect(first.code).toBe(0);
    const { ok, fixtures, patch } = JSON.parse(first.stdout);
    expect(ok).toBe(true);
    expect(patch).toBe(readFileSync(join(folder, 'heads.patch'), 'utf8'));
    // The invented house: where the three heads hang in it.
    const hung = {
      'head-right': [1.12, 0.87, 5.31],
      'head-left': [8.93, 1.15, 5.28],
      'head-back': [5.1, 7.42, 5.55],
    };
    expect(fixtures.map((one: { name: string }) => one.name)).toEqual(Object.keys(hung));
    for (const { name, position, region90, rmsM, nowRmsM } of fixtures) {
      const at = hung[name as keyof typeof hung];
      const off = Math.hypot(...at.map((value, i) => value - position[i]));
      expect(off, name).toBeLessThan(region90.halfAxesM[0]);
      expect(rmsM, name).toBeLessThan(0.06);
      expect(nowRmsM, name).toBeGreaterThan(0.25);
    }
    // The day stands beside the pose, for the walk before the doors.
    expect(patch).toMatch(/\+ {4}calibrated: \d{4}-\d\d-\d\d\n/);
    execFileSync('patch', ['mine.show.yaml', 'heads.patch'], { cwd: folder });
    const again = JSON.parse((await run(args, '', folder)).stdout);
    for (const [i, { nowRmsM, rmsM }] of again.fixtures.entries()) {
      expect(nowRmsM).toBeCloseTo(fixtures[i].rmsM, 2);
      expect(nowRmsM).toBeCloseTo(rmsM, 2);
    }
    expect(again.patch).toBe('');
  });

  it('draws one of them, and leaves lines out', async () => {
    const plot = join(folder, 'head.svg');
    const { code, stdout } = await lampwright([
      'calibrate',
      'fixture',
      SALT_LANTERN,
      'head-back',
      '--samples',
      AIMS,
      '--leave-out',
      '22,23',
      '--plot',
      plot,
    ]);
    expect(code).toBe(0);
    expect(stdout).toContain('head-back, 5 samples');
    expect(stdout).toContain('90 % region');
    expect(readFileSync(plot, 'utf8')).toContain('where head-back hangs');
  });

  it('says which sample is wrong, and still proposes the others', async () => {
    const wrong = join(folder, 'aims.csv');
    writeFileSync(
      wrong,
      readFileSync(AIMS, 'utf8').replace('head-left,1.5,6.5,0,', 'head-left,1.5,5.5,0,'),
    );
    const { code, stdout } = await lampwright([
      'calibrate',
      'fixture',
      SALT_LANTERN,
      '--samples',
      wrong,
    ]);
    expect(code).toBe(1);
    expect(stdout).toContain(
      'the others agree without the sample of line 14, whose beam they put 0.',
    );
    expect(stdout).toContain('+    position: [5.156,');
    expect(stdout).not.toContain('-    position: [9, 1, 5.2]');
  });

  it('solves and proposes the trim of a tilt, which the show then has', async () => {
    // A head whose tilt is 2 degrees more than it is told: each tilt of the example is told 2 less.
    const lines = readFileSync(AIMS, 'utf8').split('\n');
    const off = lines.map(line => {
      const cells = line.split(',');
      return /^head-/.test(line)
        ? [...cells.slice(0, 5), (Number(cells[5]) - 2).toFixed(2)].join(',')
        : line;
    });
    const aims = join(folder, 'aims.csv');
    writeFileSync(aims, off.join('\n'));
    copyFileSync(SALT_LANTERN, join(folder, 'mine.show.yaml'));
    const args = [
      'calibrate',
      'fixture',
      'mine.show.yaml',
      'head-left',
      '--samples',
      'aims.csv',
      '--json',
    ];
    const hinted = JSON.parse((await run(args, '', folder)).stdout).fixtures[0];
    expect(hinted.findings.map((one: { code: string }) => one.code)).toEqual(['trim']);
    await run([...args, '--trim', '--patch', 'trim.patch'], '', folder);
    execFileSync('patch', ['mine.show.yaml', 'trim.patch'], { cwd: folder });
    const result = JSON.parse((await run([...args, '--trim'], '', folder)).stdout);
    const [{ tiltTrimDeg, rmsM, nowRmsM }] = result.fixtures;
    expect(Math.abs(tiltTrimDeg - 2)).toBeLessThan(0.5);
    expect(nowRmsM).toBeCloseTo(rmsM, 2);
    expect(result.patch).toBe('');
  });

  it('proposes a change of a show whose profile is in a file of its own', async () => {
    const show = join(folder, 'mine.show.yaml');
    const text = `lampwright: 1
name: One head
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers: { ines: { trackers: [1] } }
profiles:
  spot: { file: spot.profile.yaml }
fixtures:
  head-back: { profile: spot, mode: fine, universe: 1, address: 1, position: [5, 7.6, 5.4] } # upstage
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
    writeFileSync(show, text);
    copyFileSync(
      'config/profiles/moving-head-spot.profile.yaml',
      join(folder, 'spot.profile.yaml'),
    );
    expect((await lampwright(['check', show])).code).toBe(0);
    const own = readFileSync(AIMS, 'utf8')
      .split('\n')
      .filter(line => !/^head-(left|right)/.test(line));
    const aims = join(folder, 'aims.csv');
    writeFileSync(aims, own.join('\n'));
    const args = ['calibrate', 'fixture', show, '--samples', aims, '--json'];
    const { code, stdout } = await lampwright(args);
    expect(code).toBe(0);
    expect(JSON.parse(stdout).patch).toContain('address: 1, position: [5.156, ');
  });

  it('asks for samples, and says after each what they are worth', async () => {
    const rows = headRightAims().map(cells => cells.join(' '));
    const typed = [rows[0], 'four', rows[1], rows[1], 'undo', ...rows.slice(2), ''].join('\n');
    const { code, stdout, stderr } = await run(
      ['calibrate', 'fixture', SALT_LANTERN, 'head-right', '--ask', '--json'],
      typed,
    );
    expect(code).toBe(0);
    expect(stderr).toContain('"four" is not five numbers');
    expect(stderr).toContain('3: 3 samples; at least 4 are needed');
    expect(stderr).toMatch(/7: aim error about 4 cm over the stage; the next best at about/);
    expect(JSON.parse(stdout).fixtures[0].samples).toHaveLength(7);
  });

  it('captures samples from a tracker and the desk, and can save them', async () => {
    const rows = headRightAims()
      .slice(0, 6)
      .map(cells => cells.map(Number));
    const trackers = new Trackers(PORT);
    const desk = new Desk();
    const save = join(folder, 'head-right.csv');
    const live = new Conversation([
      'calibrate',
      'fixture',
      apart,
      'head-right',
      '--live',
      '--tracker',
      '21',
      '--seconds',
      '1',
      '--save',
      save,
      '--json',
    ]);
    await live.says('press Enter');
    // Nobody sends yet.
    live.type('');
    await live.says('Nothing was heard from the desk: no Art-Net on universe 2. Once more.');
    for (const [i, [x = 0, y = 0, z = 0, pan = 0, tilt = 0]] of rows.entries()) {
      trackers.place(21, x, y, z);
      trackers.place(22, 3, 3, 1);
      desk.aim(pan, tilt);
      await sleep(200);
      live.type('');
      await live.says(i < 3 ? `${i + 1}: ${i + 1} sample` : `${i + 1}: aim error about`);
    }
    desk.aim(10, 20);
    setTimeout(() => desk.aim(12, 20), 300);
    live.type('');
    await live.says('The head moved by 2.0 degrees meanwhile. Once more.');
    live.type('done');
    const { code, stdout } = await live.ended;
    trackers.close();
    desk.close();
    expect(code).toBe(0);
    const [{ samples, position }] = JSON.parse(stdout).fixtures;
    expect(samples).toHaveLength(6);
    expect(Math.hypot(position[0] - 1.12, position[1] - 0.87, position[2] - 5.31)).toBeLessThan(
      0.3,
    );
    const again = await run(['calibrate', 'fixture', apart, '--samples', save, '--json']);
    expect(JSON.parse(again.stdout).fixtures[0].position).toEqual(position);
  });
});
