import type { Show } from './model.js';

/** A signal that differs from fixture to fixture exists once for each, with the fixture after a slash. */
export function signalInFile(name: string): string {
  return name.split('/')[0] ?? name;
}

/** Signals under their names in the file, without those of single fixtures and those written out where they are used. */
export function namedSignals({ signals }: Pick<Show, 'signals'>): string[] {
  const names = signals.signals.flatMap(({ name }) => (isOwn(name) ? [signalInFile(name)] : []));
  return [...new Set(names)];
}

/** Conditions that have a name in the file, without those written out inside others or where they are used. */
export function namedConditions({ signals }: Pick<Show, 'signals'>): string[] {
  return signals.conditions.flatMap(({ name }) => (/[[.]/.test(name) ? [] : [name]));
}

function isOwn(name: string): boolean {
  return !name.includes(' ');
}
