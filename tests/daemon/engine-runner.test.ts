import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { EngineRunner, type EngineRunnerEvent } from '../../src/daemon/engine/engine-runner.js';
import { monotonicS } from '../../src/daemon/machine/clock.js';
import { FRAME, MAGIC, MESSAGE_TYPES, VERSION } from '../../src/daemon/pipe/layout.js';
import { sectionsOf } from '../../src/show/model/sections.js';
import { parseShow } from '../../src/show/parse.js';
import { MINIMAL } from '../show/base.js';

/** An engine of the test's own: it notes each line that it is told, and says what the body has it say. */
const PRELUDE = `
import { appendFileSync, writeSync } from 'node:fs';
import { createInterface } from 'node:readline';
const say = (type, value) => {
  const payload = Buffer.from(JSON.stringify(value));
  const head = Buffer.alloc(16);
  head.writeUInt32LE(${MAGIC}, 0);
  head.writeUInt8(type, 4);
  head.writeUInt8(${VERSION}, 5);
  head.writeUInt32LE(payload.length, 12);
  writeSync(3, Buffer.concat([head, payload]));
};
let lines = 0;
createInterface({ input: process.stdin }).on('close', () => process.exit(0)).on('line', line => {
  lines += 1;
  appendFileSync(new URL('heard', import.meta.url), line + '\\n');
  hear(lines);
});
`;
/** What each engine is told before all else: it begins while the supervisor has the light. */
const AT_SAFE_LOOK = { kind: 'safe-look', held: true };
const type = (name: (typeof MESSAGE_TYPES)[number]) => MESSAGE_TYPES.indexOf(name) + 1;

let folder: string;
let runner: EngineRunner;
let events: EngineRunnerEvent[];
const [, script] = process.argv;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-runner-'));
  events = [];
});
afterEach(async () => {
  process.argv[1] = script ?? '';
  await runner.end();
  rmSync(folder, { recursive: true });
});

function minimal() {
  const parsed = parseShow(MINIMAL, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  return parsed;
}

function runnerOf(body: string): EngineRunner {
  const parsed = minimal();
  const file = join(folder, 'engine.mjs');
  writeFileSync(file, PRELUDE + body);
  process.argv[1] = file;
  const { show } = parsed;
  runner = new EngineRunner({
    show,
    sections: sectionsOf(show),
    orders: { text: MINIMAL, file: 'a', packed: [], tickHz: 40, snapshotHz: 0, traceTicks: false },
    levels: new Uint8Array(show.universes.length * 512),
    restored: () => [],
    heldInputs: () => [1],
    onSection: () => undefined,
    onEvent: event => events.push(event),
    onCounters: () => undefined,
    onSnapshot: () => undefined,
    onPositions: () => undefined,
    onCannotRun: () => false,
  });
  return runner;
}

const heard = () =>
  readFileSync(join(folder, 'heard'), 'utf8')
    .trim()
    .split('\n')
    .map(line => JSON.parse(line) as Record<string, unknown>);

/** Waits for a real process, which takes as long as it takes to start. */
async function until(holds: () => boolean): Promise<void> {
  const deadline = performance.now() + 8000;
  while (!holds() && performance.now() < deadline) await sleep(5);
  expect(holds()).toBe(true);
}

describe('an engine that is prepared while another one runs', () => {
  it('waits for its start, and is not started twice', async () => {
    const made = runnerOf(`const hear = line => {
      if (line === 1) say(${type('prepared')}, {});
      else say(${type('hello')}, { pid: process.pid });
    };`);
    expect(await made.prepare()).toBeUndefined();
    const { pid } = made;
    expect(heard()).toMatchObject([{ restored: 'later' }]);
    expect(events).toEqual([]);
    made.start();
    await until(() => events.some(({ kind }) => kind === 'engine-started'));
    expect(events).toEqual([{ kind: 'engine-started', pid }]);
    expect(heard()).toMatchObject([
      { restored: 'later' },
      { go: { restored: [AT_SAFE_LOOK], heldInputs: [1] } },
    ]);
  });

  it('is told once whenever all light goes to the safe look, or is its own again', async () => {
    const made = runnerOf(`const hear = line => {
      if (line === 1) say(${type('hello')}, { pid: process.pid });
    };`);
    made.start();
    await until(() => events.some(({ kind }) => kind === 'engine-started'));
    for (const held of [true, false, false, true]) made.tellSafeLook(held);
    await until(() => heard().length === 3);
    expect(heard()).toMatchObject([
      { restored: [AT_SAFE_LOOK] },
      { operator: [{ ...AT_SAFE_LOOK, held: false }] },
      { operator: [AT_SAFE_LOOK] },
    ]);
  });

  it('is tried twice, then says why it can not be, and is not tried again by itself', async () => {
    const made = runnerOf('const hear = () => process.exit(9);');
    expect(await made.prepare()).toBe('it ended with code 9');
    await sleep(400); // an engine that runs is started again after 0.1 s
    expect(heard()).toHaveLength(2);
    expect(events).toEqual([]);
  });

  it('that dies while it waits is started anew at its start', async () => {
    const made = runnerOf(`const hear = () => {
      say(${type('prepared')}, {});
      setTimeout(() => process.exit(9), 50);
    };`);
    expect(await made.prepare()).toBeUndefined();
    await until(() => made.pid === undefined);
    made.start();
    await until(() => heard().length === 2);
    expect(heard()).toMatchObject([
      { restored: 'later' },
      { restored: [AT_SAFE_LOOK], heldInputs: [1] },
    ]);
  });

  it('is given up with the end', async () => {
    const made = runnerOf('const hear = () => undefined;');
    const prepared = made.prepare();
    await made.end();
    expect(await prepared).toBe('it was ended');
  });
});

describe('an engine that starts slowly', () => {
  const ends = () => events.flatMap(one => (one.kind === 'engine-ended' ? [one] : []));
  const hello = `const hear = () => say(${type('hello')}, { pid: process.pid });`;

  it('has its ten seconds again from when it says that it runs', async () => {
    const made = runnerOf(hello);
    const startedS = monotonicS();
    made.start();
    await until(() => events.length === 1);
    const saidS = monotonicS();
    // Node takes at least a hundredth of a second to start: it would be over now, counted from there.
    expect(saidS - startedS).toBeGreaterThan(0.01);
    made.tend(startedS + 10.005, false);
    await sleep(50);
    expect(ends()).toEqual([]);
    made.tend(saidS + 10.2, false);
    await until(() => ends().length === 1);
    expect(ends()).toMatchObject([
      {
        how: 'slow to start',
        reason: expect.stringMatching(/^it ran, but sent no frame for \d+\.\d s/),
      },
    ]);
  });

  it('has twice as long after each such kill, up to 40 s', async () => {
    const made = runnerOf('const hear = () => undefined;');
    made.start();
    let all = 0;
    for (const [lives, dies] of [
      [9, 11],
      [19, 21],
      [38, 42],
      [38, 42],
    ] as const) {
      await until(() => made.pid !== undefined);
      const nowS = monotonicS();
      made.tend(nowS + lives, false);
      await sleep(50);
      expect(ends()).toHaveLength(all);
      made.tend(nowS + dies, false);
      all += 1;
      await until(() => ends().length === all);
    }
    expect(ends().map(({ how }) => how)).toEqual(Array(4).fill('slow to start'));
    expect(ends()[0]?.reason).toMatch(/^it sent nothing for /);
  });
});

describe('an engine that is to go on with another show', () => {
  /** @param then what it does when it is told of the other show, and at each line after that */
  const taking = async (then: string) => {
    const { show } = minimal();
    const slots = sectionsOf(show).map(({ runs }) => runs.count);
    const made = runnerOf(`
      const frame = (count, section) => {
        const head = Buffer.alloc(16);
        head.writeUInt32LE(${MAGIC}, 0);
        head.writeUInt8(${type('frame')}, 4);
        head.writeUInt8(${VERSION}, 5);
        head.writeUInt32LE(1, 8);
        head.writeUInt32LE(${FRAME.levels} + count, 12);
        const payload = Buffer.alloc(${FRAME.levels} + count);
        payload.writeDoubleLE(1e12, ${FRAME.deadline});
        payload.writeUInt16LE(section, ${FRAME.section});
        writeSync(3, Buffer.concat([head, payload]));
      };
      const hear = line => {
        if (line > 1) { ${then} }
        else {
          say(${type('hello')}, { pid: process.pid });
          ${JSON.stringify(slots)}.forEach(frame);
          say(${type('events')}, []);
        }
      };`);
    made.start();
    await until(() => made.condition(false, 60, monotonicS()) === undefined);
    const tookOver = vi.fn();
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
    const fault = made.takeShow({ show, text: MINIMAL, file: 'b', packed: [] }, tookOver);
    return { made, fault, tookOver };
  };
  afterEach(() => vi.useRealTimers());

  it('does so', async () => {
    const { made, fault, tookOver } = await taking(`say(${type('took over')}, {});`);
    expect(await fault).toBeUndefined();
    expect(tookOver).toHaveBeenCalledOnce();
    expect(made.refusesShow).toBe(false);
  });

  it('and is too busy for it is left alone: it goes on as it was, and the show is not to blame', async () => {
    const { made, fault, tookOver } = await taking(`if (line > 2) say(${type('kept show')}, {});`);
    const { pid } = made;
    vi.advanceTimersByTime(60_000);
    vi.useRealTimers();
    expect(await fault).toMatch(/too busy .* goes on as it was/);
    expect(heard().slice(2)).toEqual([{ keepShow: true }]);
    expect([made.pid, made.refusesShow]).toEqual([pid, false]);
    expect(events.filter(({ kind }) => kind === 'engine-ended')).toEqual([]);
    expect(tookOver).not.toHaveBeenCalled();
  });

  it('and was so just then has taken it', async () => {
    const { fault, tookOver } = await taking(`if (line > 2) say(${type('took over')}, {});`);
    vi.advanceTimersByTime(10_000);
    vi.useRealTimers();
    expect(await fault).toBeUndefined();
    expect(tookOver).toHaveBeenCalledOnce();
  });

  it('blames the show where it fails with it, and not where it is killed or ended', async () => {
    const failed = await taking('process.exit(9);');
    expect(await failed.fault).toBe('it ended with code 9');
    expect(failed.made.refusesShow).toBe(true);
    vi.useRealTimers();
    await failed.made.end();

    const killed = await taking("process.kill(process.pid, 'SIGKILL');");
    expect(await killed.fault).toBe('it was ended by SIGKILL');
    expect(killed.made.refusesShow).toBe(false);
    vi.useRealTimers();
    await killed.made.end();

    const ended = await taking('');
    ended.made.letGo();
    expect(await ended.fault).toBe('it was ended');
    expect(ended.made.refusesShow).toBe(false);
  });

  it('is not there', async () => {
    const made = runnerOf('const hear = () => undefined;');
    const next = { show: minimal().show, text: MINIMAL, file: 'b', packed: [] };
    expect(await made.takeShow(next, () => undefined)).toBe('no engine is running');
    expect(made.refusesShow).toBe(false);
  });
});
