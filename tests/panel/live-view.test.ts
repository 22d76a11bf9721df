import { describe, expect, it } from 'vitest';
import { createEngine } from '../../src/engine/engine.js';
import { step } from '../../src/engine/step.js';
import { viewOf } from '../../src/engine/view.js';
import { EnginePicture } from '../../src/live/engine-part.js';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { LANTERN as show, type ViewFields, view as viewOn } from './support.js';

/** Ines at the stove for some seconds, then silent for `silentS`. */
function view(silentS: number, changes: ViewFields = {}): string[] {
  const state = createEngine(show);
  for (let tick = 1; tick <= (6 + silentS) * 40; tick++) {
    const nowS = tick / 40;
    const args = [2, 6, 1.4].map(value => ({ type: 'f' as const, value }));
    const bytes = encodePacket({ address: '/tracker/1/position', args });
    const datagrams = nowS <= 6 ? [{ input: 0, bytes, arrivalS: nowS }] : [];
    step(state, { datagrams, unixOffsetS: 0 }, nowS);
  }
  const engine = new EnginePicture(viewOf(state)).take();
  const news = Array.from({ length: 30 }, (_, i) => `news ${i}`);
  return viewOn({ engine, news, columns: 120, rows: 46, ...changes });
}

describe('the live view', () => {
  it('shows where performers are, how sure that is, and what their light does', () => {
    const lines = view(0);
    expect(lines.find(line => /Ines +live/.test(line))).toMatch(
      // The last report came in this tick, and the light is 0.03 s away.
      /live +100 % sure +2\.0 +6\.0 m, 0\.03 s ahead/,
    );
    expect(lines.find(line => /^stove/.test(line))).toMatch(/█+░* +85 %/);
    expect(lines.find(line => line.includes('head stage right'))).toMatch(
      /on Ines {3}beam at [\d.]+ [\d.]+ m/,
    );
    // Her letter stands in the left part of the upper half of the map: stage right, upstage.
    const row = lines.findIndex(line => /^\|.*I.*\|/.test(line));
    expect(row).toBeGreaterThan(0);
    expect(lines[row]?.indexOf('I')).toBeLessThan(20);
  });

  it('says why a performer is lost, and counts them in no zone', () => {
    const lines = view(3);
    expect(lines.find(line => /Ines +lost/.test(line))).toMatch(/lost .*tracking silent/);
    expect(lines.find(line => line.includes('stove') && line.includes('░'))).not.toContain('ines');
  });

  it.each([
    [80, 24],
    [120, 46],
    [100, 30],
  ])('leaves room for all that matters on %i x %i', (columns, rows) => {
    const lines = view(0, { columns, rows });
    // The demo draws all but the last row of the terminal.
    expect(lines.length).toBeLessThanOrEqual(rows);
    const text = lines.join('\n');
    for (const word of ['Ines', 'The Gull', 'harbour steps', 'head upstage', 'Ctrl-C']) {
      expect(text).toContain(word);
    }
  });

  it('waits for the daemon without a snapshot', () => {
    expect(view(0, { snapshot: undefined }).join('\n')).toContain('waiting for the daemon');
  });

  it('shows the safe look while no engine says anything', () => {
    const lines = view(0, { engine: null, pid: undefined, phase: 'safe' });
    expect(lines[0]).toMatch(/^ACT: All light is at the safe look/);
    expect(lines[1]).toMatch(/^light at safe: stove 20 %/);
    expect(lines.slice(2, 4).join(' ')).toContain('engine gone');
    expect(lines.find(line => /^stove .*█/.test(line))).toMatch(/ 20 %/);
    expect(lines.find(line => line.includes('head upstage'))).toContain('at safe');
  });
});
