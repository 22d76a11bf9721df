import { describe, expect, test } from 'vitest';
import { assess } from '../../../src/rehearsal/assessing/assess.js';
import { parseRecording } from '../../../src/rehearsal/assessing/recording.js';
import { plotSteps } from '../../../src/rehearsal/charts/plot.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../../src/tracking/options.js';

const MEASURED = 't_s,mx,my,mz,tx,ty,tz\n0,1,2,3,1.1,2.1,3.1\n0.1,2,3,4,2.1,3.1,4.1\n';

function faultsOf(text: string): readonly string[] {
  const result = parseRecording(text);
  return result.ok ? [] : result.faults;
}

describe('a recording', () => {
  test('of reports and truth', () => {
    const result = parseRecording(MEASURED.replaceAll('\n', '\r\n'));
    expect(result).toMatchObject({ ok: true, value: { kind: 'measured' } });
    if (!result.ok || result.value.kind !== 'measured') throw new Error('as said');
    const { truth, sightings } = result.value.passage;
    expect(sightings[1]).toEqual({
      tracker: 0,
      timeS: 0.1,
      arrivalS: 0.1,
      x: 2,
      y: 3,
      z: 4,
      quality: 1,
    });
    expect([...truth.xs, ...truth.ys, ...truth.zs]).toEqual([1.1, 2.1, 2.1, 3.1, 3.1, 4.1]);
  });

  test('of the truth of several people', () => {
    const result = parseRecording('t_s,x,y,z,id\n0,1,1,1,a\n0,5,5,1,b\n1,2,1,1,a\n1,6,5,1,b\n');
    if (!result.ok || result.value.kind !== 'truth') throw new Error('as said');
    expect(result.value.truths.map(truth => [...truth.xs])).toEqual([
      [1, 2],
      [5, 6],
    ]);
  });

  test('that is none says where and what is wrong, all at once', () => {
    expect(faultsOf('a,b\n1,2\n')[0]).toContain('line 1: the head is "a,b"');
    expect(faultsOf('t_s,x,y,z\n')).toEqual(['there is no line after the head.']);
    expect(faultsOf('t_s,x,y,z\n0,1,1,1\n')).toEqual([
      'it has a single instant; at least two are needed.',
    ]);
    const faults = faultsOf('t_s,x,y,z\n0,1,1,1\n0,1,1,1\n1,x,1,1\n2,,1,1\n3,1,1\n4,1,1,1\n');
    expect(faults.map(fault => fault.slice(0, 7))).toEqual([
      'line 3:',
      'line 4:',
      'line 5:',
      'line 6:',
    ]);
    const many = `t_s,x,y,z\n${'?\n'.repeat(50)}`;
    expect(faultsOf(many)).toHaveLength(11);
    expect(faultsOf(many).at(-1)).toBe('and 40 more.');
  });
});

test('a plot has a line each for truth and prediction, and a dot a report', () => {
  const rows = Array.from({ length: 50 }, (_, i) => `${i / 10},${i / 10},1,1,${i / 10},1,1`);
  const result = parseRecording(`t_s,mx,my,mz,tx,ty,tz\n${rows.join('\n')}\n`);
  if (!result.ok || result.value.kind !== 'measured') throw new Error('as said');
  const steps: Parameters<typeof plotSteps>[1][number][] = [];
  const timing = { horizonS: 0.1, latencyS: 0, lagS: 0 };
  assess([result.value.passage], DEFAULT_TRACKING_OPTIONS, timing, step => steps.push(step), []);
  // Ticks of 1/40 s from 0 to 4.8 s: light that arrives later lies beyond the truth.
  expect(steps).toHaveLength(193);
  const svg = plotSteps('a <walk> & more', steps);
  expect(svg).toContain('a &lt;walk&gt; &amp; more');
  expect(svg.match(/h0/g)).toHaveLength(2 * 49);
  expect(svg.match(/<polyline/g)).toHaveLength(5);
  expect(svg).not.toMatch(/NaN|Infinity/);
});
