import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { ask } from '../../../src/daemon/asking/ask.js';
import { type Followed, follow } from '../../../src/daemon/asking/follow.js';
import type { Request } from '../../../src/daemon/asking/request-words.js';
import type { Looker } from '../../../src/daemon/live/feed.js';
import { ControlServer } from '../../../src/daemon/operator/control.js';
import type { LiveEvent, LiveLine } from '../../../src/live/schema.js';

const EVENT: LiveEvent = { kind: 'event', atS: 1, level: 'info', text: 'one', what: 'feed' };

let folder: string;
let server: ControlServer;
let lookers: Looker[];
let turned: number[];
let asked: Request[];
let lines: LiveLine[];
let ends: string[];
let followed: Followed;

/** A daemon with one event; its sockets are real. */
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-follow-'));
  [lookers, turned, asked, lines, ends] = [[], [], [], [], []];
  server = new ControlServer(
    folder,
    async request => {
      asked.push(request);
      return { outcome: 'done', ok: true, text: 'Done.' };
    },
    () => undefined,
  );
  server.feed = {
    add: looker => {
      lookers.push(looker);
      looker.write(`${JSON.stringify(EVENT)}\n`);
    },
    turn: (_, rateHz) => turned.push(rateHz),
    remove: () => undefined,
  };
  await server.open();
  followed = follow(folder, 1, {
    line: line => lines.push(line),
    ended: why => ends.push(why),
  });
  await expect.poll(() => lines).toEqual([EVENT]);
});
afterEach(() => {
  followed.end();
  server.close();
  rmSync(folder, { recursive: true, force: true });
});

it('asks on the open connection when the folder with the socket is gone', async () => {
  rmSync(folder, { recursive: true });
  expect(await ask(folder, ['stop', 'everybody'])).toMatchObject({ outcome: 'no daemon' });
  const answers = await Promise.all([
    followed.ask(['stop', 'everybody'], { user: 'panel at 10.0.0.9' }),
    followed.ask(['dance'], { user: 'panel at 10.0.0.9' }),
  ]);
  expect(answers.map(answer => answer?.outcome)).toEqual(['done', 'refused']);
  expect(asked).toMatchObject([
    { action: { kind: 'stop', by: 'control socket (user panel at 10.0.0.9)' } },
  ]);
  expect(ends).toEqual([]);
});

it('takes another rate on the same connection', async () => {
  followed.turn(5);
  await expect.poll(() => turned).toEqual([5]);
  expect(lookers.map(({ rateHz }) => rateHz)).toEqual([1]);
  expect(lines).toEqual([EVENT]);
});

it('gives no answer once the daemon has gone', async () => {
  server.close();
  await expect.poll(() => ends).toHaveLength(1);
  expect(await followed.ask(['stop', 'everybody'], { user: 'panel' })).toBeUndefined();
});
