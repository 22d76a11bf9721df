import { generateKeyPairSync, sign } from 'node:crypto';

/** Tags of ASN.1 in DER (X.690), of what a certificate (RFC 5280, 4.1) is made. */
const [INTEGER, BIT_STRING, OID, UTF8, SEQUENCE, SET, UTC_TIME] = [
  0x02, 0x03, 0x06, 0x0c, 0x30, 0x31, 0x17,
];
const ECDSA_WITH_SHA256 = der(SEQUENCE, der(OID, Buffer.from('2a8648ce3d040302', 'hex')));
const COMMON_NAME = Buffer.from('550403', 'hex');

function der(tag: number, ...parts: readonly Buffer[]): Buffer {
  const body = Buffer.concat(parts);
  const { length } = body;
  const size =
    length < 128 ? [length] : length < 256 ? [0x81, length] : [0x82, length >> 8, length & 255];
  return Buffer.concat([Buffer.from([tag, ...size]), body]);
}

/** A certificate that a name gives itself until the end of 2049, and its key; PEM. */
export function selfSigned(name: string): { cert: string; key: string } {
  const { privateKey, publicKey } = generateKeyPairSync('ec', { namedCurve: 'P-256' });
  const who = der(
    SEQUENCE,
    der(SET, der(SEQUENCE, der(OID, COMMON_NAME), der(UTF8, Buffer.from(name)))),
  );
  const when = der(
    SEQUENCE,
    ...['200101000000Z', '491231235959Z'].map(time => der(UTC_TIME, Buffer.from(time))),
  );
  const serial = der(INTEGER, Buffer.from([1]));
  const key = publicKey.export({ type: 'spki', format: 'der' });
  const signed = der(SEQUENCE, serial, ECDSA_WITH_SHA256, who, when, who, key);
  const signature = der(BIT_STRING, Buffer.from([0]), sign('sha256', signed, privateKey));
  const cert = der(SEQUENCE, signed, ECDSA_WITH_SHA256, signature).toString('base64');
  const lines = cert.match(/.{1,64}/g) ?? [];
  return {
    cert: ['-----BEGIN CERTIFICATE-----', ...lines, '-----END CERTIFICATE-----', ''].join('\n'),
    key: privateKey.export({ type: 'pkcs8', format: 'pem' }).toString(),
  };
}
