import type { Show } from './model.js';

/** Whether the show names the other one of two machines that run it; a main machine need not know its standby. */
export function namesPair({ operator }: Pick<Show, 'operator'>): boolean {
  return operator !== undefined && operator.standby.length + operator.main.length > 0;
}

/** Addresses of the two machines that run the show, as far as it names them. */
export function partnersOf({ operator }: Pick<Show, 'operator'>): readonly string[] {
  return operator === undefined
    ? []
    : [...operator.standby, ...operator.main].map(one => one.address);
}
