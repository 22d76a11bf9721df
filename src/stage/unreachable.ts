/** Closes a switch over a union: a case that was forgotten is an error of the compiler. */
export function unreachable(value: never): never {
  throw new Error(`a case was forgotten: ${JSON.stringify(value)}`);
}
