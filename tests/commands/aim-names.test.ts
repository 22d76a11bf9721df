import { afterEach, expect, test, vi } from 'vitest';
import { main } from '../../src/commands/cli.js';

afterEach(() => {
  vi.restoreAllMocks();
});

async function aimed(name: string): Promise<{ code: number; out: string; err: string }> {
  const said = { out: '', err: '' };
  const into = (where: 'out' | 'err') => (text: unknown) => {
    said[where] += String(text);
    return true;
  };
  vi.spyOn(process.stdout, 'write').mockImplementation(into('out'));
  vi.spyOn(process.stderr, 'write').mockImplementation(into('err'));
  const show = 'config/salt-lantern.show.yaml';
  const code = await main(['aim', show, name, '5', '4', '0', '--json']);
  return { code, ...said };
}

test.each(['head-right', 'HEAD-right', 'head stage right', 'Head  Stage Right'])(
  'a fixture is found by name or label in any case: %s',
  async name => {
    const { code, out } = await aimed(name);
    expect(code).toBe(0);
    expect(JSON.parse(out).fixture).toBe('head-right');
  },
);

test('a slip in a label is answered with the name', async () => {
  const { code, err } = await aimed('head stage rihgt');
  expect(code).toBe(2);
  expect(err).toContain('Did you mean "head-right"? The show has stove-glow,');
});
