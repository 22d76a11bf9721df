import { expect, test } from 'vitest';
import { demand } from '../demand.js';
import { Rig } from './harness.js';
import { moments, richShow, tickWith } from './rich-house.js';

test.for([21, 22, 23])(
  'who asks why changes nothing, and is told of what goes out: seed %i',
  seed => {
    const [plain, asked] = [new Rig(richShow()), new Rig(richShow())];
    let told = 0;
    let tick = 0;
    for (const moment of moments(20261130 + 7919 * seed, 400)) {
      asked.view.askWhy();
      const [ours, theirs] = [tickWith(plain, moment), tickWith(asked, moment)];
      demand(Buffer.compare(ours, theirs) === 0, () => `tick ${tick}: asking changes the light`);
      for (const { fixture, channel, out } of asked.view.why) {
        const { plan, values } = asked.view.fixtures[
          fixture
        ] as (typeof asked.view.fixtures)[number];
        demand(out === values[channel], () => `${plan.name}: ${out} is told of ${values[channel]}`);
        told += 1;
      }
      tick += 1;
    }
    expect(asked.events).toEqual(plain.events);
    expect(told).toBeGreaterThan(10 * tick);
  },
);
