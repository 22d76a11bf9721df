import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { main } from '../../src/commands/cli.js';
import { MINIMAL } from '../show/base.js';
import { captured } from './captured.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-labels-'));
afterAll(() => rmSync(folder, { recursive: true }));
const said = captured();

test.each(['check', 'safety'])(
  '%s lists fixtures by label, by key where there is none, and by both where two have one label',
  async command => {
    const twin = '  twin: { label: Old stove, profile: dimmer, universe: 1, address: 2 }\n';
    const show = MINIMAL.replace('glow: { profile', 'glow: { label: Old stove, profile').replace(
      'fixtures:\n',
      `fixtures:\n${twin}`,
    );
    const file = join(folder, `${command}.show.yaml`);
    writeFileSync(file, show);
    expect(await main([command, file])).toBe(0);
    expect(said.out).toMatch(/^ +Old stove \(twin\) +1\/2 /m);
    expect(said.out).toMatch(/^ +Old stove \(glow\) +1\/1 /m);
    expect(said.out).toMatch(/^ +head +1\/11 /m);
    if (command === 'safety') expect(said.out).toMatch(/ordinary: .*Old stove \(glow\)/);
  },
);
