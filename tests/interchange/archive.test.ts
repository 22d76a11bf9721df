import fc from 'fast-check';
import { deflateSync, zipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { ARCHIVE_LIMITS, type ArchiveLimits, readArchive } from '../../src/interchange/archive.js';
import { importArchive } from '../../src/interchange/import.js';
import { fixtureXml, headGdtf, layerXml, plot, sceneXml, zip } from './make.js';

const SEED = 20260113;
const all = () => true;
const fault = (bytes: Uint8Array, limits?: Partial<ArchiveLimits>) => {
  const result = readArchive(bytes, all, { ...ARCHIVE_LIMITS, ...limits });
  return result.ok ? undefined : result.fault;
};

test('what is asked for is unpacked, and nothing else', () => {
  const bytes = zip({ 'a.txt': 'aaa', 'b/c.txt': 'cc' });
  const result = readArchive(bytes, name => name === 'b/c.txt');
  expect(result).toMatchObject({ ok: true, names: ['a.txt', 'b/c.txt'] });
  expect(result.ok && [...result.entries]).toEqual([['b/c.txt', new Uint8Array([99, 99])]]);
});

describe('untrusted', () => {
  test.each(['../evil', 'a/../../evil', '/etc/evil', '\\\\host\\evil', 'C:\\evil', 'a\\..\\evil'])(
    'an entry "%s" is refused with the whole archive',
    name => {
      expect(fault(zip({ [name]: 'x', 'GeneralSceneDescription.xml': sceneXml('') }))).toMatch(
        /would lie outside/,
      );
    },
  );

  test('a bomb: a thousand to one is refused before it is unpacked', () => {
    const bytes = zip({ 'GeneralSceneDescription.xml': new Uint8Array(64 * 2 ** 20) });
    expect(bytes.length).toBeLessThan(2 ** 17);
    expect(fault(bytes)).toMatch(/unpacks to more than 250 times its size/);
  });

  test('limits on entries, one entry and the whole', () => {
    const random = (count: number) =>
      Uint8Array.from({ length: count }, (_, i) => (i * i * 31) % 251);
    const bytes = zip({ a: random(3000), b: random(3000) });
    expect(fault(bytes, { entries: 1 })).toBe('it has more than 1 entries');
    expect(fault(bytes, { entryBytes: 2000 })).toBe(
      'its entry "a" has 3000 bytes; at most 2000 bytes are read',
    );
    expect(fault(bytes, { totalBytes: 5000 })).toBe('it unpacks to more than 5000 bytes');
    expect(fault(bytes)).toBeUndefined();
  });

  test('a size that is not true: what is more is not unpacked, what is less is told', () => {
    const honest = zipSync({ a: [new Uint8Array(5000).fill(65), { level: 9 }] });
    const forged = (size: number) => {
      const bytes = Uint8Array.from(honest);
      const view = new DataView(bytes.buffer);
      const end = bytes.length - 22;
      // Central directory entry, uncompressed size at 24 (APPNOTE 4.3.12).
      view.setUint32(view.getUint32(end + 16, true) + 24, size, true);
      return bytes;
    };
    const short = readArchive(forged(1000), all);
    expect(short.ok && short.entries.get('a')?.length).toBe(1000);
    expect(fault(forged(6000))).toMatch(/cut short or damaged/);
    expect(fault(forged(2 ** 32 - 1))).toMatch(/at most 128 MiB are read/);
  });

  test('an entry count of four thousand million ends at the limit', () => {
    // A ZIP64 end that claims entries that there are not (APPNOTE 4.3.14 and 4.3.15).
    const entry = zipSync({ a: new Uint8Array(1) });
    const end = entry.length - 22;
    const directory = new DataView(entry.buffer, entry.byteOffset).getUint32(end + 16, true);
    const bytes = new Uint8Array(end + 56 + 20 + 22);
    bytes.set(entry.subarray(0, end));
    const view = new DataView(bytes.buffer);
    view.setUint32(end, 0x06064b50, true);
    view.setUint32(end + 32, 0xfffffff0, true);
    view.setUint32(end + 48, directory, true);
    view.setUint32(end + 56, 0x07064b50, true);
    view.setUint32(end + 56 + 8, end, true);
    view.setUint32(end + 76, 0x06054b50, true);
    view.setUint16(end + 76 + 8, 0xffff, true);
    view.setUint32(end + 76 + 16, 0xffffffff, true);
    expect(fault(bytes)).toBeDefined();
  });

  test('the same entry twice', () => {
    const bytes = zip({ ab: 'one', cd: 'two' });
    const text = Buffer.from(bytes).toString('latin1').replaceAll('cd', 'ab');
    expect(fault(Buffer.from(text, 'latin1'))).toBe('its entry "ab" is in it twice');
  });

  test('a packing that nobody reads', () => {
    const bytes = zip({ a: deflateSync(new Uint8Array(10)) });
    const view = new DataView(bytes.buffer);
    view.setUint16(view.getUint32(bytes.length - 22 + 16, true) + 10, 14, true);
    expect(fault(bytes)).toMatch(/method 14/);
  });

  test('control characters of a name do not reach the terminal', () => {
    expect(fault(zip({ '/\u001b[31mred': 'x' }))).toBe(
      'its entry "/?[31mred" would lie outside of it',
    );
  });

  test.each([
    ['nothing', new Uint8Array(0)],
    ['text', new TextEncoder().encode('PK and no more')],
    ['zeros', new Uint8Array(100_000)],
    ['cut', plot('').subarray(0, 200)],
  ])('%s is no archive', (_, bytes) => {
    expect(fault(bytes)).toBe('it is not a ZIP archive, or it is damaged');
  });
});

test('however broken, an import says what is wrong or imports, and never throws', () => {
  const good = plot(layerXml(fixtureXml()));
  const gdtf = headGdtf();
  fc.assert(
    fc.property(
      fc.constantFrom(good, gdtf),
      fc.array(fc.tuple(fc.nat(), fc.nat(255)), { maxLength: 12 }),
      fc.nat(),
      (bytes, changes, end) => {
        const broken = Uint8Array.from(bytes);
        for (const [at, value] of changes) broken[at % broken.length] = value;
        const cut = end % 3 === 0 ? broken.subarray(0, end % broken.length) : broken;
        const result = importArchive(cut, 'broken.mvr');
        expect(result.ok || result.fault.length > 0).toBe(true);
      },
    ),
    { seed: SEED, numRuns: 500 },
  );
});
