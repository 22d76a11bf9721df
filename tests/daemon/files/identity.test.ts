import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { installationIdentity, seedOf, sourceNameOf } from '../../../src/daemon/files/identity.js';
import { createDataPacket } from '../../../src/protocols/sacn/data-packet.js';
import { decodeSacn } from '../../../src/protocols/sacn/decode.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

let folder: string;
let told: (string | undefined)[];
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-identity-'));
  told = [];
});
afterEach(() => rmSync(folder, { recursive: true }));

const hex = (more: Partial<Parameters<typeof installationIdentity>[0]> = {}) => {
  const { cid, fault } = installationIdentity({
    stateFolder: folder,
    file: '/etc/lampwright/main.show.yaml',
    standby: false,
    ...more,
  });
  if (fault !== undefined) told.push(fault);
  return Buffer.from(cid).toString('hex');
};

describe('the CID', () => {
  it('is a random UUID that stays with the state folder', () => {
    const first = hex();
    // Version 4 and variant of RFC 9562 5.4.
    expect(first).toMatch(/^.{12}4.{3}[89ab].{15}$/);
    expect(hex({ file: '/elsewhere/renamed.show.yaml' })).toBe(first);
    expect(readFileSync(join(folder, 'cid'), 'utf8').trim().replaceAll('-', '')).toBe(first);
    rmSync(join(folder, 'cid'));
    expect(hex()).not.toBe(first);
    expect(told).toEqual([]);
  });

  it('without one is of the machine and the show file, whatever host and show are called', () => {
    const none = { stateFolder: undefined, machineId: 'a' };
    expect(hex(none)).toBe(hex(none));
    expect(hex(none)).toMatch(/^.{12}8.{3}[89ab].{15}$/);
    expect(hex({ ...none, machineId: 'b' })).not.toBe(hex(none));
    expect(hex({ ...none, file: '/etc/lampwright/other.show.yaml' })).not.toBe(hex(none));
  });

  it('of a standby is another, though the machine may be a copy of the first', () => {
    expect(hex({ standby: true })).not.toBe(hex());
    expect(hex({ standby: true })).toBe(hex({ standby: true }));
    const none = { stateFolder: undefined, machineId: 'a' };
    expect(hex({ ...none, standby: true })).not.toBe(hex(none));
  });

  it.each(['pipe', 'device'])(
    'with a %s in its place is told of at once, and waited for by nobody',
    kind => {
      const file = join(folder, 'cid');
      if (kind === 'pipe') execFileSync('mkfifo', [file]);
      else symlinkSync('/dev/zero', file);
      expect(hex({ machineId: 'a' })).toBe(hex({ stateFolder: undefined, machineId: 'a' }));
      expect(told).toEqual([expect.stringMatching(/pipe|device/)]);
    },
  );

  it('that is damaged or can not be kept is told of, and left as it is', () => {
    writeFileSync(join(folder, 'cid'), 'nonsense');
    const first = hex({ machineId: 'a' });
    expect(first).toBe(hex({ stateFolder: undefined, machineId: 'a' }));
    expect(readFileSync(join(folder, 'cid'), 'utf8')).toBe('nonsense');
    expect(told[0]).toContain('holds no UUID');
    expect(hex({ stateFolder: '/dev/null/nowhere', machineId: 'a' })).toBe(first);
    expect(told).toHaveLength(2);
  });

  it('is given with what makes the same one at the next start, where that is known', () => {
    const at = { stateFolder: folder, file: 'a.show.yaml', standby: false };
    const made = installationIdentity(at);
    expect(made.seed).toBe(readFileSync(join(folder, 'cid'), 'utf8').trim());
    expect(seedOf(made.cid, false)).toBe(made.seed);
    expect(installationIdentity({ ...at, standby: true }).seed).toBe(made.seed);
    expect(seedOf(made.cid, true)).toBeUndefined();
  });
});

it.each([
  ['ascii', 'x'.repeat(60)],
  ['two bytes a character', 'ü'.repeat(60)],
])(
  'a machine is known by its name as receivers read it, where a long one is cut: %s',
  (_, name) => {
    const show = showOf(configShow('minimal').replace('One lamp', name));
    for (const standby of [false, true]) {
      const sourceName = sourceNameOf(show, standby);
      const sent = `lampwright ${standby ? 'standby ' : ''}${name}`;
      const { buffer } = createDataPacket({
        cid: new Uint8Array(16),
        sourceName: sent,
        universe: 1,
        priority: 100,
      });
      expect(decodeSacn(buffer)).toMatchObject({ sourceName });
      expect(sent.startsWith(sourceName)).toBe(true);
      expect(Buffer.byteLength(sourceName)).toBeGreaterThanOrEqual(62);
    }
  },
);
