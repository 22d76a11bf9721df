/**
 * What of a record has a name that somebody wrote; undefined where nothing has. Every object has a `constructor` and more
 * of the kind, and none of these is what a show means.
 */
export function own<T>(all: Readonly<Record<string, T>>, name: string): T | undefined {
  return Object.hasOwn(all, name) ? all[name] : undefined;
}
