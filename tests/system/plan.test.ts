import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { lampwright, SALT_LANTERN, variantOf } from './support.js';

describe('plan', () => {
  it('says what the anchors of The Salt Lantern are worth, as JSON and as a picture', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-plan-'));
    const plot = join(folder, 'anchors.svg');
    const { code, stdout } = await lampwright(['plan', SALT_LANTERN, '--json', '--plot', plot]);
    const svg = readFileSync(plot, 'utf8');
    rmSync(folder, { recursive: true });
    expect(code).toBe(0);
    // Longer than a pipe takes at once: nothing may be lost at the end.
    expect(stdout.length).toBeGreaterThan(65_536);
    const { summary, map, rules } = JSON.parse(stdout);
    expect(map.errorM.clear).toHaveLength(map.columns * map.rows);
    expect(summary.errorM.clear.p95).toBeLessThan(0.2);
    expect(rules.every((rule: { commonPractice: boolean }) => rule.commonPractice)).toBe(true);
    expect(svg.startsWith('<svg')).toBe(true);
  });

  it('says so where a tracker has no position, and where there are no anchors', async () => {
    const few = variantOf(SALT_LANTERN, [
      ['  left-wing: { position: [11.2, 3.3, 3] }', ''],
      ['  downstage-right: { position: [-1.1, -1, 3.9] }', ''],
      ['  front: { position: [4.4, -1.3, 3.2] }', ''],
      ['  downstage-left: { position: [10.8, -1.1, 4.1] }', ''],
      ['  upstage-left: { position: [11, 8.9, 3.8] }', ''],
    ]);
    const failed = await lampwright(['plan', few.file]);
    few.remove();
    expect(failed.code).toBe(1);
    expect(failed.stdout).toMatch(/fail {2}at least 3 anchors in view/);
    const none = await lampwright(['plan', 'config/minimal.show.yaml']);
    expect(none.code).toBe(2);
    expect(none.stderr).toContain('has no anchors');
  });

  it.concurrent.each([
    [['--error', 'lots']],
    [['--by', 'magic']],
    [['--step', '0']],
    [['--plot', '/no/such/folder/a.svg']],
  ])('refuses %j', async args => {
    expect((await lampwright(['plan', SALT_LANTERN, ...args])).code).toBe(2);
  });
});
