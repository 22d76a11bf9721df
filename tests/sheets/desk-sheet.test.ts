import { expect, test } from 'vitest';
import { deskLossText, deskOrdersText, groundText, takenBy } from '../../src/sheets/desk-sheet.js';
import { safetyPage } from '../../src/sheets/safety-page.js';
import { safetySheet } from '../../src/sheets/safety-sheet.js';
import { changed, MINIMAL } from '../show/base.js';
import { showOf } from '../show/show-of.js';

const SHOW =
  showOf(`${changed('profile: moving-head,', 'profile: moving-head, ground: { desk: [Dimmer], safe: [Pan, Tilt] },', changed('fixtures:\n', 'fixtures:\n  flash: { profile: dimmer, universe: 1, address: 400, hazard: strobe }\n'))}desk:
  control: { protocol: sacn, universe: 201, interface: eth1 }
  stage: { protocol: artnet, universe: 3, interface: eth1, ground: 1 }
signals: { sea: { slot: [control, 4] } }
orders:
  - { slot: [control, 1], cue: number }
  - { slot: [control, 3], stop: everybody, held: true }
  - { slot: [control, 5], enable: strobe }
cues: { one: {} }
`);
const SHEET = safetySheet(SHOW);

test('the sheet for the venue has what the desk can stop and enable', () => {
  expect(deskOrdersText(SHEET.desk)).toEqual([
    'By sACN universe 201, on eth1, of the desk: slot 3 stops everybody, while above a half (desk gone: stays as it was); slot 5 enables strobe, while above a half (desk gone: released: drops at once).',
  ]);
});

test('and what its loss does to the light, where a slot is a signal', () => {
  expect(deskLossText(SHEET.desk)).toEqual([
    'When sACN universe 201, on eth1, of the desk ("control") is no longer heard: slot 4 (signal sea: drives nothing) stays as it was.',
  ]);
  const unknown = SHEET.desk.map(one => ({
    ...one,
    slots: one.slots.map(slot => ({ ...slot, gone: 'unknown: to safe values' })),
  }));
  expect(deskLossText(unknown)[0]).toMatch(/is not known, and its light goes to safe values\.$/);
  expect(safetyPage(SHOW, SHEET, '2026-11-30')).toContain(
    '<h2>What the loss of the desk does</h2>',
  );
});

test('and what passes from it without any limit of ours', () => {
  const [whole, ...fixtures] = groundText(SHEET.desk);
  expect(whole).toMatch(
    /^Universe 1 of the show lies on Art-Net Port-Address 3, on eth1, of the desk \("stage"\)\. Slots without a fixture of this show are passed on as the desk sends them: without the limits below/,
  );
  expect(fixtures).toEqual([
    'head: Dimmer: as the desk sends it.',
    "head: Pan and Tilt: the desk's level as the safe value.",
  ]);
  // `check` says the same beside the safe values of the show.
  expect(takenBy(SHEET.desk, 'head')).toEqual([
    'Dimmer: as the desk sends it',
    "Pan and Tilt: the desk's level as the safe value",
  ]);
  expect(takenBy(SHEET.desk, 'glow')).toEqual([]);
  const page = safetyPage(SHOW, SHEET, '2026-11-30');
  expect(page).toContain('<h2>What passes from the desk</h2>');
  expect(page).toContain('slot 3 stops everybody');
});

test('a show that hears no desk says nothing of it', () => {
  const page = safetyPage(showOf(MINIMAL), safetySheet(showOf(MINIMAL)), '2026-11-30');
  expect(page).not.toContain('What passes from the desk');
});
