import { describe, expect, test } from 'vitest';
import { parseAims, sampleOf } from '../../src/calibration/aims.js';
import { compileChannel, trimmedChannel } from '../../src/fixtures/profile.js';
import { type Radians, toDegrees } from '../../src/stage/units.js';

const PAN = compileChannel({
  attribute: 'Pan',
  bits: 16,
  offsets: [0, 1],
  from: -270,
  to: 270,
  default: 0,
});
const TILT = compileChannel({
  attribute: 'Tilt',
  bits: 16,
  offsets: [2, 3],
  from: 135,
  to: -135,
  default: 0,
});
const COARSE = compileChannel({
  attribute: 'Tilt',
  bits: 8,
  offsets: [2],
  from: -135,
  to: 135,
  default: 0,
});

function read(text: string, tilt = TILT) {
  const parsed = parseAims(text);
  if (!parsed.ok) return parsed.faults;
  return parsed.value.map(row => {
    const sample = sampleOf(row, PAN, tilt);
    if (typeof sample === 'string') return sample;
    const degrees = (angle: Radians) => Math.round(1000 * toDegrees(angle)) / 1000;
    return [sample.label, degrees(sample.pan), degrees(sample.tilt)];
  });
}

describe('aims', () => {
  test('in degrees, raw, and slot by slot', () => {
    expect(read('x,y,z,pan,tilt\n1,2,0,90,-45')).toEqual([['line 2', 90, -45]]);
    // 65535 is the far end; the tilt of this profile turns the other way.
    expect(read('x,y,z,pan_raw,tilt_raw\n1,2,0,65535,0')).toEqual([['line 2', 270, 135]]);
    // Raw 32768 of 65535 is 0.004 degrees above the middle of 540.
    const slots = 'x,y,z,pan_coarse,pan_fine,tilt_coarse,tilt_fine\n1,2,0,128,0,255,255';
    expect(read(slots)).toEqual([['line 2', 0.004, -135]]);
  });

  test('with the coarse slot alone, a 16-bit channel is in the middle of what it can be', () => {
    // 128 * 256 + 127.5 of 65535.
    expect(read('x,y,z,pan_coarse,tilt_coarse\n1,2,0,128,0', COARSE)).toEqual([
      ['line 2', 1.055, -135],
    ]);
  });

  test('of a fixture with a trim: the file has what the head is told', () => {
    const trimmed = trimmedChannel(TILT, 1.5);
    expect([trimmed.from, trimmed.to]).toEqual([136.5, -133.5]);
    expect(read('x,y,z,pan,tilt\n1,2,0,0,30', trimmedChannel(trimmed, -1.5))).toEqual([
      ['line 2', 0, 30],
    ]);
  });

  test('with the fixture and a note', () => {
    const parsed = parseAims('fixture,note,x,y,z,pan,tilt\nhead,by the stove,1,2,0,3,4');
    expect(parsed.ok && parsed.value[0]?.fixture).toBe('head');
  });

  const WAYS =
    'line 1: the levels of the head are missing, or given in several ways: give pan,tilt (degrees), pan_raw,tilt_raw, or pan_coarse,pan_fine,tilt_coarse,tilt_fine.';
  test.each([
    ['x,y,z\n1,2,3', [WAYS]],
    ['x,y,z,pan\n1,2,3,4', [WAYS]],
    ['x,y,z,pan,tilt,pan_raw,tilt_raw\n1,2,3,4,5,6,7', [WAYS]],
    [
      'x,y,z,pan,tilt\n1,2,0,300,0',
      ['line 2: Pan 300 is outside the range of the profile, -270 to 270 degrees.'],
    ],
    [
      'x,y,z,pan_raw,tilt_raw\n1,2,0,65536,1',
      ['line 2: Pan 65536 is not a whole number from 0 to 65535, the range of its 16 bits.'],
    ],
    [
      'x,y,z,pan_coarse,tilt_coarse\n1,2,0,256,1',
      ['line 2: pan_coarse and pan_fine are whole numbers from 0 to 255.'],
    ],
    [
      'x,y,z,pan,tilt\n1,2,4000,0,0\n1,b,0,0,0',
      [
        'line 2: the point is farther away than 1000 m; places are in metres.',
        'line 3: y should be a number, and is "b".',
      ],
    ],
  ])('%j is refused', (text, faults) => {
    expect(read(text)).toEqual(faults);
  });

  test('a fine slot of a channel that has none is refused', () => {
    expect(read('x,y,z,pan_coarse,pan_fine,tilt_coarse,tilt_fine\n1,2,0,1,2,3,4', COARSE)).toEqual([
      'line 2: Tilt has 1 slot in the profile, but 2 are given.',
    ]);
  });
});
