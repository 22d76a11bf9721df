import { expect, it } from 'vitest';
import { standbyTimes } from '../../../src/commands/files/standby-times.js';
import type { PairChange } from '../../../src/daemon/beats/pair-light.js';
import { standbyInWords, standbyWithin } from '../../../src/reporting/words/standby-light.js';

const told = (...all: readonly (readonly [atS: number, change: PairChange])[]) =>
  standbyTimes(all.map(([atS, change]) => ({ atS, event: { kind: 'pair', ...change } })));
const words = (times: ReturnType<typeof told>) => times.map(one => standbyInWords(one, String));

it('are those in which it stands in, as it saw them itself, with the reason', () => {
  const times = told(
    [10, { from: 'standing-by', to: 'standing-in' }],
    [48, { from: 'standing-in', to: 'standing-by' }],
    [60, { from: 'standing-by', to: 'standing-in', ended: true }],
  );
  expect(words(times)).toEqual([
    'the standby had the light from 10 to 48 (38.0 s): the main machine was silent',
    'the standby had the light from 60 on: the main machine had ended',
  ]);
});

it('are those in which the main machine came back below it, network by network', () => {
  const times = told(
    [5, { from: 'listening', to: 'joining', interface: 'eth1' }],
    [6, { from: 'joining', to: 'joining', beginsArtnet: true, interface: 'eth1' }],
    [7, { from: 'leading', to: 'joining', artnetRefused: true, interface: 'eth2' }],
    [9, { from: 'joining', to: 'leading', interface: 'eth1' }],
    // That a cable is out says nothing of who has the light.
    [20, { from: 'leading', to: 'listening', interface: 'eth1' }],
    [22, { from: 'listening', to: 'leading', interface: 'eth1' }],
  );
  expect(words(times)).toEqual([
    'the standby had the light on eth1 from 5 to 9 (4.0 s): this machine, the main one, came back below it',
    'the standby had the light on eth2 from 7 on: Art-Net of this machine was refused',
  ]);
});

it('are cut to the time that was asked for', () => {
  const times = told(
    [10, { from: 'standing-by', to: 'standing-in' }],
    [48, { from: 'standing-in', to: 'standing-by' }],
    [60, { from: 'standing-by', to: 'standing-in' }],
  );
  expect(standbyWithin(times, 20, 30)).toMatchObject([{ fromS: 20, untilS: undefined }]);
  expect(standbyWithin(times, 49, 59)).toEqual([]);
  expect(standbyWithin(times, 0, 100)).toEqual(times);
});

it('begin when receivers took the standby, which may wait longer before it says that it stands in', () => {
  const stands = { from: 'standing-by', to: 'standing-in' } as const;
  const waits = { from: 'standing-by', to: 'standing-by' } as const;
  expect(words(told([110, { ...stands, neverHeard: true, hadLightForS: 10 }]))).toEqual([
    'the standby had the light from 100 on: the main machine had not been heard since its start',
  ]);
  // Both have just been started, and the main machine leads before the standby would stand in.
  expect(
    words(told([102, { ...waits, comesBack: true, hadLightForS: 1.5 }], [107.4, waits])),
  ).toEqual([
    'the standby had the light from 100.5 to 107.4 (6.9 s): the main machine was not leading',
  ]);
  const main = { from: 'listening', to: 'joining', hadLightForS: 0.5 } as const;
  expect(told([100.5, main])).toMatchObject([{ fromS: 100, untilS: undefined }]);
});

it('begin 2.5 s after the last packet of a main machine that stood still, or whose cable was out', () => {
  const event = (change: PairChange) => ({ kind: 'pair', ...change }) as const;
  const gives = event({ from: 'leading', to: 'listening' });
  const joins = event({ from: 'listening', to: 'joining', hadLightForS: 0.2 });
  const leads = event({ from: 'joining', to: 'leading' });
  const alone = event({ from: 'listening', to: 'leading' });
  const times = standbyTimes([
    { atS: 20, event: { kind: 'stood-still', forS: 10 } },
    { atS: 20, event: gives },
    { atS: 20.2, event: joins },
    { atS: 28, event: leads },
    // The cable goes, and is back 10 s later.
    { atS: 41.25, event: gives },
    { atS: 50, event: joins },
    { atS: 58, event: leads },
    // Shorter than receivers wait: it gives way all the same.
    { atS: 72, event: { kind: 'stood-still', forS: 1.5 } },
    { atS: 72, event: gives },
    { atS: 72.2, event: joins },
    { atS: 75, event: leads },
    // Nobody is heard when it is back.
    { atS: 81.25, event: gives },
    { atS: 90, event: alone },
  ]);
  expect(words(times)).toEqual([
    'the standby had the light from 12.5 to 28 (15.5 s): this machine, the main one, had stood still',
    'the standby had the light from 42.5 to 58 (15.5 s): nothing could be sent from this machine, the main one',
    'the standby had the light from 72 to 75 (3.0 s): this machine, the main one, had stood still',
  ]);
});

it('do not begin with an outage of the main machine where the standby was first started during it', () => {
  const gives = { from: 'leading', to: 'listening' } as const;
  const joins = { from: 'listening', to: 'joining', hadLightForS: 0.2 } as const;
  const leads = { from: 'joining', to: 'leading' } as const;
  const times = told(
    [41.25, { ...gives, withoutStandby: true }],
    [100.2, joins],
    [108, leads],
    // In the next outage it is there.
    [141.25, gives],
    [150, joins],
    [158, leads],
  );
  expect(words(times)).toEqual([
    'the standby had the light from 100 to 108 (8.0 s): this machine, the main one, came back below it; the standby was started before that, at a time not known here',
    'the standby had the light from 142.5 to 158 (15.5 s): nothing could be sent from this machine, the main one',
  ]);
});

it('end with the standby that had it, and not with a main machine that ends below it', () => {
  const ended = (change: PairChange) =>
    standbyTimes([
      { atS: 10, event: { kind: 'pair', ...change } },
      { atS: 70, event: { kind: 'stopped' } },
    ]).map(({ untilS }) => untilS);
  expect(ended({ from: 'standing-by', to: 'standing-in' })).toEqual([70]);
  expect(ended({ from: 'listening', to: 'joining' })).toEqual([undefined]);
});
