import { enumerated } from '../stage/enumerated.js';

const MOST_NAMED = 6;

/**
 * 'Their light on output "upstage" is sent by another machine'
 * @param whose undefined: the outputs as a whole
 */
export function sentElsewhereInWords(outputs: readonly string[], whose?: string): string {
  const isOne = outputs.length === 1;
  const names = enumerated(
    outputs.map(name => `"${name}"`),
    MOST_NAMED,
  );
  const by = `sent by ${isOne ? 'another machine' : 'other machines'}`;
  if (whose !== undefined) return `${whose} on output${isOne ? '' : 's'} ${names} is ${by}`;
  return `Output${isOne ? '' : 's'} ${names} ${isOne ? 'is' : 'are'} ${by}`;
}
