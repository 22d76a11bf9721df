import { mkdtempSync, renameSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { ask, CONTROL_SOCKET } from '../../../src/daemon/asking/ask.js';

it('says of a socket that nobody listens at that its daemon has ended, or that the folder was moved', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-ask-'));
  const moved = `${folder}-moved`;
  const server = createServer();
  await new Promise<void>(resolve => server.listen(join(folder, CONTROL_SOCKET), resolve));
  renameSync(folder, moved);
  await new Promise(resolve => server.close(resolve));
  expect(await ask(moved, ['status'])).toEqual({
    outcome: 'no daemon',
    ok: false,
    text: `No daemon answers in ${moved}: the one that was started there has ended; or, if it still runs, the folder was moved: put it back, and ask again in a few seconds.`,
  });
  rmSync(moved, { recursive: true });
});
