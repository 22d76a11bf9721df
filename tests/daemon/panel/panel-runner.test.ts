import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { USUAL_PANEL } from '../../../src/daemon/panel/panel-options.js';
import {
  describePanel,
  lastCry,
  PanelRunner,
  troubleOfPanel,
} from '../../../src/daemon/panel/panel-runner.js';

it('tells the line that says why a panel ended, printable and short', () => {
  const thrown = `node:events:497
      throw er;
      ^

Error: EMFILE: too many open files, open '/state/panel-token'
    at Object.openSync (node:fs:573:18)
Node.js v22.1.0
`;
  expect(lastCry(thrown)).toEqual([
    "Error: EMFILE: too many open files, open '/state/panel-token'",
  ]);
  const full = `FATAL ERROR: Reached heap limit Allocation failed - JavaScript heap out of memory
----- Native stack trace -----
 1: 0xb8d0a3 node::OOMErrorHandler(char const*, v8::OOMDetails const&) [node]
`;
  expect(lastCry(full)[0]).toMatch(/^FATAL ERROR: Reached heap limit/);
  expect(lastCry('\x1b[31mno room\x07\n')).toEqual(['[31mno room']);
  expect(lastCry(`x${'y'.repeat(500)}`)[0]).toHaveLength(200);
  expect(lastCry('')).toEqual([]);
});

it('has status say what is wrong with a panel for as long as it is', () => {
  const kind = 'panel';
  expect(troubleOfPanel({ kind, state: 'gone', reason: 'it hangs', again: 1 })).toEqual({
    what: 'no panel: it hangs',
  });
  expect(troubleOfPanel({ kind, state: 'trouble', reason: 'no token' })).toEqual({
    what: 'the panel: no token',
  });
  expect(troubleOfPanel({ kind, state: 'trouble', reason: undefined })).toEqual({});
  expect(troubleOfPanel({ kind, state: 'listening', url: 'http://127.0.0.1:7240' })).toEqual({});
  // What it says of something else leaves its trouble as it is.
  expect(troubleOfPanel({ kind, state: 'renewed' })).toBeUndefined();
  expect(troubleOfPanel({ kind, state: 'turned-away', all: [], since: [] })).toBeUndefined();
});

it('logs what was turned away since the last line, and not all of it again', () => {
  const one = { reason: 'token wrong', from: '10.0.0.9', lastS: 5 } as const;
  const { level, text, data } = describePanel({
    kind: 'panel',
    state: 'turned-away',
    all: [{ ...one, count: 40 }],
    since: [{ ...one, count: 12 }],
  });
  expect([level, text]).toEqual([
    'warn',
    'the panel turned away 12 wrong tokens, the last from 10.0.0.9',
  ]);
  expect(data).toMatchObject({
    kind: 'panel',
    state: 'turned-away',
    counts: { 'token wrong': 12 },
  });
});

it('has ended when its process has, and with it whoever may start another at its port', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-panel-'));
  const entry = join(folder, 'panel.mjs');
  writeFileSync(
    entry,
    `setInterval(() => {}, 1000); console.log('{"kind":"listening","url":"http://here"}');`,
  );
  const started = process.argv[1] ?? '';
  try {
    // What is started is what this process was started with; two seconds later, when light is out.
    process.argv[1] = entry;
    const runner = await new Promise<PanelRunner>(resolve => {
      const one: PanelRunner = new PanelRunner(
        { ...USUAL_PANEL, hosts: [], certificate: undefined, folder },
        ({ state }) => {
          if (state === 'listening') resolve(one);
        },
      );
      one.start();
    });
    const { pid = 0 } = runner;
    expect(process.kill(pid, 0)).toBe(true);
    await runner.end();
    expect(() => process.kill(pid, 0)).toThrow('ESRCH');
  } finally {
    process.argv[1] = started;
    rmSync(folder, { recursive: true });
  }
});
