import { describe, expect, it } from 'vitest';
import { lampwright, SALT_LANTERN, variantOf } from './support.js';

/** Waits for wall time: it listens. */
describe('networks', () => {
  it('hears the simulated performers of The Salt Lantern, and finds nothing amiss', async () => {
    const show = variantOf(SALT_LANTERN, [
      ['listen: 127.0.0.1', 'listen: 127.0.7.71'],
      ['interface: 127.0.0.1', 'interface: 127.0.7.71'],
    ]);
    const args = ['networks', show.file, '--simulate', '--seconds', '3', '--json'];
    const { code, stdout } = await lampwright(args);
    show.remove();
    const { ok, checks, facts } = JSON.parse(stdout);
    expect([code, ok]).toEqual([0, true]);
    expect(Object.keys(facts.feeds[0].trackers)).toEqual(['1', '2', '3']);
    expect(checks.filter((one: { state: string }) => one.state === 'fail')).toEqual([]);
  });

  it('fails where no feed comes, and says what to look at', async () => {
    const show = variantOf(SALT_LANTERN, [['listen: 127.0.0.1', 'listen: 127.0.7.72']]);
    const { code, stdout } = await lampwright(['networks', show.file, '--seconds', '1']);
    show.remove();
    expect(code).toBe(1);
    expect(stdout).toContain('nothing at all arrived in 1 s.');
    expect(stdout).toContain('-> Is the tracking server running');
  });

  it.each([['0'], ['soon'], ['']])('refuses --seconds %j', async seconds => {
    expect((await lampwright(['networks', SALT_LANTERN, '--seconds', seconds])).code).toBe(2);
  });
});
