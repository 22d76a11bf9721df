import { writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { expect, it } from 'vitest';
import { LAMP, lampHouse, SAFE } from './lamp.js';
import { until } from './support.js';

/** A lamp that nobody drives, from 0: 80 per cent, and 20 in its safe look. */
const HOUSE_LAMP = 1;
const FADE_S = 8;
const TIMES = `{ after: 0.5, fade: ${FADE_S} }`;
/** `engineSilent` has longer: a busy machine keeps an engine waiting, and one that dies is seen at once. */
const house = lampHouse([
  [
    'mappings:',
    '  house: { profile: dimmer, universe: 1, address: 2, base: { Dimmer: 80 }, safe: { Dimmer: 20 } }\nmappings:',
  ],
  [
    'outputs:',
    `watchdog:
  trackerSilent: ${TIMES}
  feedSilent: ${TIMES}
  confidenceLow: ${TIMES}
  engineSilent: { after: 2, fade: ${FADE_S} }
outputs:`,
  ],
]);

/** feedSilent.after and its fade; with 0.6 s for beats and a busy machine. */
const PROMISED_S = 0.5 + FADE_S + 0.6;

it('keeps the time of a loss after a reload that goes on, and of no light that is not lost', async () => {
  const silentS = performance.now() / 1000;
  house.trackers.silence(1);
  await sleep(100);
  writeFileSync(house.show.file, `${house.text}# as it was\n`);
  house.daemon.signal('SIGHUP');
  await until('it goes on', () => house.daemon.log.some(line => line.kind === 'reloaded'));
  // The engine dies when three quarters of the fade are over: wall time is what is promised.
  await sleep(Math.max(0, (silentS + 0.5 + 0.75 * FADE_S - performance.now() / 1000) * 1000));
  house.daemon.signalEngine('SIGKILL');
  // Also where a busy machine took so long to load the show that all was over by then.
  const there = () =>
    house.sacn.packets.find(({ atS, slots }) => atS > silentS && slots[LAMP] === SAFE);
  await until('the lamp is at its safe value', () => there() !== undefined);
  expect((there()?.atS ?? Number.POSITIVE_INFINITY) - silentS).toBeLessThan(PROMISED_S);
  // 153 steps in 8 s, of which it has had two or three.
  expect(there()?.slots[HOUSE_LAMP]).toBeGreaterThan(100);
});
