import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { connect, createServer, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { Answer } from '../../../src/daemon/asking/answers.js';
import { ask } from '../../../src/daemon/asking/ask.js';
import { parseRequest, type Request } from '../../../src/daemon/asking/request-words.js';
import { monotonicS } from '../../../src/daemon/machine/clock.js';
import { ControlServer } from '../../../src/daemon/operator/control.js';

const SOON = { timeout: 5000 };
let folder: string;
let server: ControlServer;
const asked: Request[] = [];
const faults: (string | undefined)[] = [];
const DONE: Answer = { outcome: 'done', ok: true, text: 'done' };

beforeEach(async () => {
  // When the server looks again is for the test to say; its sockets are real.
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  folder = mkdtempSync(join(tmpdir(), 'lampwright-control-'));
  await leaveSocket();
  asked.length = 0;
  faults.length = 0;
  server = new ControlServer(
    folder,
    async request => {
      asked.push(request);
      return DONE;
    },
    fault => faults.push(fault),
  );
  await server.open();
  expect(faults).toEqual([]);
});
afterEach(() => {
  vi.useRealTimers();
  server.close();
  rmSync(folder, { recursive: true });
});

/** What a daemon that was killed leaves behind: closing a server would delete its socket. */
async function leaveSocket(): Promise<void> {
  const path = join(folder, 'control.sock');
  const dead = createServer();
  await new Promise<void>(resolve => dead.listen(path, resolve));
  renameSync(path, `${path}.aside`);
  dead.close();
  renameSync(`${path}.aside`, path);
}

describe('the words of a request', () => {
  it.each([
    [
      ['assign', '7', 'ines'],
      {
        kind: 'operate',
        action: { kind: 'assign', tracker: '7', performer: 'ines', cause: 'command' },
      },
    ],
    [
      ['unassign', '7'],
      { kind: 'operate', action: { kind: 'unassign', tracker: '7', cause: 'command' } },
    ],
    [
      ['stop', 'ines'],
      { kind: 'operate', action: { kind: 'stop', performer: 'ines', cause: 'command' } },
    ],
    [
      ['resume', 'everybody'],
      { kind: 'operate', action: { kind: 'resume', performer: undefined, cause: 'command' } },
    ],
    [
      ['pin', 'spot', 'ines'],
      {
        kind: 'operate',
        action: { kind: 'pin', fixture: 'spot', performer: 'ines', cause: 'command' },
      },
    ],
    [
      ['unpin', 'spot'],
      {
        kind: 'operate',
        action: { kind: 'pin', fixture: 'spot', performer: undefined, cause: 'command' },
      },
    ],
    [['pin', 'spot'], { kind: 'incomplete', verb: 'pin', tracker: 'spot' }],
    [
      ['highlight', 'spot'],
      { kind: 'operate', action: { kind: 'highlight', fixture: 'spot', cause: 'command' } },
    ],
    [
      ['highlight', 'spot', 'while-tracked'],
      {
        kind: 'operate',
        action: { kind: 'highlight', fixture: 'spot', whileTracked: true, cause: 'command' },
      },
    ],
    [
      ['highlight', 'off'],
      { kind: 'operate', action: { kind: 'highlight', fixture: undefined, cause: 'command' } },
    ],
    [['rehearsal', 'Act two'], { kind: 'rehearsal', what: 'Act two', holdsS: undefined }],
    [['rehearsal', 'Act two', '10'], { kind: 'rehearsal', what: 'Act two', holdsS: 10 }],
    [['rehearsal', 'off'], { kind: 'rehearsal', what: undefined }],
    [['reload'], { kind: 'reload' }],
    [['status'], { kind: 'status' }],
  ])('%j', (words, request) => {
    expect(parseRequest(words)).toEqual(request);
  });
  it.each([
    [[]],
    [['assign', '7', 'ines', 'x']],
    [['unassign', '7', 'ines']],
    [['reload', 'x']],
    [['highlight', 'spot', 'now']],
    [['rehearsal']],
    [['rehearsal', 'Act two', 'soon']],
    [['fly']],
  ])('%j are not among them', words => {
    expect(parseRequest(words)).toMatch(/^it takes: assign TRACKER PERFORMER/);
  });
});

it('carries a request and its answer', async () => {
  expect(await ask(folder, ['unassign', '7'])).toEqual(DONE);
  expect(asked).toMatchObject([
    { action: { by: expect.stringMatching(/^control socket \(user \S+ uid \d+\)$/) } },
  ]);
  expect(await ask(folder, ['fly'])).toMatchObject({ ok: false });
});

it('tells the hands of one user apart', async () => {
  const hold = ['hold', 'atmospheric'];
  for (const hand of ['a-1', 'b-2', undefined, 'no hand']) {
    expect(await ask(folder, hold, { user: 'panel at ::1', hand })).toEqual(DONE);
  }
  const by = 'control socket (user panel at ::1)';
  const held = { kind: 'hold', hazard: 'atmospheric', held: true, by, cause: 'command' };
  expect(asked.map(one => one.kind === 'operate' && one.action)).toEqual([
    { ...held, hand: 'a-1' },
    { ...held, hand: 'b-2' },
    held,
    held,
  ]);
});

it('does nothing that comes later than whoever asked waits for', async () => {
  const nowS = monotonicS();
  const hold = ['hold', 'atmospheric'];
  expect(await ask(folder, hold, { user: 'panel', untilS: nowS + 60 })).toEqual(DONE);
  expect(await ask(folder, hold, { user: 'panel', untilS: nowS - 0.001 })).toEqual({
    outcome: 'refused',
    ok: false,
    text: 'This came too late, so nothing was done. Ask again.',
  });
  expect(asked).toHaveLength(1);
});

it('says that there is no daemon', async () => {
  expect(await ask(join(folder, 'nowhere'), ['status'])).toMatchObject({
    ok: false,
    text: expect.stringMatching(/^No daemon answers in .*: there is no control socket/),
  });
});

it.each([
  ['no JSON', 'hello\n', /JSON list of words/],
  ['no list', '{"a":1}\n', /JSON list of words/],
  ['no words', '[1,2]\n', /JSON list of words/],
  ['no end', 'x'.repeat(100_000), /^$/],
])('is not moved by a line that is %s', async (_, line, answer) => {
  const text = await new Promise<string>(resolve => {
    let heard = '';
    const socket = connect(join(folder, 'control.sock'), () => socket.write(line));
    socket.on('data', piece => {
      heard += piece.toString();
    });
    socket.on('error', () => undefined);
    socket.on('close', () => resolve(heard));
  });
  expect(text).toMatch(answer);
  expect(asked).toEqual([]);
  expect(await ask(folder, ['status'])).toEqual(DONE);
});

it('hangs up on whoever has the answer and does not, after a second', async () => {
  const path = join(folder, 'control.sock');
  const socket = connect({ path, allowHalfOpen: true }).setEncoding('utf8');
  let text = '';
  socket.on('data', piece => {
    text += piece;
  });
  socket.on('error', () => undefined).write('["status"]\n');
  await new Promise(resolve => socket.once('end', resolve));
  expect(JSON.parse(text)).toEqual(DONE);
  // When it is closed is for a real socket to say: this waits.
  const isClosed = () => new Promise(resolve => socket.write(' ', error => resolve(error != null)));
  expect(await isClosed()).toBe(false);
  await expect.poll(isClosed, SOON).toBe(true);
  expect(server.takeDrops()).toBeUndefined();
  socket.destroy();
});

const idle = () =>
  new Promise<Socket>(resolve => {
    const socket = connect(join(folder, 'control.sock'), () => resolve(socket));
    socket.on('error', () => undefined);
  });

it('takes a stop while any number of connections say nothing, or say it slowly', async () => {
  const sockets = await Promise.all(Array.from({ length: 200 }, idle));
  let isOver = false;
  const drip = () => {
    for (const socket of sockets) if (!socket.destroyed) socket.write('[');
    if (!isOver) setTimeout(drip, 5);
  };
  drip();
  try {
    for (let i = 0; i < 3; i++) {
      expect(await ask(folder, ['stop', 'everybody'])).toEqual(DONE);
    }
    // Whoever has said nothing whole for a second is closed, however busily it says it.
    await Promise.all(
      sockets.map(socket => socket.destroyed || new Promise(gone => socket.once('close', gone))),
    );
  } finally {
    isOver = true;
    for (const socket of sockets) socket.destroy();
  }
  expect(asked).toHaveLength(3);
});

describe('who watches', () => {
  const lookers = new Set<{ write(line: string): void }>();
  let turns = 0;
  beforeEach(() => {
    turns = 0;
    lookers.clear();
    server.feed = {
      add: looker => lookers.add(looker),
      remove: looker => lookers.delete(looker),
      turn: () => {
        turns += 1;
      },
    };
  });
  const watching = async (count: number) => {
    const sockets = await Promise.all(Array.from({ length: count }, idle));
    for (const socket of sockets) socket.pause().write('["watch","10"]\n');
    return sockets;
  };

  it('and says thousands of lines at once is cut off before anything is made of them', async () => {
    const [socket] = await watching(1);
    await vi.waitFor(() => expect(lookers.size).toBe(1), SOON);
    const flood = '["watch","1"]\n["watch","2"]\n{{{{\n'.repeat(10_000);
    socket?.write(flood);
    await vi.waitFor(() => expect(lookers.size).toBe(0), SOON);
    expect(turns).toBeLessThanOrEqual(200);
    expect(asked).toEqual([]);
    expect(server.takeDrops()).toMatch(
      /^connections closed: 1 that asked more than 16 things at once/,
    );
    expect(server.takeDrops()).toBeUndefined();
    expect(await ask(folder, ['stop', 'everybody'])).toEqual(DONE);
  });

  it('and reads nothing makes room for one who wants to, after 2 s; who reads does not', async () => {
    const deaf = await watching(16);
    await vi.waitFor(() => expect(lookers.size).toBe(16), SOON);
    // More than the kernel keeps for one who doesn't read.
    const tell = () => {
      for (const looker of lookers) looker.write('x'.repeat(300_000));
    };
    tell();
    const [reads] = deaf;
    reads?.resume();
    const [early] = await watching(1);
    await new Promise(gone => early?.resume().once('close', gone));
    expect(lookers.size).toBe(16);
    // What was read when is for the kernel to say: this waits.
    await new Promise(resolve => setTimeout(resolve, 2100));
    tell();
    const [late] = await watching(1);
    await vi.waitFor(() => expect(server.takeDrops()).toContain('1 that did not read'), SOON);
    expect(lookers.size).toBe(16);
    expect([reads?.destroyed, late?.destroyed]).toEqual([false, false]);
    for (const socket of [...deaf, early, late]) socket?.destroy();
  });
});

/** The server looks once a second, and tells in the turns of the event loop that come then. */
function looks(): void {
  vi.advanceTimersByTime(1000);
}
/** For what must not follow: a few turns of the event loop, with files and sockets in them. */
const aMoment = () => new Promise(resolve => setTimeout(resolve, 50));

it('is heard again after its socket was deleted', async () => {
  rmSync(join(folder, 'control.sock'));
  expect(await ask(folder, ['status'])).toMatchObject({ outcome: 'no daemon' });
  looks();
  await expect.poll(() => ask(folder, ['status']), SOON).toEqual(DONE);
});

it('says that its folder is gone, does not make it anew, and is heard again once it is back', async () => {
  rmSync(folder, { recursive: true });
  expect(await ask(folder, ['status'])).toMatchObject({ outcome: 'no daemon' });
  looks();
  await expect.poll(() => faults, SOON).toEqual([`${folder}: the folder is gone`]);
  looks();
  await aMoment();
  expect(existsSync(folder)).toBe(false);
  mkdirSync(folder);
  looks();
  await expect.poll(() => ask(folder, ['status']), SOON).toEqual(DONE);
  expect(faults).toEqual([`${folder}: the folder is gone`, undefined]);
});

describe('what stands in the place of its socket', () => {
  const path = () => join(folder, 'control.sock');

  it.each([
    ['a file', () => writeFileSync(path(), 'notes of somebody')],
    ['a folder', () => mkdirSync(path())],
    ['no socket', () => symlinkSync('nowhere', path())],
  ])('is named and left alone (%s), and it listens once that is gone', async (what, put) => {
    rmSync(path());
    put();
    looks();
    await expect.poll(() => faults, SOON).toHaveLength(1);
    expect(faults[0]).toBe(`${path()} is ${what}, and in the way of the socket: move it elsewhere`);
    if (what === 'a file') expect(readFileSync(path(), 'utf8')).toBe('notes of somebody');
    rmSync(path(), { recursive: true });
    looks();
    await expect.poll(() => ask(folder, ['status']), SOON).toEqual(DONE);
    expect(faults).toHaveLength(2);
    expect(faults[1]).toBeUndefined();
  });

  it('is not deleted at the end either', () => {
    rmSync(path());
    writeFileSync(path(), 'notes of somebody');
    server.close();
    expect(readFileSync(path(), 'utf8')).toBe('notes of somebody');
  });

  it('is its own: then it is deleted at the end', () => {
    server.close();
    expect(existsSync(path())).toBe(false);
  });

  it('is no reason to listen anew each second while it is its own', async () => {
    const before = statSync(path()).ino;
    looks();
    await aMoment();
    expect(statSync(path()).ino).toBe(before);
    expect(faults).toEqual([]);
  });
});

it('tries again in a folder that can not be made', async () => {
  const blocked = join(folder, 'file', 'state');
  writeFileSync(join(folder, 'file'), '');
  const told: (string | undefined)[] = [];
  const other = new ControlServer(
    blocked,
    async () => DONE,
    fault => told.push(fault),
  );
  await other.open();
  expect(told).toEqual([expect.stringContaining('ENOTDIR')]);
  rmSync(join(folder, 'file'));
  looks();
  await expect.poll(() => ask(blocked, ['status']), SOON).toEqual(DONE);
  expect(told).toHaveLength(2);
  other.close();
});

/** Descriptors of a process that may have so many more. */
class FewDescriptors {
  taken = 0;
  isFree = () => this.taken < this.most;
  constructor(public most: number) {}
  take(): number {
    if (!this.isFree()) throw Object.assign(new Error('too many'), { code: 'EMFILE' });
    return ++this.taken;
  }
  giveBack(): void {
    this.taken -= 1;
  }
}

describe('while no descriptor is free', () => {
  it('whoever has asked nothing makes room for an engine, and who comes is not closed for who watches', async () => {
    const few = new FewDescriptors(14);
    const where = join(folder, 'few');
    const other = new ControlServer(
      where,
      async () => DONE,
      () => undefined,
      few,
    );
    other.feed = { add: () => undefined, remove: () => undefined, turn: () => undefined };
    await other.open();
    const closed: number[] = [];
    const path = join(where, 'control.sock');
    const idle = Array.from({ length: 8 }, (_, i) =>
      connect(path).on('close', () => closed.push(i)),
    );
    await expect.poll(() => idle.every(({ readyState }) => readyState === 'open'), SOON).toBe(true);
    // Longer than one who asks at once takes for it.
    await new Promise(resolve => setTimeout(resolve, 150));
    expect(await ask(where, ['stop', 'everybody'])).toEqual(DONE);
    await expect.poll(() => closed, SOON).toEqual([0]);
    for (const socket of idle) socket.destroy();
    await expect.poll(() => closed.length, SOON).toBe(8);
    const watcher = connect(path);
    watcher.write('["watch","5"]\n');
    const isClosed = vi.fn();
    watcher.on('close', isClosed);
    await new Promise(resolve => setTimeout(resolve, 150));
    few.most = few.taken;
    expect(await ask(where, ['stop', 'everybody'])).toEqual(DONE);
    watcher.destroy();
    other.close();
  });

  it('whoever has an answer and does not hang up makes room at once, and so do the newest who watch for an engine', async () => {
    const where = join(folder, 'few');
    const watching: object[] = [];
    const open = () => readdirSync('/proc/self/fd').length;
    const few = new FewDescriptors(30);
    const other = new ControlServer(
      where,
      async () => DONE,
      () => undefined,
      few,
    );
    other.feed = {
      add: looker => watching.push(looker),
      remove: () => undefined,
      turn: () => undefined,
    };
    await other.open();
    const stays = { path: join(where, 'control.sock'), allowHalfOpen: true };
    const ofWatchers: string[] = [];
    const watchers = ['panel', 'page'].map(name => {
      const socket = connect(stays).on('end', () => ofWatchers.push(name));
      socket.resume().write('["watch","5"]\n');
      return socket;
    });
    await expect.poll(() => watching.length, SOON).toBe(2);
    let answered = 0;
    const held = Array.from({ length: 5 }, () => {
      const socket = connect(stays).on('data', () => {
        answered += 1;
      });
      socket.write('["status"]\n');
      return socket;
    });
    await expect.poll(() => answered, SOON).toBe(5);
    await aMoment();
    // Of 4 that it keeps, and those free: with each that is closed one more.
    const leave = (free: number) => {
      const before = open();
      few.isFree = () => few.taken < 4 + free + before - open();
    };
    leave(4);
    other.makeRoom('reader');
    // Writing to one that is closed at its other end fails.
    const isClosed = (socket: Socket) =>
      new Promise<boolean>(resolve => {
        socket.on('error', () => resolve(true)).write(' ', error => resolve(error != null));
      });
    expect(await Promise.all(held.map(isClosed))).toEqual(Array(5).fill(true));
    expect(ofWatchers).toEqual([]);
    expect(other.takeDrops()).toBeUndefined();
    leave(9);
    other.makeRoom('engine');
    await expect.poll(() => ofWatchers, SOON).toEqual(['page']);
    await aMoment();
    expect(ofWatchers).toEqual(['page']);
    expect(other.takeDrops()).toMatch(/that made room for others/);
    for (const socket of [...watchers, ...held]) socket.destroy();
    other.close();
  });

  it('gives up those that it has kept, and then listens no more until there are some', async () => {
    const few = new FewDescriptors(10);
    const where = join(folder, 'few');
    const told: (string | undefined)[] = [];
    const other = new ControlServer(
      where,
      async () => DONE,
      fault => told.push(fault),
      few,
    );
    await other.open();
    expect([await ask(where, ['status']), few.taken, told]).toEqual([DONE, 4, []]);
    // Others take all that is free: one that was kept is given up for who connects.
    few.most = 4;
    expect(await ask(where, ['stop', 'everybody'])).toEqual(DONE);
    expect(few.taken).toBeLessThan(4);
    expect(told).toEqual([]);
    // They take those too.
    few.most = 0;
    looks();
    await expect.poll(() => told, SOON).toEqual([expect.stringContaining('EMFILE')]);
    expect(few.taken).toBe(0);
    expect(await ask(where, ['status'])).toMatchObject({ outcome: 'no daemon' });
    few.most = 2;
    looks();
    await aMoment();
    expect(told).toHaveLength(1);
    few.most = 10;
    looks();
    await expect.poll(() => ask(where, ['status']), SOON).toEqual(DONE);
    expect(told).toEqual([expect.stringContaining('EMFILE'), undefined]);
    looks();
    await expect.poll(() => few.taken, SOON).toBe(4);
    other.close();
    expect(few.taken).toBe(0);
  });
});
