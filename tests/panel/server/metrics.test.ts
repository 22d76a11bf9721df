import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { dropsNamed } from '../../../src/engine/events/drop-words.js';
import { createCounters, DROP_REASONS } from '../../../src/engine/values/counters.js';
import { REFUSALS } from '../../../src/live/turned-away.js';
import { LANTERN, seen, snapshotOf } from '../support.js';
import { panel } from './panel.js';

const PAGE = readFileSync('docs/reference/metrics.md', 'utf8');

/** A picture in which everything has a value, so that all labels are told. */
async function exposed(): Promise<string> {
  const { metrics, record } = panel();
  const {
    drops: _,
    latest: __,
    latestFrom: ___,
    fullSockets: ____,
    feeds: _____,
    ...plain
  } = createCounters();
  const dropped = Object.fromEntries(DROP_REASONS.map(reason => [`drop:${reason}`, 1]));
  const whole = seen(LANTERN);
  const engine = {
    ...whole,
    counters: {
      ...plain,
      ...dropped,
      held: 0,
      heapUsed: 1,
      rss: 1,
      lateTicks: 0,
      framesSkipped: 0,
    },
    performers: whole.performers.map(one => ({ ...one, aheadS: 0.05 })),
    trackers: whole.trackers.map(one => ({ ...one, battery: 0.5 })),
  };
  const outputs = [{ name: 'heads', protocol: 'artnet' }] as never;
  const delays = [{ part: 'tick', counts: [1], sumS: 0.001 }] as never;
  record.take(snapshotOf(LANTERN, { engine, status: { outputs, delays, pair: PAIR } }));
  return metrics.text();
}

const SINCE = '2026-11-30T20:14:03Z';
/** On one network the main machine is gone, on the other it is heard. */
const PAIR = {
  machine: 'standby' as const,
  shows: 'differ' as const,
  parts: [
    { interface: 'eth1', part: 'stands in' as const, since: SINCE, other: 'silent' as const },
    { interface: 'eth2', part: 'waits' as const, since: SINCE, other: 'heard' as const },
  ],
};

it('says who of a pair has the light, how the other machine is, and whether both run one show', async () => {
  const all = (await exposed()).split('\n').filter(line => /^lampwright_pair.* 1$/.test(line));
  expect(all).toEqual([
    'lampwright_pair_part{machine="standby",interface="eth1",part="stands in"} 1',
    'lampwright_pair_part{machine="standby",interface="eth2",part="waits"} 1',
    'lampwright_pair_has_light{machine="standby",interface="eth1"} 1',
    'lampwright_pair_other{interface="eth1",state="silent"} 1',
    'lampwright_pair_other{interface="eth2",state="heard"} 1',
    'lampwright_pair_shows{shows="differ"} 1',
  ]);
  expect(await exposed()).toContain(
    'lampwright_pair_has_light{machine="standby",interface="eth2"} 0',
  );
  // No light leaves the main machine, whose cable is out on one of two networks.
  const { parts } = PAIR;
  const cut = {
    ...PAIR,
    machine: 'main' as const,
    parts: parts.map(one => ({ ...one, part: 'leads' as const })),
  };
  const outputs = [{ interface: 'eth1', trouble: 'no carrier' }, { interface: 'eth2' }] as never;
  const main = panel();
  main.record.take(snapshotOf(LANTERN, { engine: seen(LANTERN), status: { outputs, pair: cut } }));
  expect((await main.metrics.text()).match(/(?<=^lampwright_pair_has_light).*/gm)).toEqual([
    '{machine="main",interface="eth1"} 0',
    '{machine="main",interface="eth2"} 1',
  ]);
  // One that is alone has no pair.
  const { metrics, record } = panel();
  record.take(snapshotOf(LANTERN, { engine: seen(LANTERN) }));
  expect(await metrics.text()).not.toMatch(/^lampwright_pair/m);
});

it('has a page with each metric, its type, its labels and what it is', async () => {
  const text = await exposed();
  const rows = [...text.matchAll(/^# HELP (\w+) (.*)\n# TYPE \w+ (\w+)$/gm)].map(
    ([, name = '', help = '', type = '']) => {
      const sample = new RegExp(`^${name}(?:_bucket)?\\{(.*)\\}`, 'm').exec(text)?.[1] ?? '';
      const labels = [...sample.matchAll(/(\w+)="/g)].flatMap(([, label]) =>
        label === 'le' ? [] : [`\`${label}\``],
      );
      return `| \`${name}\` | ${type} | ${labels.join(', ')} | ${help} |`;
    },
  );
  expect(rows.length).toBeGreaterThan(15);
  expect(PAGE.split('\n').filter(line => line.startsWith('| `lampwright_'))).toEqual(rows);
});

it('has a page with each reason of a drop, in the words of log and report, and of a refusal', () => {
  const listed = (from: string) => {
    const section = PAGE.slice(PAGE.indexOf(`\n## ${from}`) + 1).split('\n## ')[0] ?? '';
    return section.split('\n').filter(line => /^\| `/.test(line) && !line.startsWith('| `reason`'));
  };
  expect(listed('Reasons of `lampwright_input_dropped_total`')).toEqual(
    DROP_REASONS.map(reason => `| \`${reason}\` | ${dropsNamed(reason)} |`),
  );
  expect(
    listed('Reasons of `lampwright_panel_refused_total`').map(line => /`(.*?)`/.exec(line)?.[1]),
  ).toEqual([...REFUSALS]);
});

it('names on its page what else is counted', async () => {
  const text = await exposed();
  const whats = [...text.matchAll(/^lampwright_engine(?:_events_total)?\{what="(\w+)"\}/gm)];
  expect(whats.length).toBeGreaterThan(10);
  for (const [, what] of whats) expect(PAGE).toContain(`\`${what}\``);
});

it('counts outputs that send nothing among the troubles, and says what the stage shows', async () => {
  const { metrics, record } = panel();
  const outputs = [{ name: 'heads', protocol: 'artnet', trouble: 'no carrier' }] as never;
  const troubles = [{ what: 'no panel', since: '' }];
  record.take(snapshotOf(LANTERN, { status: { outputs, troubles, light: 'not sent' } }));
  const text = await metrics.text();
  expect(text).toContain('lampwright_troubles 2\n');
  expect(text).toContain('lampwright_light{state="not sent"} 1\n');
  expect(text).toContain('lampwright_light{state="live"} 0\n');
});

it('says nothing of what it does not know: no value is no 0', async () => {
  const { metrics, record, clock } = panel();
  record.take(snapshotOf(LANTERN, { engine: seen(LANTERN) }));
  const samples = async () =>
    (await metrics.text()).split('\n').filter(line => /^lampwright_/.test(line));
  expect(await samples()).toContain('lampwright_engine_up 1');
  clock.nowS = 60;
  const old = await samples();
  expect(old).toContain('lampwright_up 0');
  expect(
    old.filter(line => /engine_up|tracking_silent|stopped|desk_lost|per_second/.test(line)),
  ).toEqual([]);
});
