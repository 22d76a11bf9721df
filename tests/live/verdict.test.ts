import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import type { LiveSnapshot } from '../../src/live/schema.js';
import { verdictOf } from '../../src/live/verdict.js';
import { seen, snapshotOf } from '../panel/support.js';
import { showOf } from '../show/show-of.js';

const SHOW = showOf(readFileSync('config/salt-lantern.show.yaml', 'utf8'));
const LIVE = { phase: 'live', x: 1, y: 1 } as const;
const ALL_LIVE = seen(SHOW, [LIVE, LIVE, LIVE]);
const lost = seen(SHOW, [LIVE, LIVE, { ...LIVE, phase: 'losing', cause: 'tracker-silent' }]);
const since = new Date(0).toISOString();
const output = (trouble?: string): LiveSnapshot['status']['outputs'][number] => ({
  ...{ name: 'heads', protocol: 'sacn', interface: 'lo', universes: [1] },
  ...(trouble === undefined ? {} : { trouble, since }),
});
const line = (told: Parameters<typeof snapshotOf>[1]) => {
  const { level, line: said } = verdictOf(snapshotOf(SHOW, { engine: ALL_LIVE, ...told }));
  return `${level}: ${said}`;
};

it('says whether everything is all right, the worst first', () => {
  expect(line({})).toBe('well: All is well');
  expect(line({ engine: lost })).toBe('act: The Gull is lost');
  expect(line({ engine: seen(SHOW) })).toBe('look: Ines, Tobias and The Gull not live yet');
  expect(line({ phase: 'losing' })).toMatch(/^act: All light fades to the safe look/);
  expect(line({ engine: null })).toBe('look: Nothing is heard of the engine just now');
  expect(line({ status: { outputs: [output('no carrier')] } })).toBe(
    'act: No light leaves this machine',
  );
  expect(line({ status: { outputs: [output('no carrier'), output()] } })).toBe(
    'act: Nothing leaves by heads',
  );
  expect(line({ status: { troubles: [{ what: 'mapping stove is off', since }] } })).toBe(
    'look: The light is well; something needs a look',
  );
});

it('says who is lost, since when and why', () => {
  const { details } = verdictOf(snapshotOf(SHOW, { engine: lost }));
  expect(details).toEqual(['The Gull: lost for 0:12, tracker silent']);
});
