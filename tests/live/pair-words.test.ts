import { expect, it } from 'vitest';
import {
  hasLight,
  hasOther,
  otherHasLight,
  type PairPartStatus,
  pairInWords,
  pairTroubles,
  saidByPart,
} from '../../src/live/pair-words.js';

const SINCE = '2026-11-30T20:14:03.000Z';
const HEARD = '2026-11-30T20:20:00.000Z';
const part = (fields: Partial<PairPartStatus>): PairPartStatus => ({
  interface: 'eth0',
  part: 'leads',
  since: SINCE,
  ...fields,
});
const words = (machine: 'main' | 'standby', ...parts: Partial<PairPartStatus>[]) =>
  pairInWords({ machine, parts: parts.map(part) });

it.each([
  ['main', { other: 'heard', address: '10.0.0.12' }, 'main machine, leads, standby at 10.0.0.12 heard'],
  ['main', { other: 'silent', address: '10.0.0.12' }, 'main machine, leads'],
  ['main', { other: 'ended', address: '10.0.0.12' }, 'main machine, leads, standby at 10.0.0.12 has ended'],
  ['main', {}, 'main machine, leads'],
  ['main', { part: 'listens', other: 'never heard' }, 'main machine, listens for a standby before it leads'],
  [
    'main',
    { part: 'comes back', other: 'heard', address: '10.0.0.12' },
    'main machine, comes back: the standby at 10.0.0.12 has the light until this one is the same',
  ],
  [
    'standby',
    { part: 'waits', other: 'heard', address: '10.0.0.11' },
    'standby, waits: the main machine at 10.0.0.11 has the light',
  ],
  ['standby', { part: 'waits', other: 'never heard' }, 'standby, waits: the main machine has not been heard yet'],
  ['standby', { part: 'stands in', other: 'never heard' }, 'STANDBY, STANDS IN: the main machine has not been heard'],
  [
    'standby',
    { part: 'stands in', other: 'comes back', address: '10.0.0.11' },
    'STANDBY, STANDS IN: the main machine at 10.0.0.11 is back, below this one: it leads once its light is the same, and within 10 s of being live',
  ],
  [
    'standby',
    { part: 'waits', other: 'comes back' },
    'standby, has the light: the main machine is back, below this one: it leads once its light is the same, and within 10 s of being live',
  ],
  [
    'standby',
    { part: 'stands in', other: 'silent', address: '10.0.0.11' },
    'STANDBY, STANDS IN: the main machine at 10.0.0.11 is silent',
  ],
  [
    'standby',
    { part: 'stands in', other: 'ended', address: '10.0.0.11' },
    'STANDBY, STANDS IN: the main machine at 10.0.0.11 has ended',
  ],
] as const)('of a %s machine, %j', (machine, fields, said) => {
  expect(words(machine, fields)).toEqual([said]);
}); // biome-ignore format: a table

it('names the networks only where they differ', () => {
  const waits = { part: 'waits', other: 'heard', address: '10.0.0.11' } as const;
  expect(words('standby', waits, { ...waits, interface: 'eth1' })).toHaveLength(1);
  const gone = { interface: 'eth1', part: 'stands in', other: 'silent' } as const;
  expect(words('standby', waits, gone)).toEqual([
    'on eth0: standby, waits: the main machine at 10.0.0.11 has the light',
    'on eth1: STANDBY, STANDS IN: the main machine is silent',
  ]);
});

it('calls a standby that has died a trouble, and not one that was stopped', () => {
  const of = (fields: Partial<PairPartStatus>, silentSince?: string) =>
    pairTroubles({ machine: 'main', parts: [part(fields)] }, silentSince);
  expect(of({ other: 'silent', lastHeard: HEARD, address: '10.0.0.12' })).toEqual([
    {
      what: 'its standby at 10.0.0.12 is no longer heard: nobody takes over if this machine dies',
      since: HEARD,
    },
  ]);
  expect(of({ other: 'ended', lastHeard: HEARD })).toEqual([]);
  expect(of({ other: 'heard' })).toEqual([]);
  expect(of({})).toEqual([]);
});

it('of a standby that stands in says why, for as long as it is so', () => {
  const of = (other: PairPartStatus['other'], part_: PairPartStatus['part'] = 'stands in') =>
    pairTroubles({ machine: 'standby', parts: [part({ part: part_, other })] }, undefined);
  const silent = { what: 'the main machine is silent: this one stands in', since: SINCE };
  expect(of('silent')).toEqual([silent]);
  expect(of('ended')).toMatchObject([{ what: expect.stringMatching(/has ended/) }]);
  expect(of('never heard')).toMatchObject([{ what: expect.stringMatching(/has not been heard/) }]);
  expect(of('comes back')).toMatchObject([{ what: expect.stringMatching(/is back, below this/) }]);
  expect([of('heard', 'waits'), of('never heard', 'waits')]).toEqual([[], []]);
  const pair = {
    machine: 'standby',
    parts: [part({ part: 'stands in', other: 'silent' })],
  } as const;
  expect(saidByPart(pair)).toEqual(new Set([silent.what]));
});

it('warns of a standby that is set up and was never heard, on no network', () => {
  const of = (others: readonly PairPartStatus['other'][], standby = [{ address: '10.0.0.12' }]) =>
    pairTroubles({ machine: 'main', parts: others.map(other => part({ other })) }, undefined, [], {
      main: [],
      standby,
    });
  const rest = 'has not been heard: nobody takes over if this machine dies';
  const what = `the standby at 10.0.0.12 ${rest}`;
  expect(of(['never heard'])).toEqual([{ what, since: SINCE }]);
  expect(of(['never heard', undefined])).toEqual([{ what, since: SINCE }]);
  expect(of(['never heard'], [])).toEqual([{ what: `the standby ${rest}`, since: SINCE }]);
  expect([of(['never heard', 'heard']), of([undefined])]).toEqual([[], []]);
});

it('says since when the other machine is so, and not since when this one stands in', () => {
  const of = (fields: Partial<PairPartStatus>) =>
    pairTroubles(
      { machine: 'standby', parts: [part({ part: 'stands in', ...fields })] },
      undefined,
    );
  const backSince = '2026-11-30T20:19:00.000Z';
  expect(of({ other: 'comes back', lastHeard: HEARD, backSince })[0]?.since).toBe(backSince);
  expect(of({ other: 'silent', lastHeard: HEARD })[0]?.since).toBe(HEARD);
  expect(of({ other: 'ended', lastHeard: HEARD })[0]?.since).toBe(HEARD);
  expect(of({ other: 'never heard' })[0]?.since).toBe(SINCE);
});

it('calls it a trouble of a main machine that the standby has the light', () => {
  const of = (other: PairPartStatus['other']) => ({
    machine: 'main' as const,
    parts: [part({ part: 'comes back', other, address: '10.0.0.12' })],
  });
  const what = 'the standby at 10.0.0.12 has the light until that of this machine is the same';
  expect(pairTroubles(of('heard'), undefined)).toEqual([{ what, since: SINCE }]);
  expect(pairTroubles(of('silent'), undefined)).toEqual([]);
  expect([...saidByPart(of('heard'))]).toEqual([what]);
});

it('warns of a stop that a main machine does not know when it comes back', () => {
  const of = (other: PairPartStatus['other'], stopped: readonly string[]) =>
    pairTroubles(
      { machine: 'standby', parts: [part({ part: 'stands in', other })] },
      undefined,
      stopped,
    );
  expect(of('comes back', ['Vera'])[1]?.what).toBe(
    'Vera is stopped here, and the main machine may not know it: give it the stop before it leads',
  );
  expect(of('comes back', ['Vera', 'Anton'])[1]?.what).toMatch(/^Vera and Anton are stopped here/);
  expect([of('comes back', []), of('silent', ['Vera'])].map(all => all.length)).toEqual([1, 1]);
});

it.each([
  ['standby', 'waits', 'heard', true],
  ['standby', 'waits', 'never heard', false],
  ['standby', 'waits', 'comes back', false],
  ['standby', 'stands in', 'silent', false],
  ['main', 'comes back', 'heard', true],
  ['main', 'comes back', 'silent', false],
  ['main', 'leads', 'heard', false],
  ['main', 'listens', undefined, false],
] as const)(
  'a %s machine that %s, the other one %s: receivers take the other, %s',
  (machine, is, other, takes) => {
    expect(otherHasLight({ machine, parts: [part({ part: is, other })] })).toBe(takes);
  },
);

it.each([
  ['main', 'leads', 'heard', {}, true],
  ['main', 'leads', 'heard', { trouble: 'no carrier on its interface' }, false],
  // Its cable is out, or was: a standby may have taken its place.
  ['main', 'listens', 'silent', {}, false],
  ['main', 'comes back', 'heard', {}, false],
  ['standby', 'waits', 'heard', {}, false],
  ['standby', 'waits', 'never heard', {}, true],
  ['standby', 'waits', 'never heard', { heldBack: true }, false],
  ['standby', 'stands in', 'silent', {}, true],
  ['standby', 'stands in', 'silent', { trouble: 'no carrier on its interface' }, false],
] as const)(
  'a %s machine that %s, the other one %s, its output %j: it has the light, %s',
  (machine, is, other, output, has) => {
    const eth2 = { interface: 'eth2' };
    const of = (name: string) =>
      hasLight(machine, part({ interface: name, part: is, other }), [
        { interface: 'eth1', ...output },
        eth2,
      ]);
    expect(of('eth1')).toBe(has);
    // By one of two interfaces the same network is reached all the same.
    expect(of('eth1, eth2')).toBe(has || 'trouble' in output || 'heldBack' in output);
  },
);

it('points to the standby where tracking is silent on the main machine alone', () => {
  const main = { machine: 'main', parts: [part({ other: 'heard' })] } as const;
  expect(pairTroubles(main, HEARD)).toMatchObject([
    {
      what: expect.stringMatching(
        /end the daemon of this machine, and receivers take the standby$/,
      ),
    },
  ]);
  // Nobody would have the light.
  const alone = { machine: 'main', parts: [part({ other: 'ended' })] } as const;
  expect(pairTroubles(alone, HEARD)).toEqual([]);
});

it('a main machine that has never heard another has none: it only listens for one', () => {
  const main = (other?: PairPartStatus['other']) =>
    hasOther({ machine: 'main', parts: [part({ part: 'listens', other })] });
  expect(
    [undefined, 'never heard', 'heard', 'silent', 'ended'].map(one => main(one as never)),
  ).toEqual([false, false, true, true, true]);
  expect([hasOther(undefined), hasOther({ machine: 'standby', parts: [part({})] })]).toEqual([
    false,
    true,
  ]);
});
