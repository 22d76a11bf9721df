const passing = new WeakSet<readonly string[]>();

/** Problems that are no fault of a show: a machine that has no process to give just now, or a daemon that ends. */
export function asPassing(problems: readonly string[]): readonly string[] {
  passing.add(problems);
  return problems;
}

export function isPassing(problems: readonly string[]): boolean {
  return passing.has(problems);
}
