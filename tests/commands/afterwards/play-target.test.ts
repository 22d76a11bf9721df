import { describe, expect, it } from 'vitest';
import { targetOf } from '../../../src/commands/afterwards/play-target.js';
import { MINIMAL } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

const OSC = showOf(MINIMAL);
const PSN = showOf(
  MINIMAL.replace(
    / {4}port: 9010\n.*\n/,
    '    protocol: psn\n    interface: eth1\n    axes: [x, z, y]\n',
  ),
);

describe('where a scene is played to', () => {
  it.each([
    ['the first input', OSC, undefined, undefined, 'osc', '127.0.0.1', 9010, undefined],
    ['an input by name', OSC, 'tracking', undefined, 'osc', '127.0.0.1', 9010, undefined],
    ['a group, from the interface of the input', PSN, undefined, undefined, 'psn', '236.10.10.10', 56_565, 'eth1'],
    ['or from another', PSN, 'tracking', 'eth2', 'psn', '236.10.10.10', 56_565, 'eth2'],
    ['another machine, in the form of the show', OSC, '10.0.0.5:9000', undefined, 'osc', '10.0.0.5', 9000, undefined],
    ['another protocol', OSC, 'psn:10.0.0.5:56565', undefined, 'psn', '10.0.0.5', 56_565, undefined],
    ['and the other way round', PSN, 'osc:10.0.0.5:9000', undefined, 'osc', '10.0.0.5', 9000, undefined],
  ] as const)('%s', (_, show, to, from, protocol, address, port, sentFrom) => {
    expect(targetOf(show, to, from)).toMatchObject({ protocol, address, port, from: sentFrom });
  }); // biome-ignore format: a row a case

  it.each([
    ['nowhere', '--to is an input of the show ("tracking"), or HOST:PORT'],
    ['10.0.0.5:0', '--to is an input of the show'],
    ['stage:10.0.0.5:9000', '--to is an input of the show'],
    ['psn:236.10.10.10:56565', '--interface is missing: 236.10.10.10 is a multicast group'],
  ])('%s is refused', (to, why) => {
    expect(targetOf(OSC, to, undefined)).toContain(why);
  });

  it('PosiStageNet carries numbers alone', () => {
    const target = targetOf(OSC, 'psn:10.0.0.5:56565', undefined);
    if (typeof target === 'string') throw new Error(target);
    expect(['7', '65535', '65536', '07', 'belt', ''].map(one => target.carries(one))).toEqual([
      true, true, false, false, false, false,
    ]); // biome-ignore format: one row
  });
});
