export type RandomInts = (below: number) => number;
export function randomInts(seed: number): RandomInts;
export function mutate(random: RandomInts, corpus: readonly Buffer[], out: Buffer): number;
