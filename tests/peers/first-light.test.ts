import { execFile, execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { promisify } from 'node:util';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, SALT_LANTERN, SacnReceiver, until } from '../system/support.js';

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
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-capture-'));
  const capture = join(folder, 'light.pcap');
  const filter = 'dst host 127.0.0.1 and (udp port 5568 or udp port 6454)';
  const tshark = spawn('tshark', ['-i', 'lo', '-f', filter, '-w', capture, '-q'], {
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  let said = '';
  tshark.stderr.on('data', text => {
    said += String(text);
  });
  await until('the capture runs', () => said.includes('Capturing'));
  for (let i = 0; i < 250 && sacn.last[STOVE] !== 217; i++) {
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
  await sleep(300); // the capture's own buffer
  tshark.kill('SIGINT');
  await new Promise(resolve => tshark.once('exit', resolve));

  const dissect = (args: readonly string[]) =>
    execFileSync(
      'tshark',
      ['-r', capture, '--enable-heuristic', 'acn', '-o', 'acn.dmx_enable:TRUE', ...args],
      {
        encoding: 'utf8',
        stdio: ['ignore', 'pipe', 'ignore'],
      },
    )
      .trim()
      .split('\n');
  const e131 = dissect([
    '-Y', 'acn.dmx.universe == 1', '-T', 'fields',
    '-e', 'acn.dmx.source_name', '-e', 'acn.dmx.priority', '-e', 'acn.dmx.universe', '-e', 'acn.dmx.start_code2',
  ]); // biome-ignore format: options with their values
  expect(e131.length).toBeGreaterThan(20);
  for (const line of e131) {
    expect(line.split('\t').slice(0, 3)).toEqual(['lampwright The Salt Lantern', '100', '1']);
  }
  const artdmx = dissect([
    '-Y', 'artnet.output', '-T', 'fields',
    '-e', 'artnet.output.universe', '-e', 'artnet.output.length', '-e', 'artnet.output.sequence',
  ]); // biome-ignore format: options with their values
  expect(artdmx.length).toBeGreaterThan(20);
  expect(artdmx[0]?.split('\t').slice(0, 2)).toEqual(['2', '512']);
  rmSync(folder, { recursive: true });
});
