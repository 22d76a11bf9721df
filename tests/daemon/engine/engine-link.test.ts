import { type ChildProcess, spawn } from 'node:child_process';
import { EventEmitter } from 'node:events';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { EngineLink, type Launch, nodeOptions } from '../../../src/daemon/engine/engine-link.js';
import { monotonicS } from '../../../src/daemon/machine/clock.js';
import { startFault } from '../../../src/daemon/machine/system-fault.js';
import { FRAME, MAGIC, MESSAGE_TYPES, NO_CUE, VERSION } from '../../../src/daemon/pipe/layout.js';
import type { Section } from '../../../src/show/model/sections.js';

const SECTIONS: readonly Section[] = [
  {
    firstUniverse: 0,
    endUniverse: 1,
    runs: { starts: Int32Array.of(2), lengths: Int32Array.of(2), count: 2 },
  },
  {
    firstUniverse: 1,
    endUniverse: 2,
    runs: { starts: Int32Array.of(4), lengths: Int32Array.of(1), count: 1 },
  },
];
const ORDERS = { text: '', file: '', packed: [], tickHz: 40, snapshotHz: 0, traceTicks: false };

/** What an engine that does as a test wants starts with: messages by the layout of the pipe. */
const PRELUDE = `
import { writeSync } from 'node:fs';
let sequence = 0;
let together;
const atOnce = write => {
  together = [];
  write();
  writeSync(3, Buffer.concat(together));
  together = undefined;
};
const send = (type, payload) => {
  const head = Buffer.alloc(16);
  head.writeUInt32LE(${MAGIC}, 0);
  head.writeUInt8(type, 4);
  head.writeUInt8(${VERSION}, 5);
  head.writeUInt32LE(sequence, 8);
  head.writeUInt32LE(payload.length, 12);
  const message = Buffer.concat([head, payload]);
  if (together) together.push(message);
  else writeSync(3, message);
};
const news = (type, value) => send(type, Buffer.from(JSON.stringify(value)));
const frame = (deadlineS, levels, section = 0, cue = ${NO_CUE}) => {
  if (section === 0) sequence += 1;
  const times = Buffer.alloc(${FRAME.levels});
  times.writeDoubleLE(deadlineS, 8);
  times.writeUInt16LE(section, 16);
  times.writeUInt16LE(cue, ${FRAME.cue});
  send(${MESSAGE_TYPES.indexOf('frame') + 1}, Buffer.concat([times, Buffer.from(levels)]));
};
process.stdin.resume().on('end', () => process.exit(0));
`;
const type = (name: (typeof MESSAGE_TYPES)[number]) => MESSAGE_TYPES.indexOf(name) + 1;

let folder: string;
let link: EngineLink | undefined;
const [, script] = process.argv;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-link-'));
});

afterEach(async () => {
  process.argv[1] = script ?? '';
  await link?.end();
  link = undefined;
  rmSync(folder, { recursive: true });
});

/** Starts an engine of our own; what the link tells of it. */
function start(
  body: string,
  launch?: Launch,
  orders: ConstructorParameters<typeof EngineLink>[0] = ORDERS,
) {
  const told = {
    frames: 0,
    order: [] as string[],
    started: [] as number[],
    said: [] as string[],
    events: [] as unknown[],
    ended: [] as [reason: string, fatal: string | undefined][],
  };
  const file = join(folder, 'engine.mjs');
  writeFileSync(file, PRELUDE + body);
  const made = new EngineLink(
    orders,
    Uint8Array.of(9, 9, 9, 9, 9),
    SECTIONS,
    {
      section: section => {
        told.frames += 1;
        told.order.push(`section ${section}: ${made.levels.subarray(2)}`);
      },
      events: events => {
        told.events.push(...events);
        told.order.push('events');
      },
      counters: () => undefined,
      snapshot: () => undefined,
      positions: () => undefined,
      prepared: () => undefined,
      tookOver: () => undefined,
      keptShow: () => undefined,
      started: pid => told.started.push(pid),
      said: line => told.said.push(line),
      ended: (reason, fatal) => told.ended.push([reason, fatal]),
    },
    launch,
  );
  link = made;
  process.argv[1] = file;
  made.start();
  return { link: made, told };
}

/** Waits for a real process, which takes as long as it takes to start; the deadline is for a busy machine. */
async function until(holds: () => boolean): Promise<void> {
  const deadline = performance.now() + 4000;
  while (!holds() && performance.now() < deadline) await sleep(5);
  expect(holds()).toBe(true);
}

describe('the link to the engine', () => {
  it('has what is said while a large show is still being read heard after it, and no end of it by one that hangs', async () => {
    const large = { ...ORDERS, text: 'x'.repeat(3 * 1024 * 1024) };
    const stop = { kind: 'stop', performer: 'ines', cause: 'command' } as const;
    // It reads nothing at first, and then tells how long the first line was, and what came after it.
    const { link, told } = start(
      `
      process.stdin.pause();
      setTimeout(() => {
        let text = '';
        process.stdin.on('data', chunk => {
          text += chunk;
          const lines = text.split('\\n');
          if (lines.length < 3) return;
          news(${type('hello')}, { pid: lines[0].length });
          news(${type('events')}, [JSON.parse(lines[1])]);
        });
        process.stdin.resume();
      }, 300);
    `,
      undefined,
      large,
    );
    expect(link.operate([stop])).toBe(true);
    await until(() => told.events.length > 0);
    expect(told.started[0]).toBeGreaterThan(large.text.length);
    expect(told.events[0]).toEqual({ operator: [stop] });
    await link.end();
    const { link: hung } = start('process.stdin.pause();', undefined, large);
    let said = 0;
    while (said < 1000 && hung.operate([{ ...stop, by: 'x'.repeat(64 * 1024) }])) said += 1;
    expect(said).toBeGreaterThan(10);
    expect(said).toBeLessThan(100);
    hung.kill();
  });

  it('takes frames on time, counts those that are late, and touches patched slots only', async () => {
    const late = monotonicS() - 1;
    const soon = monotonicS() + 60;
    const { link, told } = start(`
      news(${type('hello')}, { pid: process.pid });
      frame(${late}, [1, 2]);
      frame(${soon}, [3, 4]);
      frame(${soon}, [5], 1);
      news(${type('events')}, [{ kind: 'feed', silent: true, performers: [] }]);
    `);
    expect(link.lastFrameS).toBeUndefined();
    await until(() => told.events.length > 0);
    expect(told).toMatchObject({ frames: 2, started: [link.pid], ended: [] });
    expect(link.lateFrames).toBe(1);
    expect([...link.levels]).toEqual([9, 9, 3, 4, 5]);
    expect(link.lastFrameS).toBeLessThanOrEqual(monotonicS());
  });

  it('counts no frame as on time of which a section is late, however often the others come', async () => {
    const late = monotonicS() - 1;
    const soon = monotonicS() + 60;
    const { link, told } = start(`
      for (let tick = 0; tick < 20; tick++) {
        frame(${soon}, [tick, tick], 0);
        frame(${late}, [tick], 1);
        // And one that is late at its beginning only.
        frame(${late}, [tick, tick], 0);
        frame(${soon}, [tick], 1);
      }
      news(${type('events')}, [{ kind: 'feed', silent: true, performers: [] }]);
    `);
    await until(() => told.events.length > 0);
    expect(link.lateFrames).toBe(40);
    expect(link.lastFrameS).toBeUndefined();
  });

  it('of sections that come at once tells the newest, and before the news', async () => {
    const soon = monotonicS() + 60;
    const { told } = start(`
      atOnce(() => {
        news(${type('events')}, []);
        frame(${soon}, [1, 1], 0);
        frame(${soon}, [1], 1);
        news(${type('events')}, []);
        frame(${soon}, [2, 2], 0);
        frame(${soon}, [2], 1);
        news(${type('events')}, []);
      });
    `);
    await until(() => told.order.length >= 5);
    expect(told.order).toEqual([
      'events',
      'section 0: 2,2,2',
      'section 1: 2,2,2',
      'events',
      'events',
    ]);
  });

  it('passes on what the engine says, a line at a time however it is written', async () => {
    const { told } = start(`
      process.stderr.write('out of m');
      setTimeout(() => process.stderr.write('emory\\n\\nat line 5\\nlast'), 50);
      setTimeout(() => process.exit(7), 100);
    `);
    await until(() => told.ended.length > 0 && told.said.length === 3);
    expect(told.said).toEqual(['out of memory', 'at line 5', 'last']);
    expect(told.ended).toEqual([['it ended with code 7', undefined]]);
  });

  it('ends an engine that sends what is no message, and says why', async () => {
    const { link, told } = start(`
      writeSync(3, Buffer.from('no message at all'));
    `);
    await until(() => told.ended.length > 0);
    expect(told.ended).toEqual([['it sent bytes that are not a message', undefined]]);
    expect(link.pid).toBeUndefined();
  });

  it('passes on why an engine can not run', async () => {
    const { told } = start(`
      news(${type('fatal')}, { message: 'the port is taken' });
      process.exit(3);
    `);
    await until(() => told.ended.length > 0);
    expect(told.ended).toEqual([['it ended with code 3', 'the port is taken']]);
  });

  it('can start another when one has gone, which begins without a frame', async () => {
    const { link, told } = start(`
      frame(${monotonicS() + 60}, [5, 6]);
    `);
    await until(() => told.frames === 1);
    const { pid } = link;
    link.kill();
    await until(() => told.ended.length === 1);
    expect(told.ended).toEqual([['it was ended by SIGKILL', undefined]]);
    // The last levels stay, for the fade from them.
    expect([...link.levels]).toEqual([9, 9, 5, 6, 9]);
    link.start();
    expect(link.lastFrameS).toBeUndefined();
    expect(link.pid).not.toBe(pid);
    await until(() => told.frames === 2);
  });

  it('tells of an engine that could not be started, and throws nothing', async () => {
    const { link, told } = start(`
      frame(${monotonicS() + 60}, [5, 6]);
    `);
    await until(() => told.frames === 1);
    link.kill();
    await until(() => told.ended.length === 1);
    const [node, file = ''] = process.argv;
    process.argv.length = 1;
    link.start();
    process.argv = [node ?? '', file];
    expect(told.ended[1]?.[0]).toMatch(/^it could not be started: /);
    link.start();
    await until(() => told.frames === 2);
  });

  it('starts an engine without setpriv where there is none, and says so once', async () => {
    const path = process.env.PATH;
    process.env.PATH = '/nowhere';
    const { link, told } = start(`
      frame(${monotonicS() + 60}, [5, 6]);
    `);
    await until(() => told.ended.length === 1);
    expect(told.ended[0]?.[0]).toBe('it could not be started: spawn setpriv ENOENT');
    link.start();
    await until(() => told.frames === 1);
    process.env.PATH = path;
    expect(told.said).toEqual([expect.stringMatching(/^setpriv .* can't be used/)]);
  });

  /** A first process that the system refuses as it refuses a spawn; the next ones are real. */
  function refusingOnce(error: NodeJS.ErrnoException): { launch: Launch; commands: string[] } {
    const commands: string[] = [];
    const launch: Launch = (command, args, options) => {
      commands.push(command);
      if (commands.length > 1) return spawn(command, args, options);
      const child = new EventEmitter();
      setImmediate(() => child.emit('error', error));
      return child as ChildProcess;
    };
    return { launch, commands };
  }

  // execve(2), fork(2), pipe(2): what says something of setpriv, and what passes with the load of the machine.
  it.each([
    ['ENOENT', 'spawn setpriv', false],
    ['EACCES', 'spawn setpriv', false],
    ['EPERM', 'spawn setpriv', false],
    ['EAGAIN', 'spawn setpriv', true],
    ['EMFILE', 'spawn setpriv', true],
    ['ENOMEM', 'spawn setpriv', true],
    ['EACCES', 'read', true],
  ])('after %s of %s the next engine is tethered: %s', async (code, syscall, isTethered) => {
    const error = Object.assign(new Error(`${syscall} ${code}`), { code, syscall });
    const { launch, commands } = refusingOnce(error);
    const { link, told } = start(`frame(${monotonicS() + 60}, [5, 6]);`, launch);
    await until(() => told.ended.length === 1);
    expect(told.ended[0]?.[0]).toBe(`it could not be started: ${startFault(error)}`);
    link.start();
    await until(() => told.frames === 1);
    expect(commands).toEqual(['setpriv', isTethered ? 'setpriv' : process.execPath]);
    expect(told.said).toHaveLength(isTethered ? 0 : 1);
  });

  it.each([
    ['setpriv: failed to execute node: Cannot allocate memory', true],
    ["setpriv: unrecognized option '--pdeathsig'", false],
  ])('after "%s" the next engine is tethered: %s', async (line, isTethered) => {
    const commands: string[] = [];
    const { link, told } = start(
      `process.stderr.write(${JSON.stringify(`${line}
`)}); process.exit(127);`,
      (command, args, options) => {
        commands.push(command);
        return spawn(command, args, options);
      },
    );
    await until(() => told.ended.length === 1);
    link.start();
    await until(() => told.ended.length === 2);
    expect(commands).toEqual(['setpriv', isTethered ? 'setpriv' : process.execPath]);
  });

  it('ends an engine whose news can not be used, and says why', async () => {
    const { told } = start(`
      news(${type('hello')}, null);
      setInterval(() => undefined, 1000);
    `);
    await until(() => told.ended.length > 0);
    expect(told.ended[0]?.[0]).toMatch(/^it sent what can't be used: /);
  });
});

it('a Node that can be told to open no debugger is told so, and no other', () => {
  const flag = '--disable-sigusr1';
  expect(nodeOptions(['--enable-source-maps'], new Set())).not.toContain(flag);
  expect(nodeOptions(['--enable-source-maps'], new Set([flag]))).toEqual(
    expect.arrayContaining(['--enable-source-maps', flag]),
  );
});
