import type { Status } from '../../daemon/asking/status.js';

/** The outputs at the start, in words: "the safe look is out on heads; lamps can't send: interface lost, ...". */
export function whereSafeLookIsOut(outputs: Status['outputs']): string {
  const down = outputs.filter(({ trouble }) => trouble !== undefined);
  if (down.length === 0) return 'the safe look is out';
  const up = outputs.filter(({ trouble }) => trouble === undefined).map(({ name }) => name);
  const why = down.map(({ name, trouble }) => `${name} can't send: ${trouble}`);
  const out =
    up.length === 0 ? 'NO LIGHT LEAVES THIS MACHINE' : `the safe look is out on ${up.join(', ')}`;
  return [out, ...why].join('; ');
}
