import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { chartLines, chartOf } from '../../src/sheets/profile-chart.js';
import { parseProfile } from '../../src/show/parse.js';

function linesOf(text: string): string[] {
  const parsed = parseProfile(text, 'a.profile.yaml');
  if (!parsed.ok) throw new Error(parsed.problems[0]?.message);
  return chartLines(chartOf(parsed.profile)).map(line => line.trim().replace(/ {2,}/g, ' | '));
}

test('a chart has a line for each slot, in the order of the slots, as a manual has', () => {
  expect(
    linesOf(`profile: 1
channels:
  - { attribute: Pan, bits: 16, range: [-270, 270], slots: [1, 4] }
  - { attribute: Tilt, bits: 24, range: [-135, 135], slots: [2, 5, 6] }
  - { attribute: Dimmer, slots: [3], copies: [[9]] }
fixed: [{ slot: 8, level: 255 }]
`),
  ).toEqual([
    '9 slots',
    '1 | Pan coarse | -270 to 270°',
    '2 | Tilt coarse | -135 to 135°',
    '3 | Dimmer | 0 to 100 %',
    '4 | Pan fine',
    '5 | Tilt byte 2',
    '6 | Tilt byte 3',
    '8 | held | at 255',
    '9 | Dimmer (copy) | 0 to 100 %',
  ]);
});

test('each mode has its own, and slots that are not given are counted on', () => {
  const lines = linesOf(readFileSync('config/profiles/rgb.profile.yaml', 'utf8'));
  expect(lines.filter(line => line.startsWith('mode')).length).toBeGreaterThan(1);
  expect(lines).toContain('1 | ColorAdd_R | 0 to 100 %');
});

test('named values stand below their slot with their levels, and with what they mean physically', () => {
  expect(
    linesOf(`profile: 1
channels:
  - attribute: Shutter1
    values:
      strobe: { levels: [32, 255], range: [1, 20], unit: hertz }
      closed: [0, 9]
      open: 20
    default: open
  - { attribute: Dimmer, values: { full: [250, 255] } }
  - { attribute: CTO, unit: kelvin, range: [6500, 3200] }
`),
  ).toEqual([
    '3 slots',
    '1 | Shutter1',
    '0-9 closed',
    '20 open',
    '32-255 strobe, 1 to 20 Hz',
    '2 | Dimmer | 0 to 100 %',
    '250-255 full',
    '3 | CTO | 6500 to 3200 K',
  ]);
});
