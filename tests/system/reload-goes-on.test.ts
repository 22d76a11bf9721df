import { createSocket } from 'node:dgram';
import { renameSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { describe, expect, it } from 'vitest';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { LAMP, lampHouse, SAFE } from './lamp.js';
import { Daemon, longestGapS, until } from './support.js';

/** A busy machine keeps the daemon waiting for more than the usual 0.25 s, and that alone leads to the safe look. */
const house = lampHouse([['performers:', 'watchdog: { engineSilent: { after: 2 } }\nperformers:']]);

const of = (kind: string) => house.daemon.log.filter(line => line.kind === kind);

describe('a show with the same patch that is loaded while it runs', () => {
  it('goes on from the light that is out: no safe look, no lost tick, the same engine', async () => {
    const [started] = of('engine-started');
    const beganS = performance.now() / 1000;
    // From 100 to 60 per cent in 2 s.
    writeFileSync(house.show.file, `${house.text.replace('Dimmer: 100', 'Dimmer: 60')}reload: 2\n`);
    house.daemon.signal('SIGHUP');
    await until('it is loaded', () => of('reloaded').length === 1, 20);
    expect(of('reloaded')[0]).toMatchObject({ overS: 2 });
    await until('it is at its level', () => house.sacn.last[LAMP] === 153, 10);
    expect(of('engine-started')).toEqual([started]);
    expect(of('lights').filter(({ to }) => to === 'losing')).toEqual([]);
    const since = house.sacn.packets.filter(({ atS }) => atS > beganS);
    expect(Math.min(...since.map(({ slots }) => slots[LAMP] ?? 0))).toBeGreaterThanOrEqual(153);
    since.forEach(({ slots }, i) => {
      const before = since[i - 1]?.slots[LAMP] ?? 255;
      // 102 steps in 2 s are 1.3 a tick, and 5.1 in the longest that a late one counts for (0.1 s): two of these, as a
      // busy machine lets a frame be late, and a step of rounding. By way of the safe look it would be 50 and more.
      expect(Math.abs((slots[LAMP] ?? 0) - before)).toBeLessThan(12);
    });
    // Every beat of the crossfade changes a level, and is sent: 25 ms. What a busy machine does to processes is for
    // the fault campaign.
    const fading = since.filter(({ slots }) => (slots[LAMP] ?? 0) < 255 && slots[LAMP] !== 153);
    expect(fading.length).toBeGreaterThan(20);
    expect(longestGapS(fading)).toBeLessThan(0.1);
  });

  it('and an engine that dies in mid-crossfade leads to the safe look of the new show', async () => {
    const changed = house.text
      .replace('Dimmer: 100', 'Dimmer: 60')
      .replace('Dimmer: 20', 'Dimmer: 40');
    writeFileSync(house.show.file, `${changed}reload: 10\n`);
    house.daemon.signal('SIGHUP');
    await until('it is loaded', () => of('reloaded').length === 1, 20);
    await sleep(500);
    process.kill(Number(of('engine-started')[0]?.pid), 'SIGKILL');
    await until('it is at the new safe look', () => house.sacn.last[LAMP] === 2 * SAFE, 10);
    // The engine that is started then has the new show.
    await until('it follows again', () => house.sacn.last[LAMP] === 153, 20);
  });

  it('a broken one is refused, and the next one is taken', async () => {
    writeFileSync(house.show.file, `${house.text}nonsense: 1\n`);
    house.daemon.signal('SIGHUP');
    await until('it is refused', () => of('reload-refused').length === 1, 20);
    expect(house.sacn.last[LAMP]).toBe(255);
    writeFileSync(house.show.file, house.text.replace('Dimmer: 100', 'Dimmer: 60'));
    house.daemon.signal('SIGHUP');
    await until('it is at its level', () => house.sacn.last[LAMP] === 153, 20);
    expect(of('lights').filter(({ to }) => to === 'losing')).toEqual([]);
  });
});

describe('who may send', () => {
  it('changes while the light goes on; where orders come in does not, and the reason says so', async () => {
    const load = async (operator: string, ...changes: [] | [from: string, to: string]) => {
      const before = of('reloaded').length;
      const [from = '', to = ''] = changes;
      writeFileSync(house.show.file, `${house.text.replace(from, to)}operator: { ${operator} }\n`);
      house.daemon.signal('SIGHUP');
      await until('it is loaded', () => of('reloaded').length > before, 20);
      return of('reloaded').at(-1);
    };
    const where = 'listen: 127.0.0.1, port: 9019';
    expect(await load(`${where}, allow: [127.0.0.9]`)).toMatchObject({
      because: 'its operator input changed',
    });
    await until('the lamp is lit again', () => house.sacn.last[LAMP] === 255, 20);
    await until('it is live', () => of('lights').at(-1)?.to === 'live', 20);
    const lit = of('lights').length;
    expect(await load(where)).toMatchObject({ overS: 2 });
    const bytes = encodePacket({ address: '/lampwright/stop', args: [] });
    const sender = createSocket('udp4');
    sender.send(bytes, 9019, '127.0.0.1', () => sender.close());
    await until('the order is heard', () => of('stopped').length > 0, 10);
    // The tracker's sender is not among these: as if it were silent.
    const [input, none] = ['tracking:\n', 'tracking:\n    allow: [127.0.0.9]\n'];
    expect(await load(where, input, none)).toMatchObject({ overS: 2 });
    await until('nobody is heard', () => of('feed').at(-1)?.silent === true, 10);
    expect(of('lights').slice(lit)).toEqual([]);
  });
});

describe('run --watch', () => {
  it('loads each save, also of an editor that renames over, and refuses a broken one line by line', async () => {
    await house.daemon.stop();
    house.daemon = Daemon.run(house.show.file, {}, ['--watch']);
    await until('the lamp is lit', () => house.sacn.last[LAMP] === 255, 20);
    writeFileSync(
      house.show.file,
      `${house.text.replace('Dimmer: 100', 'Dimmer: 60')}reload: 0.5\n`,
    );
    await until('it is at its level', () => house.sacn.last[LAMP] === 153, 20);
    writeFileSync(house.show.file, `${house.text}nonsense: 1\nmore: 2\n`);
    await until('it is refused', () => of('reload-refused').length === 1, 20);
    await until('each problem has its line', () => of('show-problem').length === 2, 20);
    expect(of('show-problem').map(({ msg }) => String(msg))).toEqual([
      expect.stringContaining('nonsense'),
      expect.stringContaining('more'),
    ]);
    expect(house.sacn.last[LAMP]).toBe(153);
    writeFileSync(
      `${house.show.file}.new`,
      `${house.text.replace('Dimmer: 100', 'Dimmer: 80')}reload: 0.5\n`,
    );
    renameSync(`${house.show.file}.new`, house.show.file);
    await until('it is at its level', () => house.sacn.last[LAMP] === 204, 20);
    expect(of('reloaded').map(({ by }) => by)).toEqual(['a save', 'a save']);
    expect(of('lights').filter(({ to }) => to === 'losing')).toEqual([]);
  });
});
