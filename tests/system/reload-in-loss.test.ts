import { writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { expect, it } from 'vitest';
import { LAMP, lampHouse, SAFE } from './lamp.js';
import { until } from './support.js';

const house = lampHouse();

/** The promise: feedSilent.after 0.5 s and its fade of 2 s; with 0.3 s for beats and a busy machine. */
const PROMISED_S = 2.8;

it.each([0.1, 1.6])(
  'the safe look comes when it was promised, though the show is loaded anew from %s s on',
  async fromS => {
    const silentS = performance.now() / 1000;
    const forS = () => performance.now() / 1000 - silentS;
    house.trackers.silence(1);
    await sleep(fromS * 1000);
    // Each takes a part of a second; the system test of a reload shows that one alone is taken.
    for (let n = 0; forS() < 3.5; n++) {
      // One that is the same as the one that runs would be left alone.
      writeFileSync(house.show.file, `${house.text}# ${n}\n`);
      house.daemon.signal('SIGHUP');
      await sleep(300);
    }
    const reached = house.sacn.packets.find(one => one.atS > silentS && one.slots[LAMP] === SAFE);
    expect((reached?.atS ?? Number.POSITIVE_INFINITY) - silentS).toBeLessThan(PROMISED_S);
    // On a busy machine another engine takes its time to get ready.
    const isLoaded = () => house.daemon.log.some(line => line.kind === 'reloaded');
    await until('one of them is loaded', isLoaded, 20);
    const fall = house.sacn.packets.filter(one => one.atS > silentS && one.atS < silentS + 3);
    fall.forEach(({ slots }, i) => {
      const before = fall[i - 1]?.slots[LAMP] ?? 255;
      // A steady fade: 204 steps in 2 s are 2.6 a beat; a late one makes up for itself.
      expect(Math.abs((slots[LAMP] ?? 0) - before)).toBeLessThan(30);
    });
  },
);
