import { expect, it } from 'vitest';
import { strips } from '../../src/drawing/strips.js';

const TIME = { fromS: 0, toS: 100, at: (atS: number) => `${atS} s` };
const ROW = { name: 'Ines', highPx: 16, body: '' };

it('has names, times and marks as text of the page, at their share of the width', () => {
  const marks = [
    { atS: 40, text: '1', title: 'tracker silent' },
    { atS: 43, text: '2', title: 'tracker silent again' },
    { atS: 90, text: '3', title: '<i>' },
  ];
  const html = strips('who', [{ ...ROW, marks }], TIME);
  expect(html).toContain('aria-label="who"');
  expect(html).toContain('<span class="name">Ines</span>');
  // Two that would lie on each other are one.
  expect([...html.matchAll(/▼([^<]*)</g)].map(([, text]) => text)).toEqual(['1–2', '3']);
  expect(html).toContain('left:90.00%');
  expect(html).not.toContain('<i>');
  expect(html).toMatch(/class="tick first"[^>]*>0 s</);
  expect(html).toContain('>90 s</span>');
});

it('writes words into it only where they have room', () => {
  const word = (toS: number) => ({ fromS: 0, toS, text: 'Tobias', ink: '#000' });
  const shown = (toS: number) => strips('who', [{ ...ROW, words: [word(toS)] }], TIME);
  expect(shown(5)).not.toContain('Tobias');
  expect(shown(14)).toContain('class="in wide"');
  expect(shown(60)).toContain('class="in"');
});
