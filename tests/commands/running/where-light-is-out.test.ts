import { expect, it } from 'vitest';
import { whereSafeLookIsOut } from '../../../src/commands/running/where-light-is-out.js';

const output = (name: string, trouble?: string) =>
  ({ name, protocol: 'sacn', interface: 'eth0', universes: [1], trouble }) as const;

it('says where the safe look is out, and where nothing can be', () => {
  const words = (...outputs: ReturnType<typeof output>[]) => whereSafeLookIsOut(outputs);
  expect(words(output('heads'), output('practicals'))).toBe('the safe look is out');
  expect(words(output('heads'), output('practicals', 'interface lost'))).toBe(
    "the safe look is out on heads; practicals can't send: interface lost",
  );
  expect(words(output('heads', 'no carrier'))).toBe(
    "NO LIGHT LEAVES THIS MACHINE; heads can't send: no carrier",
  );
});
