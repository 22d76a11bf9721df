import { createPrivateKey, X509Certificate } from 'node:crypto';
import { mkdtempSync, renameSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { CertificateWatch, readCertificate } from '../../../src/daemon/panel/certificate.js';
import { selfSigned } from '../../certificate.js';

let folder: string;
let files: { cert: string; key: string };
const [first, second] = [selfSigned('first'), selfSigned('second')];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-certificate-'));
  files = { cert: join(folder, 'cert.pem'), key: join(folder, 'key.pem') };
  put(first);
});
afterEach(() => rmSync(folder, { recursive: true }));

function put({ cert, key }: Partial<typeof first>): void {
  if (cert !== undefined) writeFileSync(files.cert, cert);
  if (key !== undefined) writeFileSync(files.key, key);
}

/** All that it tells in some looks. */
const looks = (watch: CertificateWatch) => [1, 2, 3, 4].map(() => watch.look());

it('says that they are renewed once, when both have been written', () => {
  const watch = new CertificateWatch(files);
  expect(watch.look()).toBeUndefined();
  put({ cert: second.cert });
  expect(watch.look()).toBeUndefined();
  put({ key: second.key });
  const told = looks(watch).filter(news => news !== undefined);
  const [cert, key] = [Buffer.from(second.cert), Buffer.from(second.key)];
  expect(told).toEqual([{ renewed: { cert, key } }]);
});

it('sees another file behind a link', () => {
  const real = join(folder, 'real.pem');
  renameSync(files.cert, real);
  symlinkSync(real, files.cert);
  const watch = new CertificateWatch(files);
  expect(watch.look()).toBeUndefined();
  writeFileSync(`${real}.new`, second.cert);
  put({ key: second.key });
  renameSync(`${real}.new`, real);
  expect(looks(watch).filter(news => news !== undefined)).toHaveLength(1);
});

function withPassphrase(key: string): string {
  const options = { type: 'pkcs8', format: 'pem', cipher: 'aes-128-cbc', passphrase: 'x' } as const;
  return createPrivateKey(key).export(options).toString();
}

it.each([
  [
    'of another key',
    () => put({ cert: second.cert }),
    /key\.pem is not the key of the certificate in .*cert\.pem \(.*mismatch\)/,
  ],
  [
    'cut short',
    () => put({ cert: first.cert.slice(0, 200) }),
    /cert\.pem is damaged or cut short \(.*\)/,
  ],
  ['of text', () => put({ cert: 'soon' }), /cert\.pem holds no certificate in PEM \(.*\)/],
  ['the key alone', () => put({ cert: first.key }), /cert\.pem holds no certificate in PEM/],
  ['with a key of text', () => put({ key: 'soon' }), /key\.pem holds no private key in PEM/],
  [
    'with a key that has a passphrase',
    () => put({ key: withPassphrase(first.key) }),
    /key\.pem has a passphrase: store the key without one/,
  ],
  [
    'with a damaged key',
    () => put({ key: first.key.slice(0, 200) }),
    /key\.pem is damaged or cut short/,
  ],
  [
    'in DER',
    () => writeFileSync(files.cert, new X509Certificate(first.cert).raw),
    /cert\.pem is in DER: convert it to PEM/,
  ],
  ['gone', () => rmSync(files.key), /key\.pem can't be read: there is no such file/],
])('one that is %s is told of once, and the one before it is still used', (_, spoil, why) => {
  const watch = new CertificateWatch(files);
  spoil();
  const told = looks(watch).filter(news => news !== undefined);
  expect(told).toEqual([{ fault: expect.stringMatching(why) }]);
  expect(told).toEqual([{ fault: expect.stringContaining('is still used') }]);
  put(second);
  expect(looks(watch).filter(news => news !== undefined)).toEqual([
    { renewed: readCertificate(files) },
  ]);
});
