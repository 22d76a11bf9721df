import { execFileSync } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { expect, it } from 'vitest';
import { Daemon, SALT_LANTERN, Trackers, until } from '../system/support.js';

/** What Prometheus' own tool (Debian: prometheus) says of the examples, and of the metrics of a running daemon. */
const RULES = 'docs/guides/monitoring/lampwright.rules.yml';
const DASHBOARD = 'docs/guides/monitoring/lampwright.dashboard.json';
const URL_ = 'http://127.0.0.1:7240';

const promtool = (args: readonly string[], input = '') =>
  execFileSync('promtool', args, { encoding: 'utf8', input });

it('has rules that promtool takes, and that say what they are to say, when they are to', () => {
  expect(promtool(['check', 'rules', RULES])).toContain('11 rules found');
  expect(promtool(['test', 'rules', 'tests/peers/lampwright.rules.test.yml'])).toContain('SUCCESS');
});

it('tells metrics that promtool has nothing against, and all that the dashboard shows', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-metrics-'));
  // One of a pair, so that it has something to say of that.
  const options = ['--standby', '--state-dir', folder, '--panel', '127.0.0.1:7240'];
  const daemon = Daemon.run(SALT_LANTERN, {}, options);
  const trackers = new Trackers();
  const stranger = createSocket('udp4');
  try {
    for (const tracker of [1, 2, 3]) trackers.place(tracker, 2 * tracker, 5);
    await until('the panel listens', () => daemon.log.some(({ kind }) => kind === 'panel'), 30);
    stranger.send('no OSC at all', 9010, '127.0.0.1');
    await fetch(`${URL_}/nothing`);
    let text = '';
    for (let i = 0; i < 40 && !/dropped_total\{/.test(text); i++) {
      // The panel takes a snapshot a second while nobody looks.
      await sleep(500);
      text = await (await fetch(`${URL_}/metrics`)).text();
    }
    expect(promtool(['check', 'metrics'], text)).toBe('');
    const { panels } = JSON.parse(readFileSync(DASHBOARD, 'utf8')) as {
      panels: { title: string; targets: { expr: string; legendFormat: string }[] }[];
    };
    for (const { title, targets } of panels) {
      for (const { expr, legendFormat } of targets) {
        const [, name = '', asked = ''] = /(lampwright_\w+)(?:\{(.*?)\})?/.exec(expr) ?? [];
        const samples = text.split('\n').filter(line => new RegExp(`^${name}[{ ]`).test(line));
        expect([title, samples.length > 0]).toEqual([title, true]);
        for (const [, label, sign, value = ''] of asked.matchAll(/(\w+)(=~?)"(.*?)"/g)) {
          for (const one of sign === '=~' ? value.split('|') : [value]) {
            expect(samples.some(line => line.includes(`${label}="${one}"`))).toBe(true);
          }
        }
        const [, shown] = /\{\{(\w+)\}\}/.exec(legendFormat) ?? [];
        // Prometheus itself says of which instance.
        if (shown !== 'instance') expect(samples[0]).toContain(`${shown}="`);
        // A rate a second is said to be one.
        expect([title, /second/.test(title)]).toEqual([title, /rate\(|_per_second/.test(expr)]);
      }
    }
  } finally {
    stranger.close();
    trackers.close();
    await daemon.stop();
    rmSync(folder, { recursive: true });
  }
}, 90_000);
