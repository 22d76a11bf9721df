import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect } from 'node:tls';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { selfSigned } from '../certificate.js';
import { Daemon, SALT_LANTERN, until } from './support.js';

/** A certificate is renewed while the show runs. */
const PORT = 7243;
let folder: string;
let daemon: Daemon;
const put = (name: 'cert' | 'key', text: string) => writeFileSync(join(folder, name), text);
const panelLines = () => daemon.log.filter(({ kind }) => kind === 'panel').map(({ msg }) => msg);

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-certificate-'));
  const { cert, key } = selfSigned('before');
  put('cert', cert);
  put('key', key);
  const pem = ['--panel-cert', join(folder, 'cert'), '--panel-key', join(folder, 'key')];
  const where = ['--state-dir', join(folder, 'state'), '--panel', `127.0.0.1:${PORT}`];
  daemon = Daemon.run(SALT_LANTERN, {}, [...where, ...pem]);
  await until('the panel listens', () => panelLines().length > 0, 40);
}, 60_000);

afterAll(async () => {
  await daemon.stop();
  rmSync(folder, { recursive: true });
});

function shown(): Promise<string> {
  const options = { port: PORT, host: '127.0.0.1', rejectUnauthorized: false };
  return new Promise((resolve, reject) => {
    const socket = connect(options, () => {
      resolve(String(socket.getPeerCertificate().subject.CN));
      socket.destroy();
    });
    socket.once('error', reject);
  });
}

it('is used without a restart, and one that can not be used leaves the one before it', async () => {
  const last = () => panelLines().at(-1) ?? '';
  expect(await shown()).toBe('before');
  const { cert, key } = selfSigned('after');
  put('cert', cert);
  await until('the new one has no key', () => /is not the key of the certificate in/.test(last()));
  expect(last()).toContain('The old certificate is still used');
  expect(await shown()).toBe('before');
  put('key', key);
  await until('it is used', () => panelLines().includes('the panel uses the renewed certificate'));
  expect(await shown()).toBe('after');
  await until('all is well', () => last() === 'nothing is wrong with the panel any more');
});
