import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { expect, it } from 'vitest';
import { type Daemon, lampwright, until } from '../system/support.js';
import { Capture } from './capture.js';
import {
  arbitrated,
  cuesOf,
  folder,
  greatestStep,
  HOSTS,
  heard,
  keepLatest,
  latest,
  nowS,
  onThreeHosts,
  pairOf,
  show,
  start,
  stateOf,
  tell,
} from './two-machines.js';

onThreeHosts();

it('the second takes over when the first dies, and gives back without a jump', async () => {
  const { lwpa: A, lwpb: B } = HOSTS;
  const main = start('lwpa', '--state-dir', stateOf('lwpa'));
  await until(
    'the main machine leads, live',
    () => latest('sacn', A)?.priority === 100 && latest('sacn', A)?.level === 255,
    20,
  );
  const standby = start('lwpb', '--standby', '--state-dir', stateOf('lwpb'));
  await until(
    'the standby is live below it',
    () => latest('sacn', B)?.priority === 99 && latest('sacn', B)?.level === 255,
    20,
  );
  // Art-Net has no priorities: the standby is silent.
  expect(latest('artnet', A)?.level).toBe(255);
  expect(latest('artnet', B)).toBeUndefined();

  // A cue that only the standby is told shows nowhere, and it is called back to the main machine's.
  keepLatest();
  expect(await tell('lwpb', 'cue', 'storm')).toContain(
    'The other machine has the light just now: tell that one too.',
  );
  await until('it is in the prologue again', () => cuesOf(standby).at(-1) === 'prologue', 5);
  expect(cuesOf(standby).slice(-2)).toEqual(['storm', 'prologue']);
  expect(Math.max(...arbitrated(heard).map(({ sea }) => sea))).toBe(0);

  keepLatest();
  await tell('lwpa', 'cue', 'storm');
  await until('the main machine is in the crossfade', () => (latest('sacn', A)?.sea ?? 0) > 96, 5);
  const diedS = nowS();
  main.signal('SIGKILL');
  await until('the standby sends Art-Net', () => latest('artnet', B)?.level === 255, 5);
  // E1.31 6.7.1: gone after 2.5 s; the last packet may be 0.9 s old (6.6.2).
  expect(nowS() - diedS).toBeLessThan(3);
  await until('receivers take the standby', () => arbitrated(heard).at(-1)?.from === B, 5);
  expect(greatestStep(arbitrated(heard))).toBeLessThanOrEqual(5);

  await until(
    'the standby is through the crossfade',
    () => arbitrated(heard).at(-1)?.sea === 255,
    5,
  );
  const tookOverS = heard.find(one => one.protocol === 'artnet' && one.from === B)?.atS ?? 0;
  const again = start('lwpa', '--state-dir', stateOf('lwpa'));
  await until(
    'the main machine is back, below the standby',
    () => latest('sacn', A)?.priority === 98,
    10,
  );
  await until('it leads again', () => latest('sacn', A)?.priority === 100, 30);
  await until(
    'the standby is silent on Art-Net',
    () =>
      heard
        .filter(one => one.protocol === 'artnet')
        .slice(-4)
        .every(one => one.from === A),
    5,
  );
  // The safe look, with which it began, was never shown.
  const shown = arbitrated(heard);
  expect(shown.at(-1)?.from).toBe(A);
  expect(greatestStep(shown)).toBeLessThanOrEqual(5);
  expect(Math.min(...shown.map(({ level }) => level))).toBeGreaterThanOrEqual(250);
  // Receivers hold the last level until they go over (E1.31 6.7.1): a step up, and never a way back.
  shown.forEach(({ sea }, i) => {
    const around = JSON.stringify(shown.slice(Math.max(0, i - 2), i + 3));
    expect(sea, around).toBeGreaterThanOrEqual(shown[i - 1]?.sea ?? 0);
  });
  expect(shown.at(-1)?.sea).toBe(255);
  const told = again.log.filter(line => line.kind === 'pair').map(line => line.to);
  expect(told).toEqual(['joining', 'leading']);
  // As its Art-Net would have: the main machine sends none before it leads.
  const ledS =
    heard.find(one => one.from === A && one.priority === 100 && one.atS > diedS + 0.5)?.atS ?? 0;
  const early = heard.filter(
    one =>
      one.protocol === 'artnet' && one.from === A && one.atS > diedS + 0.5 && one.atS < ledS - 0.1,
  );
  expect(early).toEqual([]);
  // Somebody sends Art-Net all the time, unchanged levels every 0.8 to 1 s; once the 2.5 s are over.
  const artnet = heard
    .filter(one => one.protocol === 'artnet' && one.atS >= tookOverS)
    .map(one => one.atS);
  const gaps = artnet.map((atS, i) => atS - (artnet[i - 1] ?? atS));
  expect(Math.max(...gaps.slice(1))).toBeLessThan(1.2);
});

it('a main machine that is stopped leaves the light to the standby, at the level where it is', async () => {
  const { lwpa: A, lwpb: B } = HOSTS;
  const { main, standby } = await pairOf();
  const status = async (host: keyof typeof HOSTS) =>
    JSON.parse(await tell(host, 'status', '--json')).status.pair;
  expect(await status('lwpa')).toMatchObject({
    machine: 'main',
    parts: [{ interface: 'lw0', part: 'leads', other: 'heard', address: B }],
  });
  expect(await status('lwpb')).toMatchObject({
    machine: 'standby',
    parts: [{ interface: 'lw0', part: 'waits', other: 'heard', address: A }],
  });
  keepLatest();
  const capture = await Capture.open('udp port 5568', { host: 'lwpg', interface: 'lw0' });
  await sleep(1500); // the capture says that it runs before it does
  await main.stop();
  await until('receivers take the standby', () => arbitrated(heard).at(-1)?.from === B, 3);
  await until('it says that it stands in', () => standby.log.some(one => one.to === 'standing-in'));
  await sleep(1000); // for what would come after, and for the capture to have it
  await capture.end();
  expect(main.log.find(({ kind }) => kind === 'stopping')).toMatchObject({ handsOver: true });
  expect(standby.log.findLast(({ kind }) => kind === 'pair')).toMatchObject({ ended: true });
  expect(Math.min(...arbitrated(heard).map(({ level }) => level))).toBeGreaterThanOrEqual(250);
  // E1.31 6.2.6: three packets with Stream_Terminated, by the dissectors of an independent tool.
  const ends = capture
    .fields('acn.dmx.universe == 1', ['ip.src', 'acn.dmx.option_s'])
    .filter(([, ended]) => ended === '1' || ended === 'True')
    .map(([from]) => from);
  expect(ends).toEqual([A, A, A]);
  capture.remove();
  // And where nobody is left, the standby goes to its safe look before it ends.
  keepLatest();
  await standby.stop();
  expect(latest('sacn', B)?.level).toBe(51);
}, 60_000);

it('both machines say that they run different shows after a reload of one, until the other one has it too', async () => {
  const { lwpa: A, lwpb: B } = HOSTS;
  const { main, standby } = await pairOf();
  const ofShows = ({ log }: Daemon) => log.filter(({ kind }) => kind === 'other-show');
  const last = (daemon: Daemon) => ofShows(daemon).at(-1)?.shows;
  const status = async (host: keyof typeof HOSTS) => {
    const { pair, troubles } = JSON.parse(await tell(host, 'status', '--json')).status;
    return [pair.shows, troubles.filter(({ what }: { what: string }) => /another show/.test(what))];
  };
  await until('they know to run the same', () => [main, standby].every(d => last(d) === 'same'));
  const text = readFileSync(show.file, 'utf8');
  try {
    writeFileSync(show.file, text.replace('radius: 0.8', 'radius: 0.9'));
    await tell('lwpa', 'reload');
    const differ = () => [main, standby].every(daemon => last(daemon) === 'differ');
    await until('both say that the other runs another show', differ, 15);
    expect(ofShows(main).at(-1)).toMatchObject({ machine: 'standby', address: B, level: 40 });
    expect(ofShows(standby).at(-1)).toMatchObject({ machine: 'main', address: A, level: 40 });
    for (const host of ['lwpa', 'lwpb'] as const) {
      expect(await status(host)).toMatchObject(['differ', [{ what: expect.any(String) }]]);
    }
    await tell('lwpb', 'reload');
    await until(
      'both say that they run the same',
      () => [main, standby].every(daemon => last(daemon) === 'same'),
      15,
    );
    for (const host of ['lwpa', 'lwpb'] as const) expect(await status(host)).toEqual(['same', []]);
  } finally {
    writeFileSync(show.file, text);
  }
}, 90_000);

it('a main machine misses the standby of its show, and says no more of it once that is there', async () => {
  const { lwpb: B, lwpg: gateway } = HOSTS;
  const main = start('lwpa', '--state-dir', stateOf('lwpa'));
  // The gateway is no node, and the other machine need not be one.
  const silent = () => main.log.flatMap(({ kind, ip }) => (kind === 'node-silent' ? [ip] : []));
  await until('the nodes have been asked in vain', () => silent().length > 0, 20);
  expect(silent()).toEqual([gateway]);
  const status = async (host: keyof typeof HOSTS) =>
    JSON.parse(await tell(host, 'status', '--json')).status;
  await sleep(3000); // 10 s of its start are over
  const alone = await status('lwpa');
  expect(alone.pair.parts).toMatchObject([{ part: 'leads', other: 'never heard' }]);
  const what = `the standby at ${B} has not been heard: nobody takes over if this machine dies`;
  expect(alone.troubles).toContainEqual({ what, since: expect.any(String) });
  start('lwpb', '--standby', '--state-dir', stateOf('lwpb'));
  await until('the standby is heard', () => latest('sacn', B)?.priority === 99, 20);
  await sleep(1500); // a universe that does not change is heard within 1 s
  expect(await status('lwpa')).toMatchObject({ pair: { parts: [{ other: 'heard' }] } });
  const ofPair = ({ what }: { what: string }) => what.includes(B);
  expect((await status('lwpa')).troubles.filter(ofPair)).toEqual([]);
}, 90_000);

it('the report of a standby says from when to when receivers took its light', async () => {
  const { lwpa: A, lwpb: B } = HOSTS;
  const recording = join(folder, 'recorded');
  const standby = start('lwpb', '--standby', '--state-dir', stateOf('lwpb'), '--record', recording);
  await until('the standby is live', () => latest('sacn', B)?.level === 255, 20);
  // The standby waits for it, and has the light meanwhile: by sACN, which needs no decision.
  await sleep(1000); // 2.5 s of its start are over
  const { pair } = JSON.parse(await tell('lwpb', 'status', '--json')).status;
  expect(pair.parts).toMatchObject([{ part: 'stands in', other: 'never heard' }]);
  const main = start('lwpa', '--state-dir', stateOf('lwpa'));
  await until('the main machine leads', () => latest('sacn', A)?.priority === 100, 30);
  const waits = (one: Record<string, unknown>) => one.to === 'standing-by' && !one.comesBack;
  await until('the standby says so', () => standby.log.some(waits));
  await sleep(1000); // for what would come after
  main.signal('SIGKILL');
  await until('the standby stands in', () => standby.log.some(one => one.to === 'standing-in'), 5);
  await until('receivers take it', () => arbitrated(heard).at(-1)?.from === B, 5);
  const shown = arbitrated(heard);
  await standby.stop();
  const { stdout, stderr } = await lampwright(['report', recording, '--json']);
  expect(stderr).toBe('');
  const { standbyLight, unixOffsetS } = JSON.parse(stdout);
  const wallS = (atS: number) => performance.timeOrigin / 1e3 + atS - unixOffsetS;
  const ledS = wallS(shown.find(({ from }) => from === A)?.atS ?? 0);
  const goneS = wallS(latest('sacn', A)?.atS ?? 0);
  const [first, second, ...rest] = standbyLight;
  expect(rest).toEqual([]);
  expect(Math.abs(first.fromS - wallS(shown[0]?.atS ?? 0))).toBeLessThan(0.5);
  expect(Math.abs(first.untilS - ledS)).toBeLessThan(0.5);
  // E1.31 6.7.1: 2.5 s after its last packet.
  expect(Math.abs(second.fromS - goneS - 2.5)).toBeLessThan(0.5);
  expect(second.untilS).toBeGreaterThan(second.fromS);
}, 90_000);
