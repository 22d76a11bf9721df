import { numberHint } from '../../show/problems/hints.js';

type OptionValue = string | boolean | undefined;

/**
 * A number from `least` to `most`; `fallback` if the option isn't given.
 * @param faults gets a message if the option is wrong; the fallback is returned then
 */
export function numberOption<T extends number | undefined>(
  value: OptionValue,
  name: string,
  fallback: T,
  least: number,
  most: number,
  faults: string[],
): number | T {
  if (value === undefined) return fallback;
  const number = Number(value);
  if (typeof value === 'string' && value !== '' && number >= least && number <= most) return number;
  faults.push(
    `--${name} is a number from ${least} to ${most}, not "${value}".${numberHint(value)}`,
  );
  return fallback;
}

export function textOption(value: OptionValue): string | undefined {
  return typeof value === 'string' ? value : undefined;
}
