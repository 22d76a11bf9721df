import { readFileSync } from 'node:fs';
import { afterEach, beforeEach } from 'vitest';
import { Daemon, SacnReceiver, Trackers, until, variantOf } from './support.js';

/** The lamp of the example with one lamp, from 0: 20 per cent in its safe look. */
export const LAMP = 0;
export const SAFE = 51;

/** A daemon with that example in each test, whose performer stands in the light. */
export interface LampHouse {
  show: ReturnType<typeof variantOf>;
  text: string;
  daemon: Daemon;
  sacn: SacnReceiver;
  trackers: Trackers;
}

/** @param edits see `variantOf` */
export function lampHouse(edits: Parameters<typeof variantOf>[1] = []): LampHouse {
  const house = {} as LampHouse;
  beforeEach(async () => {
    house.sacn = await SacnReceiver.open(1);
    house.trackers = new Trackers();
    house.show = variantOf('config/minimal.show.yaml', edits);
    house.text = readFileSync(house.show.file, 'utf8');
    house.daemon = Daemon.run(house.show.file);
    house.trackers.place(1, 2, 3);
    await until('the lamp is lit', () => house.sacn.last[LAMP] === 255, 20);
  });
  afterEach(async () => {
    house.trackers.close();
    await house.daemon.stop();
    house.sacn.close();
    house.show.remove();
  });
  return house;
}
