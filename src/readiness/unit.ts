/** The unit of the service, as it stands on a machine and as this version ships it. */
export interface UnitFacts {
  readonly path: string;
  readonly shippedPath: string;
  /** By name, with those of drop-ins; the last value of each. */
  readonly directives: ReadonlyMap<string, string>;
  readonly shipped: ReadonlyMap<string, string>;
  /** Instances that start with the machine. */
  readonly enabled: readonly string[];
}

/** A list grows with each line; of all others the last line counts. */
const LISTS = ['After', 'Environment', 'ExecReload', 'ExecStart', 'SystemCallFilter', 'Wants'];

/**
 * Directives of a unit file.
 * @param text systemd.syntax(7): comments begin with # or ;, a backslash at the end goes on in the next line
 */
export function directivesOf(text: string): Map<string, string> {
  const found = new Map<string, string>();
  for (const line of text.replace(/\\\n/g, ' ').split('\n')) {
    const [, name, value = ''] = /^\s*([A-Z]\w*)\s*=\s*(.*?)\s*$/.exec(line) ?? [];
    if (name === undefined) continue;
    const before = found.get(name);
    // An empty value takes back what came before (systemd.service(5)).
    const goesOn = LISTS.includes(name) && (before ?? '') !== '' && value !== '';
    found.set(name, goesOn ? `${before} ${value}` : value);
  }
  return found;
}

/** What an installed unit has not, or has otherwise. */
export function unitLacks({ directives, shipped }: UnitFacts): {
  lacks: string[];
  differs: string[];
} {
  const lacks: string[] = [];
  const differs: string[] = [];
  for (const [name, value] of shipped) {
    const own = directives.get(name);
    if (own === undefined) lacks.push(`${name}=${value}`);
    else if (own !== value) differs.push(`${name}=${own} instead of ${value}`);
  }
  return { lacks, differs };
}
