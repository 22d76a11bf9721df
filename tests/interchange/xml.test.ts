import { expect, test } from 'vitest';
import { attributeOf, childOf, numberOf, readXml } from '../../src/interchange/xml.js';

const read = (text: string, root = 'a') => readXml(new TextEncoder().encode(text), root);
const fault = (text: string) => {
  const result = read(text);
  return result.ok ? undefined : result.fault;
};

test('names, attributes and text come as they stand', () => {
  const result = read(
    '<?xml version="1.0"?><a n=" x &amp; y " z="007"><!-- c --><b>1 &lt; 2</b><b/><c k="1e3"/></a>',
  );
  if (!result.ok) throw new Error(result.fault);
  const { root } = result;
  expect(attributeOf(root, 'n')).toBe('x & y');
  expect(attributeOf(root, 'z')).toBe('007');
  expect(attributeOf(root, 'toString')).toBeUndefined();
  expect(childOf(root, 'b')?.text).toBe('1 < 2');
  expect(numberOf(childOf(root, 'c'), 'k')).toBe(1000);
  expect(root.children.map(({ name }) => name)).toEqual(['b', 'b', 'c']);
});

test('UTF-8 with a mark, UTF-16 both ways round, and characters by number', () => {
  const text = '<a n="Wärme &#228;&#xE4;"/>';
  const utf16 = (little: boolean) => {
    const bytes = new Uint8Array(2 + 2 * text.length);
    const view = new DataView(bytes.buffer);
    view.setUint16(0, 0xfeff, little);
    [...text].forEach((letter, i) => {
      view.setUint16(2 + 2 * i, letter.charCodeAt(0), little);
    });
    return bytes;
  };
  for (const bytes of [new TextEncoder().encode(`\uFEFF${text}`), utf16(true), utf16(false)]) {
    const result = readXml(bytes, 'a');
    expect(result.ok && attributeOf(result.root, 'n')).toBe('Wärme ää');
  }
});

test.each([
  [
    'an entity that expands without end',
    '<!DOCTYPE a [<!ENTITY x "&y;&y;"><!ENTITY y "zzz">]><a>&x;</a>',
    /DOCTYPE/,
  ],
  ['a file that is fetched', '<!doctype a SYSTEM "file:///etc/hostname"><a/>', /DOCTYPE/],
  ['a tag that is not closed', '<a>\n<b></a>', /line 2, column 4/],
  ['an attribute without quotes', '<a n=1/>', /line 1/],
  ['text', 'no xml', /line 1/],
  ['nothing', '', /line 1/],
  ['another root', '<b/>', /should be one <a>, and is <b>/],
  ['two roots', '<a/><b/>', /should be one <a>/],
  ['a name that JavaScript gives a meaning', '<a><__proto__/></a>', /no XML that can be read/],
  ['a depth without end', `${'<a>'.repeat(5000)}${'</a>'.repeat(5000)}`, /no XML that can be read/],
])('%s is refused', (_, text, why) => {
  expect(fault(text)).toMatch(why);
});

test('bytes that are no text, and too many', () => {
  expect(readXml(new Uint8Array([0x3c, 0xff, 0xfa, 0x3e]), 'a')).toMatchObject({
    ok: false,
    fault: /UTF-8/,
  });
  expect(readXml(new Uint8Array(33 * 2 ** 20), 'a')).toMatchObject({ ok: false, fault: /at most/ });
});

test('so many tags or attributes that no memory would hold them', () => {
  expect(fault(`<a>${'<b/>'.repeat(1_000_001)}</a>`)).toBe('it has more than 1000000 tags');
  expect(fault(`<a ${'b="" '.repeat(500_001)}/>`)).toBe('it has more than 500000 attributes');
});

test('an entity that nobody declared stays as it stands', () => {
  const result = read('<a>&nope;</a>');
  expect(result.ok && result.root.text).toBe('&nope;');
});
