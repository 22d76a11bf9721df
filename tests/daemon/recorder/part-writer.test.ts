import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { PartWriter } from '../../../src/daemon/recorder/part-writer.js';
import { MAGIC } from '../../../src/recording/layout.js';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-parts-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

function writer(where = folder, retryMs?: number) {
  const faults: (string | undefined)[] = [];
  const lost = { count: 0 };
  const made = new PartWriter(
    {
      nextNumber: async () => readdirSync(where).length + 1,
      pathOf: part => join(where, `${part}`),
      turned: () => undefined,
      fault: message => faults.push(message),
      lost: records => {
        lost.count += records;
      },
    },
    retryMs,
  );
  return { made, faults, lost };
}

const contents = (part: number) => readFileSync(join(folder, `${part}`)).subarray(MAGIC.length);

describe('the writer of parts', () => {
  it('writes what it was given, in order, each part to its file', async () => {
    const { made } = writer();
    made.append(Buffer.from('salt '));
    made.append(Buffer.from('lantern'));
    expect(made.partBytes).toBe(MAGIC.length + 12);
    made.nextPart();
    made.append(Buffer.from('gull'));
    await made.close();
    expect(readdirSync(folder)).toEqual(['1', '2']);
    expect(contents(1).toString()).toBe('salt lantern');
    expect(contents(2).toString()).toBe('gull');
    expect(readFileSync(join(folder, '2')).subarray(0, MAGIC.length)).toEqual(Buffer.from(MAGIC));
  });

  it('refuses what does not fit into its memory, without waiting, and takes more when the disk has caught up', async () => {
    const { made } = writer();
    const piece = Buffer.alloc(100_000, 7);
    let taken = 0;
    // No turn of the event loop: the disk has no chance, however fast it is.
    while (made.append(piece)) taken += 1;
    expect(taken * piece.length).toBeLessThanOrEqual(8 * 1024 * 1024);
    expect(taken).toBeGreaterThan(50);
    // Written every 100 ms, by the thread pool: real time.
    for (let i = 0; i < 100 && !made.append(piece); i++) await sleep(20);
    await made.close();
    expect(contents(1).length).toBe((taken + 1) * piece.length);
  });

  it('takes a record that is larger than its chunks', async () => {
    const { made } = writer();
    made.append(Buffer.from('a'));
    made.append(Buffer.alloc(1_000_000, 1));
    made.append(Buffer.from('b'));
    await made.close();
    expect(contents(1).length).toBe(1_000_002);
    expect(contents(1).subarray(-1).toString()).toBe('b');
  });

  it('says once that a disk refuses, loses what waits, and begins a new part when it may try again', async () => {
    const missing = join(folder, 'gone');
    const { made, faults } = writer(missing, 50);
    made.append(Buffer.from('lost'));
    for (let i = 0; i < 100 && !made.broken; i++) await sleep(20);
    expect(faults).toEqual(['the folder is gone']);
    expect(made.append(Buffer.from('also lost'))).toBe(false);
    for (let i = 0; i < 100 && !made.mayRetry; i++) await sleep(20);
    mkdirSync(missing);
    made.nextPart();
    expect(made.append(Buffer.from('kept'))).toBe(true);
    await made.close();
    expect(faults).toEqual(['the folder is gone', undefined]);
    // The number is that of the folder, whatever came before.
    expect(readdirSync(missing)).toEqual(['1']);
  });

  it('writes all that waits at once when the process is about to die', async () => {
    const { made } = writer();
    made.append(Buffer.from('salt'));
    made.flushNow();
    expect(contents(1).toString()).toBe('salt');
    await made.close().catch(() => undefined);
  });

  it.each(['file', 'folder'])(
    'notices that its %s was deleted, and begins another when it is back',
    async what => {
      const where = join(folder, 'run');
      mkdirSync(where);
      const { made, faults } = writer(where, 100);
      made.append(Buffer.from('before'));
      await sleep(400); // it is written every 200 ms, and looked for every second
      if (what === 'file') rmSync(join(where, '1'));
      else rmSync(where, { recursive: true });
      for (let i = 0; i < 200 && faults.length === 0; i++) {
        made.append(Buffer.from('lost'));
        await sleep(20);
      }
      expect(faults).toEqual(['the folder is gone']);
      mkdirSync(where, { recursive: true });
      for (let i = 0; i < 100 && !made.mayRetry; i++) await sleep(20);
      made.nextPart();
      made.append(Buffer.from('after'));
      await made.close();
      expect(faults).toEqual(['the folder is gone', undefined]);
      expect(readFileSync(join(where, '1')).subarray(MAGIC.length).toString()).toBe('after');
    },
  );
});
