import { describe, expect, it } from 'vitest';
import { writeHead, writeSourceName } from '../../../src/protocols/sacn/head.js';

describe('a source name', () => {
  it('fills its 64 bytes, and no others (E1.31 6.2.2)', () => {
    const buffer = Buffer.alloc(200, 0xff);
    writeSourceName(buffer, 44, 'Salt');
    expect(buffer.toString('latin1', 44, 48)).toBe('Salt');
    expect([...buffer.subarray(48, 108)].every(byte => byte === 0)).toBe(true);
    expect([...buffer.subarray(0, 44), ...buffer.subarray(108)].every(byte => byte === 0xff)).toBe(
      true,
    );
  });

  it('is cut before the last byte, which is NUL, and never within a character', () => {
    const buffer = Buffer.alloc(110, 0xff);
    writeSourceName(buffer, 44, `${'a'.repeat(62)}é`);
    expect(buffer.toString('utf8', 44, 106)).toBe('a'.repeat(62));
    expect([buffer[106], buffer[107]]).toEqual([0, 0]);
  });

  it('leaves out a NUL, which would end it early', () => {
    const buffer = Buffer.alloc(110);
    writeSourceName(buffer, 44, 'Sa\0lt');
    expect(buffer.toString('latin1', 44, 49)).toBe('Salt\0');
  });
});

it('a CID of another length is told', () => {
  expect(() => writeHead(Buffer.alloc(126), 4, 2, new Uint8Array(15))).toThrow(
    'a CID has 16 bytes, not 15',
  );
});
