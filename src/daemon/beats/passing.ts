const passing = new WeakSet<readonly string[]>();

/** Problems that are not the show's fault: a machine that can't start a process at the moment, or a daemon that ends. */
export function asPassing(problems: readonly string[]): readonly string[] {
  passing.add(problems);
  return problems;
}

export function isPassing(problems: readonly string[]): boolean {
  return passing.has(problems);
}
