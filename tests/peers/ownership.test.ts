import { createSocket } from 'node:dgram';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { expect, it } from 'vitest';
import { Daemon, lampwright, until, variantOf } from '../system/support.js';
import { Capture } from './capture.js';

/** Receivers let a source go after so long without a packet (E1.31 6.7.1). */
const LOSS_S = 2.5;

interface Packet {
  readonly atS: number;
  readonly cid: string;
  readonly source: string;
  readonly universe: number;
  readonly sequence: number;
  readonly terminated: boolean;
}

it('one source, without a break, through a taken port, a second start, a new name, a dropped universe, and a kill', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-wire-'));
  const state = join(folder, 'state');
  const show = variantOf('config/minimal.show.yaml', [['universes: [1]', 'universes: [1, 2]']]);
  const run = () => Daemon.run(show.file, { RUNTIME_DIRECTORY: folder }, ['--state-dir', state]);
  const reload = async (from: string, to: string) => {
    writeFileSync(show.file, readFileSync(show.file, 'utf8').replace(from, to));
    const { code, stderr } = await lampwright(['tell', state, 'reload']);
    expect(`${code} ${stderr}`).toBe('0 ');
  };
  const capture = await Capture.open('udp port 5568');
  const thief = createSocket('udp4');
  await new Promise<void>(resolve => thief.bind(9010, '127.0.0.1', resolve));

  // The port is somebody else's for four seconds: the safe look is out all the while.
  let daemon = run();
  await until('it is told of', () => daemon.log.some(line => line.kind === 'input-blocked'));
  await sleep(4000); // longer than a receiver waits for a source
  thief.close();
  await until('the engine runs', () => daemon.enginePid > 0, 20);

  const second = run();
  expect(await second.exited).toBe(3);

  await reload('name: One lamp', 'name: The same lamp by another name');
  await reload('universes: [1, 2]', 'universes: [1]');
  const droppedS = Date.now() / 1000;
  // What is sent is noted with the next beat; killed before that, it would rightly be ended once more.
  await sleep(250);

  daemon.signal('SIGKILL');
  await daemon.exited;
  daemon = run();
  await until('the engine runs again', () => daemon.enginePid > 0, 20);
  await sleep(1000); // some repeats of the levels, every 0.9 s
  const endS = Date.now() / 1000;
  expect(await daemon.stop()).toBe(0);
  await capture.end();

  const packets = capture
    .fields('acn.dmx.universe', [
      'frame.time_epoch', 'acn.cid', 'acn.dmx.source_name', 'acn.dmx.universe', 'acn.dmx.seq_number', 'acn.dmx.option_s',
    ]) // biome-ignore format: a list
    .map(
      ([at, cid, source, universe, sequence, terminated]): Packet => ({
        atS: Number(at),
        cid: cid ?? '',
        source: source ?? '',
        universe: Number(universe),
        sequence: Number(sequence),
        terminated: terminated === '1' || terminated === 'True',
      }),
    );
  expect(new Set(packets.map(({ cid }) => cid)).size).toBe(1);
  expect([...new Set(packets.map(({ source }) => source))]).toEqual([
    'lampwright One lamp',
    'lampwright The same lamp by another name',
  ]);
  for (const universe of [1, 2]) {
    const own = packets.filter(one => one.universe === universe);
    expect(own.length).toBeGreaterThan(10);
    own.forEach(({ sequence, atS }, i) => {
      const before = own[i - 1];
      if (before === undefined) return;
      // Of a step of -19 to 0 a receiver drops the packet (E1.31 6.7.2).
      const step = (sequence - before.sequence + 256) % 256;
      expect(step).toBeGreaterThanOrEqual(1);
      expect(step).toBeLessThan(20);
      expect(atS - before.atS).toBeLessThan(LOSS_S);
    });
    // Three packets say that a stream has ended (E1.31 6.2.6), and none does before.
    const ended = own.filter(({ terminated }) => terminated);
    expect(ended).toHaveLength(3);
    expect(own.slice(-3)).toEqual(ended);
  }
  const lastOf = (universe: number) => packets.filter(one => one.universe === universe).at(-1);
  expect(lastOf(2)?.atS).toBeLessThan(droppedS + 1);
  expect(lastOf(1)?.atS).toBeGreaterThan(endS);
  capture.remove();
  show.remove();
  rmSync(folder, { recursive: true });
});
