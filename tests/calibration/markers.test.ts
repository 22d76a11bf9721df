import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseAims } from '../../src/calibration/aims.js';
import {
  type Parsed,
  parseMarkers,
  parsePoints,
  parseReports,
} from '../../src/calibration/markers.js';

function faultsOf<T>(parsed: Parsed<T>): readonly string[] {
  return parsed.ok ? [] : parsed.faults;
}

describe('tables', () => {
  test('of any text at all are read or refused, and never throw', () => {
    const cell = fc.oneof(fc.string(), fc.double().map(String), fc.constantFrom('x', '#', '"', ''));
    const head = fc.constantFrom(
      'name,x,y,z',
      'name,x,y,z,tx,ty,tz,use',
      't_s,tracker,x,y,z',
      'x,y,z,pan,tilt',
      'x,y,z,pan_coarse,pan_fine,tilt_coarse,tilt_fine',
    );
    const rows = fc.array(fc.array(cell, { maxLength: 8 }).map(cells => cells.join(',')));
    fc.assert(
      fc.property(head, rows, (first, rest) => {
        const text = [first, ...rest].join('\n');
        for (const parse of [parseMarkers, parsePoints, parseReports, parseAims]) {
          const parsed = parse(text);
          if (!parsed.ok) expect(parsed.faults.length).toBeGreaterThan(0);
        }
      }),
      { seed: 12, numRuns: 300 },
    );
  });
});

describe('decimals with a comma', () => {
  const ROW = 'Decimals are written with a point (1.4): a comma parts one value from the next.';
  test.each([
    [
      'x,y,z,pan,tilt\n1,5,2,0,10,20',
      `line 2: 6 values where the head has 5: "1,5,2,0,10,20". ${ROW}`,
    ],
    [
      'x,y,z,pan,tilt\n"1,5",2,0,10,20',
      'line 2: x should be a number, and is "1,5". Decimals are written with a point: 1.5.',
    ],
    [
      'x,y,z,pan,tilt\n1;2;0;10;20',
      'line 2: 1 value where the head has 5: "1;2;0;10;20". Write commas between values, not semicolons, and decimals with a point.',
    ],
    [
      'x;y;z;pan;tilt\n1;2;0;10;20',
      'line 1: values are separated by semicolons here; write commas between them, and decimals with a point.',
    ],
  ])('or with semicolons between values, are told as such: %j', (text, fault) => {
    expect(faultsOf(parseAims(text))).toContain(fault);
  });
});

describe('markers', () => {
  // RFC 4180, 2.6 and 2.7.
  test('with a comma and quotes in a name', () => {
    const text = 'name,x,y,z\n"pillar, left",1,2,0\n"the ""gull""",3,4,0\nwindow,5,6,1\n';
    const parsed = parseMarkers(text);
    expect(parsed.ok && parsed.value.map(({ name }) => name)).toEqual([
      'pillar, left',
      'the "gull"',
      'window',
    ]);
    const bad = parseMarkers('name,x,y,z\n# measured twice\na,1,2,0\n"b"c,3,4,0\nd,5,6,1\n');
    expect(faultsOf(bad)).toEqual([expect.stringMatching(/^line 4: a quote in the middle/)]);
    const open = parseMarkers('name,x,y,z\na,1,2,0\n"b,3,4,0\nc,5,6,1\n');
    expect(faultsOf(open)).toEqual([expect.stringMatching(/^line 3: .*never closed/)]);
  });

  test('in any order of the columns, with comments and empty lines', () => {
    const text =
      '\uFEFF# taped on Monday\r\nz, x, y, name, use, tracker, to_s\r\n0.05,1,2,"origin",,7,12\r\n\r\n1,3,4,window,check,,\r\n';
    expect(parseMarkers(text)).toEqual({
      ok: true,
      value: [
        {
          name: 'origin',
          stage: { x: 1, y: 2, z: 0.05 },
          use: 'fit',
          tracker: '7',
          fromS: -Infinity,
          toS: 12,
        },
        {
          name: 'window',
          stage: { x: 3, y: 4, z: 1 },
          use: 'check',
          tracker: undefined,
          fromS: -Infinity,
          toS: Infinity,
        },
      ],
    });
  });

  test.each([
    ['', ['line 1: the file is empty; its first line must be "name,x,y,z".']],
    [
      'name,x,y\na,1,2',
      [
        'line 1: column z is missing. It has name, x, y, z and may have use, tracker, from_s, to_s.',
      ],
    ],
    [
      'name,x,y,z,colour\n',
      [
        'line 1: column "colour" isn\'t known. It has name, x, y, z and may have use, tracker, from_s, to_s.',
      ],
    ],
    ['name,x,y,z,x\n', ['line 1: column "x" appears twice.']],
    ['name,x,y,z\n', ['line 1: there is no row after the header.']],
    [
      'name,x,y,z\na,1,2\nb,1,two,3',
      [
        'line 2: 3 values where the head has 4: "a,1,2".',
        'line 3: y should be a number, and is "two".',
      ],
    ],
    [
      'name,x,y,z,use\na,1,2,3,cheque\n,4,5,6,fit',
      ['line 2: use is "fit" or "check", not "cheque".', 'line 3: name is empty.'],
    ],
    [
      'name,x,y,z\na,1,2,3\na,1,2,3',
      [
        'line 3: "a" is already the name in line 2.',
        'line 3: it has the same place on the stage as line 2.',
      ],
    ],
    ['name,x,y,z,from_s,to_s\na,1,2,3,9,4', ['line 2: from_s is not before to_s.']],
    [
      'name,x,y,z\na,1,2200,3\nb,4000,1,3',
      [
        'line 2: 2200 is farther than 1000 m; places are in metres. If the file has millimetres, divide by 1000; centimetres, by 100.',
      ],
    ],
  ])('%j is refused: %j', (text, faults) => {
    expect(faultsOf(parseMarkers(text))).toEqual(faults);
  });

  test('a file of other things has a bounded list of faults', () => {
    const faults = faultsOf(parseMarkers(`name,x,y,z\n${'a,b,c,d\n'.repeat(1000)}`));
    expect(faults).toHaveLength(11);
    expect(faults.at(-1)).toMatch(/^and \d+ more\.$/);
  });

  test('surveyed points', () => {
    expect(parsePoints('name,x,y,z,tx,ty,tz\na,1,2,3,4,5,6')).toEqual({
      ok: true,
      value: [
        {
          name: 'a',
          stage: { x: 1, y: 2, z: 3 },
          tracking: { x: 4, y: 5, z: 6 },
          errorM: 0,
          use: 'fit',
        },
      ],
    });
    expect(faultsOf(parsePoints('name,x,y,z,tx,ty,tz\na,1,2,3,4,5,'))).toEqual([
      'line 2: tz should be a number, and is "".',
    ]);
  });

  test('reports by tracker', () => {
    const parsed = parseReports('t_s,tracker,x,y,z\n0,7,1,2,3\n0,gull,0,0,0\n0.1,7,1,2,4');
    expect(parsed.ok && [...parsed.value.keys()]).toEqual(['7', 'gull']);
    expect(parsed.ok && parsed.value.get('7')).toEqual([
      { timeS: 0, x: 1, y: 2, z: 3 },
      { timeS: 0.1, x: 1, y: 2, z: 4 },
    ]);
  });
});

test('says that semicolons separate the values, and nothing else of such a file', () => {
  const parsed = parseMarkers('name;x;y;z\nA;1,5;2;0\n');
  expect(parsed.ok ? [] : parsed.faults).toEqual([
    'line 1: values are separated by semicolons here; write commas between them, and decimals with a point.',
  ]);
});
