import type { LossCause } from './causes.js';

/** All light was elsewhere than where the engine had it, from one time to another. */
export interface HeldLight {
  readonly fromS: number;
  /** When it began to come up again; Infinity: not within the recording. */
  readonly untilS: number;
  readonly cause: LossCause;
  /** The same in words. */
  readonly why: string;
}

/** An interface for lighting that was not there, so that outputs sent nothing. */
export interface InterfaceOutage {
  readonly interface: string;
  readonly fromS: number;
  /** Infinity: it did not come back within the recording. */
  readonly untilS: number;
}

/** A universe of the desk of which nothing came. */
export interface DeskSilence {
  /** Its name in the show's `desk`. */
  readonly input: string;
  readonly fromS: number;
  /** Infinity: it did not come back within the recording. */
  readonly untilS: number;
}

/** What kept all light just then; undefined: it was the engine's. */
export function heldAt(held: readonly HeldLight[], atS: number): HeldLight | undefined {
  return held.find(({ fromS, untilS }) => atS >= fromS && atS < untilS);
}

/** The times in which not one output could send. */
export function blackouts(
  outages: readonly InterfaceOutage[],
  outputs: readonly { readonly interface: string }[],
): HeldLight[] {
  const needed = [...new Set(outputs.map(one => one.interface))];
  if (needed.length === 0) return [];
  const isDark = (atS: number) =>
    needed.every(name =>
      outages.some(one => one.interface === name && atS >= one.fromS && atS < one.untilS),
    );
  const ends = new Set(
    outages
      .filter(one => needed.includes(one.interface))
      .flatMap(({ fromS, untilS }) => [fromS, untilS]),
  );
  const times = [...ends].sort((a, b) => a - b);
  return times.flatMap((fromS, i): HeldLight[] => {
    const untilS = times[i + 1];
    if (untilS === undefined || !isDark(fromS)) return [];
    const why = `no light left this machine: ${needed.length === 1 ? `interface ${needed[0]} was lost` : 'all lighting interfaces were lost'}`;
    return [{ fromS, untilS, cause: 'output-down', why }];
  });
}
