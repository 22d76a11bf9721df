import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { lampwright, SALT_LANTERN, variantOf } from './support.js';

/** Waits for wall time: it listens. */
describe('preflight', () => {
  it('walks The Salt Lantern with simulated performers, and writes a page', async () => {
    const show = variantOf(SALT_LANTERN, [
      ['listen: 127.0.0.1', 'listen: 127.0.7.81'],
      ['interface: 127.0.0.1', 'interface: 127.0.7.81'],
    ]);
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-preflight-'));
    const args = ['--simulate', '--seconds', '4', '--report', folder, '--json'];
    const { code, stdout } = await lampwright(['preflight', show.file, ...args]);
    show.remove();
    const { ok, checks } = JSON.parse(stdout) as {
      ok: boolean;
      checks: { area: string; name: string; state: string; found: string }[];
    };
    const [page = ''] = readdirSync(folder);
    const html = readFileSync(join(folder, page), 'utf8');
    rmSync(folder, { recursive: true });
    expect(page).toMatch(/^preflight-the-salt-lantern-\d{4}-\d\d-\d\d-\d{6}\.html$/);
    expect(html).toContain('Before the doors: The Salt Lantern');
    expect(checks.filter(one => one.state === 'fail')).toEqual([]);
    expect([code, ok]).toEqual([0, true]);
    const watchdog = checks.filter(one => one.area === 'watchdog');
    expect(watchdog.map(one => one.state)).toEqual(['pass', 'pass', 'pass', 'pass']);
    // Each begins in another of the zones that they drive, and stands there for four seconds.
    const tobias = checks.find(one => one.name === 'Tobias, walked now');
    expect(tobias?.found).toContain('window seat');
  });

  it('fails with 1 where no feed comes', async () => {
    const show = variantOf(SALT_LANTERN, [['listen: 127.0.0.1', 'listen: 127.0.7.82']]);
    const { code, stdout } = await lampwright(['preflight', show.file, '--seconds', '1']);
    show.remove();
    expect(code).toBe(1);
    expect(stdout).toContain('nothing at all arrived');
  });

  it('takes the walk from a recording', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-preflight-'));
    const scene = 'config/scenes/lantern.scene.yaml';
    await lampwright(['rehearse', SALT_LANTERN, scene, '--record', folder]);
    const show = variantOf(SALT_LANTERN, [['listen: 127.0.0.1', 'listen: 127.0.7.83']]);
    const args = ['--simulate', '--seconds', '1', '--recording', folder, '--json'];
    const { code, stdout } = await lampwright(['preflight', show.file, ...args]);
    show.remove();
    rmSync(folder, { recursive: true });
    const { checks } = JSON.parse(stdout) as {
      checks: { name: string; state: string; found: string }[];
    };
    const walk = (name: string) => checks.find(one => one.name === `${name}, as recorded`);
    // In the scene Ines never goes to the harbour steps, which are for anybody and have Tobias; his tracker
    // fails him by the stove.
    expect(walk('Ines')).toMatchObject({ state: 'pass' });
    expect(walk('Tobias')).toMatchObject({ state: 'fail' });
    expect(walk('Tobias')?.found).toMatch(/Below the 35 % of the watchdog in stove/);
    expect(code).toBe(1);
  });

  it.each([
    [['--seconds', 'soon']],
    [['--markers', 'no/such.csv']],
    [['--recording', 'no/such']],
    [['--markers', SALT_LANTERN]],
  ])('refuses %j', async args => {
    expect((await lampwright(['preflight', SALT_LANTERN, ...args])).code).toBe(2);
  });
});
