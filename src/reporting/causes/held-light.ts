import type { LossCause } from './causes.js';

/** A time in which no light was as the engine asked: it was at the safe look, or nothing could be sent. */
export interface HeldLight {
  readonly fromS: number;
  /** When the light began to return; Infinity: not within the recording. */
  readonly untilS: number;
  readonly cause: LossCause;
  /** The same in words. */
  readonly why: string;
}

/** Why outputs sent nothing. */
export type OutageCause = 'interface lost' | 'no carrier' | 'sends failed';

/** A time in which outputs sent nothing on a lighting interface. */
export interface InterfaceOutage {
  readonly interface: string;
  /** The one output that sent nothing; missing: all outputs of the interface. */
  readonly output?: string;
  /** What began it. */
  readonly cause: OutageCause;
  readonly fromS: number;
  /** Infinity: it did not come back within the recording. */
  readonly untilS: number;
}

/** A time in which nothing came on a universe of the desk. */
export interface DeskSilence {
  /** Its name in the show's `desk`. */
  readonly input: string;
  readonly fromS: number;
  /** Infinity: it did not come back within the recording. */
  readonly untilS: number;
}

/** A time for which the standby of two machines had the light, as the machine that recorded saw it. */
export interface StandbyTime {
  /** Interface of the lighting network; undefined: all networks. */
  readonly interface: string | undefined;
  readonly fromS: number;
  /** undefined: it did not end within the recording. */
  readonly untilS: number | undefined;
  readonly why: string;
}

/** What held all light at that time; undefined: the engine had it. */
export function heldAt(held: readonly HeldLight[], atS: number): HeldLight | undefined {
  return held.find(({ fromS, untilS }) => atS >= fromS && atS < untilS);
}

/** The times in which no output could send. */
export function blackouts(
  outages: readonly InterfaceOutage[],
  outputs: readonly { readonly name: string; readonly interface: string }[],
): HeldLight[] {
  if (outputs.length === 0) return [];
  const isDark = (atS: number) =>
    outputs.every(output =>
      outages.some(one => stops(one, output) && atS >= one.fromS && atS < one.untilS),
    );
  const ends = new Set(
    outages
      .filter(one => outputs.some(output => stops(one, output)))
      .flatMap(({ fromS, untilS }) => [fromS, untilS]),
  );
  const needed = [...new Set(outputs.map(one => one.interface))];
  const times = [...ends].sort((a, b) => a - b);
  return times.flatMap((fromS, i): HeldLight[] => {
    const untilS = times[i + 1];
    if (untilS === undefined || !isDark(fromS)) return [];
    const why = `no light left this machine: nothing could be sent on ${needed.length === 1 ? `interface ${needed[0]}` : 'any lighting interface'}`;
    return [{ fromS, untilS, cause: 'output-down', why }];
  });
}

/** Whether an output sends nothing because of this outage. */
export function stops(
  outage: Pick<InterfaceOutage, 'interface' | 'output'>,
  output: { readonly name: string; readonly interface: string },
): boolean {
  if (outage.interface !== output.interface) return false;
  return outage.output === undefined || outage.output === output.name;
}

/** A shorter remainder of an outage is merged with the outage beside it, seconds. */
const LEAST_PIECE_S = 2;

/** Sends also fail while the cable is out: that is reported once. @returns what is left of `failing` */
export function besideOutages(
  failing: readonly InterfaceOutage[],
  outages: readonly InterfaceOutage[],
): InterfaceOutage[] {
  return outages
    .reduce<readonly InterfaceOutage[]>(
      (pieces, outage) =>
        pieces.flatMap(piece => {
          const isApart = outage.untilS <= piece.fromS || outage.fromS >= piece.untilS;
          if (outage.interface !== piece.interface || isApart) return [piece];
          return [
            { ...piece, untilS: outage.fromS },
            { ...piece, fromS: outage.untilS },
          ].filter(({ fromS, untilS }) => untilS - fromS >= LEAST_PIECE_S);
        }),
      failing,
    )
    .slice();
}
