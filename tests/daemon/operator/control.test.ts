import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import {
  ask,
  ControlServer,
  parseRequest,
  type Request,
} from '../../../src/daemon/operator/control.js';

let folder: string;
let server: ControlServer;
const asked: Request[] = [];

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-control-'));
  // What a daemon that was killed leaves behind.
  writeFileSync(join(folder, 'control.sock'), '');
  asked.length = 0;
  server = new ControlServer(folder, async request => {
    asked.push(request);
    return { ok: true, text: 'done' };
  });
  expect(await server.open()).toBeUndefined();
});
afterEach(() => {
  server.close();
  rmSync(folder, { recursive: true });
});

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
    [['reload'], { kind: 'reload' }],
    [['status'], { kind: 'status' }],
  ])('%j', (words, request) => {
    expect(parseRequest(words)).toEqual(request);
  });
  it.each([
    [[]],
    [['assign']],
    [['assign', '7']],
    [['assign', '7', 'ines', 'x']],
    [['unassign', '7', 'ines']],
    [['reload', 'x']],
    [['fly']],
  ])('%j are not among them', words => {
    expect(parseRequest(words)).toMatch(/^it takes: assign TRACKER PERFORMER/);
  });
});

it('carries a request and its answer', async () => {
  expect(await ask(folder, ['unassign', '7'])).toEqual({ ok: true, text: 'done' });
  expect(asked).toHaveLength(1);
  expect(await ask(folder, ['fly'])).toMatchObject({ ok: false });
});

it('says that there is no daemon', async () => {
  expect(await ask(join(folder, 'nowhere'), ['status'])).toMatchObject({
    ok: false,
    text: expect.stringMatching(/^no daemon listens in /),
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
  expect(await ask(folder, ['status'])).toEqual({ ok: true, text: 'done' });
});
