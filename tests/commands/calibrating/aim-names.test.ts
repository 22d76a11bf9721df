import { afterEach, expect, test, vi } from 'vitest';
import { main } from '../../../src/commands/cli.js';

afterEach(() => {
  vi.restoreAllMocks();
});

const SHOW = 'config/salt-lantern.show.yaml';

const aimed = (name: string) => said('aim', SHOW, name, '5', '4', '0', '--json');

async function said(...words: string[]): Promise<{ code: number; out: string; err: string }> {
  const heard = { out: '', err: '' };
  const into = (where: 'out' | 'err') => (text: unknown) => {
    heard[where] += String(text);
    return true;
  };
  vi.spyOn(process.stdout, 'write').mockImplementation(into('out'));
  vi.spyOn(process.stderr, 'write').mockImplementation(into('err'));
  const code = await main(words);
  return { code, ...heard };
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

test.each([
  [['4,5', '4', '0'], 'X is a number, not "4,5". Decimals are written with a point: 4.5.'],
  [
    ['5', '4', '0', '--from', '1,5,20'],
    '--from takes PAN,TILT, not "1,5,20". Decimals are written with a point (1.4): a comma parts one value from the next.',
  ],
])('decimals with a comma: %j', async (numbers, says) => {
  const { code, err } = await said('aim', SHOW, 'head-right', ...numbers);
  expect(code).toBe(2);
  expect(err).toContain(says);
});

test('a head is nowhere beyond the ends of its range', async () => {
  const { code, err } = await said('aim', SHOW, 'head-right', '5', '4', '0', '--from', '9999,-136');
  expect(code).toBe(2);
  expect(err).toContain('Pan of "head-right" goes from -270 to 270 degrees, and 9999 is beyond.');
  expect(err).toContain('Tilt of "head-right" goes from -135 to 135 degrees, and -136 is beyond.');
});

test('of each way round the penalty is told apart from the travel', async () => {
  const { out } = await said('aim', SHOW, 'head-right', '5', '4', '0');
  // 1.33 s of travel; 2 s * (1 - 37 / 180) of penalty: see docs/concepts/aiming.md.
  expect(out).toMatch(/-233\.13° +-43\.88° +over +1\.33 s +37° +1\.59 s/);
  expect(out).toContain("pan can't keep up with a walk of 1.4 m/s");
});

test('a plot of two heads is refused before anything is computed', async () => {
  const samples = ['--samples', 'config/examples/salt-lantern.aims.csv'];
  const asked = ['calibrate', 'fixture', SHOW, 'head-right', 'head-left', ...samples];
  const { code, out, err } = await said(...asked, '--plot', 'heads.svg');
  expect(code).toBe(2);
  expect(out).toBe('');
  expect(err).toContain(
    '--plot draws one fixture, but there are samples of 2: name one of head-right and head-left.',
  );
});
