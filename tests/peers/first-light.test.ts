import { execFile } from 'node:child_process';
import { setTimeout as sleep } from 'node:timers/promises';
import { promisify } from 'node:util';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, SALT_LANTERN, SacnReceiver } from '../system/support.js';
import { Capture } from './capture.js';

const run = promisify(execFile);
const STOVE = 0;
let daemon: Daemon;
let sacn: SacnReceiver;

beforeEach(async () => {
  sacn = await SacnReceiver.open(1);
  daemon = Daemon.run(SALT_LANTERN);
});

afterEach(async () => {
  await daemon.stop();
  sacn.close();
});

it('is driven by oscsend (liblo) and read by tshark', async () => {
  const capture = await Capture.open('dst host 127.0.0.1 and (udp port 5568 or udp port 6454)');
  const deadline = Date.now() + 20_000;
  while (sacn.last[STOVE] !== 217 && Date.now() < deadline) {
    await run('oscsend', [
      'osc.udp://127.0.0.1:9010',
      '/tracker/1/position',
      'fff',
      '2',
      '6',
      '1.4',
    ]);
    await sleep(10);
  }
  expect(sacn.last[STOVE]).toBe(217);
  await capture.end();
  const e131 = capture.fields('acn.dmx.universe == 1', [
    'acn.dmx.source_name',
    'acn.dmx.priority',
    'acn.dmx.universe',
  ]);
  expect(e131.length).toBeGreaterThan(20);
  for (const line of e131) {
    expect(line).toEqual(['lampwright The Salt Lantern', '100', '1']);
  }
  const artdmx = capture.fields('artnet.output', [
    'artnet.output.universe',
    'artnet.output.length',
  ]);
  expect(artdmx.length).toBeGreaterThan(20);
  expect(artdmx[0]).toEqual(['2', '512']);
  capture.remove();
});
