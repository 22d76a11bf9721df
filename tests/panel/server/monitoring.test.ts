import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { parse } from 'yaml';
import { LANTERN, seen, snapshotOf } from '../support.js';
import { panel } from './panel.js';

/** promtool has its say in tests/peers/monitoring.test.ts. */
const FOLDER = 'docs/guides/monitoring';
const rules = readFileSync(`${FOLDER}/lampwright.rules.yml`, 'utf8');
const dashboard = readFileSync(`${FOLDER}/lampwright.dashboard.json`, 'utf8');

async function exposed(): Promise<string> {
  const { metrics, record } = panel();
  record.take(snapshotOf(LANTERN, { engine: seen(LANTERN) }));
  return metrics.text();
}

it('asks for metrics that there are, by labels that they have', async () => {
  const text = await exposed();
  const types = new Map(
    [...text.matchAll(/^# TYPE (\w+) (\w+)$/gm)].map(([, name = '', type = '']) => [name, type]),
  );
  for (const source of [rules, dashboard]) {
    const names = [...source.matchAll(/\blampwright_\w+/g)].map(([name]) => name);
    expect(names.length).toBeGreaterThan(5);
    for (const name of names) {
      const type = types.get(name.replace(/_(bucket|sum|count)$/, '')) ?? types.get(name);
      expect([name, type]).toEqual([name, expect.any(String)]);
      // A rate of what may fall is none.
      const isRated = new RegExp(`(rate|increase)\\(${name}\\b`).test(source);
      if (isRated) expect([name, type]).not.toEqual([name, 'gauge']);
    }
  }
});

it('has rules that say what to look at, and a dashboard that is JSON', () => {
  const [group] = (parse(rules) as { groups: { rules: Record<string, unknown>[] }[] }).groups;
  expect(group?.rules.length).toBeGreaterThan(5);
  for (const rule of group?.rules ?? []) {
    expect(rule).toMatchObject({
      alert: expect.stringMatching(/^\w+$/),
      expr: expect.any(String),
      labels: { severity: expect.stringMatching(/^(page|warn)$/) },
      annotations: { summary: expect.any(String) },
    });
  }
  const { title, panels } = JSON.parse(dashboard) as { title: string; panels: { id: number }[] };
  expect(title).toMatch(/lampwright/i);
  expect(new Set(panels.map(({ id }) => id)).size).toBe(panels.length);
});
