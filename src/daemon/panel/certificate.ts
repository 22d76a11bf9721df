import { createPrivateKey } from 'node:crypto';
import { statSync } from 'node:fs';
import { createSecureContext } from 'node:tls';
import { messageOf } from '../../stage/message-of.js';
import { readBytes } from '../files/read-file.js';

/** Paths of a certificate and its key, PEM. */
export interface CertificateFiles {
  readonly cert: string;
  readonly key: string;
}

/** What is in them, and belongs together. */
export interface Certificate {
  readonly cert: Buffer;
  readonly key: Buffer;
}

const MOST_PEM_BYTES = 256 * 1024;

/** Throws what is wrong with them, in a sentence without its end. */
export function readCertificate(files: CertificateFiles): Certificate {
  const { cert, key } = { cert: readPem(files.cert), key: readPem(files.key) };
  try {
    createSecureContext({ cert, key });
  } catch (error) {
    throw new Error(`${faultOf(files, { cert, key }, error)} (${messageOf(error)})`);
  }
  return { cert, key };
}

const CERTIFICATE = /-----BEGIN (TRUSTED |X509 )?CERTIFICATE-----/;
const PRIVATE_KEY = /-----BEGIN ([A-Z]+ )?PRIVATE KEY-----/;
const WITH_PASSPHRASE = /ENCRYPTED/;
/** How DER begins: a sequence, whose length follows in several bytes. */
const DER = [0x30, 0x82];

/** What of it can't be used; the words of the library are for those who know them. */
function faultOf(files: CertificateFiles, read: Certificate, error: unknown): string {
  const { code } = Object(error) as { readonly code?: unknown };
  if (code === 'ERR_OSSL_X509_KEY_VALUES_MISMATCH') {
    return `${files.key} is not the key of the certificate in ${files.cert}`;
  }
  const [cert, key] = [read.cert.toString('latin1'), read.key.toString('latin1')];
  if (!CERTIFICATE.test(cert)) return notPem(files.cert, read.cert, 'certificate');
  if (WITH_PASSPHRASE.test(key)) return `${files.key} has a passphrase: store the key without one`;
  if (!PRIVATE_KEY.test(key)) return notPem(files.key, read.key, 'private key');
  if (typeof code === 'string' && /TOO_(SMALL|WEAK)/.test(code)) {
    return `the key in ${files.key}, or the signature of ${files.cert}, is too weak for TLS: make a new pair`;
  }
  const damaged = isKey(read.key) ? files.cert : files.key;
  return `${damaged} is damaged or cut short`;
}

function notPem(file: string, bytes: Buffer, what: string): string {
  return DER.every((byte, index) => bytes[index] === byte)
    ? `${file} is in DER: convert it to PEM`
    : `${file} holds no ${what} in PEM`;
}

function isKey(key: Buffer): boolean {
  try {
    createPrivateKey(key);
    return true;
  } catch {
    return false;
  }
}

function readPem(file: string): Buffer {
  const read = readBytes(file, MOST_PEM_BYTES);
  if (!read.ok) throw new Error(`${file} can't be read: ${read.fault}`);
  return read.bytes;
}

/** What has become of the files: they hold another certificate, or none that can be used. */
export type CertificateNews =
  | { readonly renewed: Certificate }
  /** In a sentence without its end. */
  | { readonly fault: string };

/** Watches the certificate while a panel runs: it is renewed every few weeks, and nobody restarts a show for that. */
export class CertificateWatch {
  #seen: string;
  /** What was found in the last look: certificate and key are written one after the other. */
  #found: string;

  /** @param files which have just been read */
  constructor(private readonly files: CertificateFiles) {
    this.#seen = marksOf(files);
    this.#found = this.#seen;
  }

  /** @returns what there is to tell, once, when the files have been left alone between two looks */
  look(): CertificateNews | undefined {
    const now = marksOf(this.files);
    const isStill = now === this.#found;
    this.#found = now;
    if (now === this.#seen || !isStill) return undefined;
    this.#seen = now;
    try {
      return { renewed: readCertificate(this.files) };
    } catch (error) {
      const why = messageOf(error);
      return {
        fault: `${why}. The old certificate is still used; the files are read again when they change`,
      };
    }
  }
}

/** The same for as long as nobody has written to them. Of links what they lead to. */
function marksOf({ cert, key }: CertificateFiles): string {
  return [cert, key].map(marksOfFile).join(', ');
}

function marksOfFile(file: string): string {
  try {
    const { dev, ino, size, mtimeMs, ctimeMs } = statSync(file);
    return [dev, ino, size, mtimeMs, ctimeMs].join(' ');
  } catch (error) {
    return messageOf(error);
  }
}
