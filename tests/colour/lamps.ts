import { type Xyz, xyzOf } from '../../src/colour/chromaticity.js';

/** Chromaticities of the usual kinds of LED and what they give beside each other; made for these tests, typical of data sheets (common practice). */
const KINDS = {
  red: [0.69, 0.306, 20],
  amber: [0.56, 0.435, 30],
  lime: [0.409, 0.559, 70],
  green: [0.18, 0.7, 45],
  cyan: [0.09, 0.5, 25],
  blue: [0.145, 0.045, 7],
  indigo: [0.165, 0.014, 2],
  warm: [0.44, 0.405, 80],
  cold: [0.313, 0.327, 90],
} as const;

type Kind = keyof typeof KINDS;

export function lampOf(...kinds: readonly Kind[]): Xyz[] {
  return kinds.map(kind => xyzOf({ x: KINDS[kind][0], y: KINDS[kind][1] }, KINDS[kind][2]));
}

/** Fixtures of three to seven emitters. */
export const LAMPS = {
  three: ['red', 'green', 'blue'],
  four: ['red', 'green', 'blue', 'cold'],
  five: ['red', 'amber', 'green', 'blue', 'warm'],
  six: ['red', 'lime', 'green', 'cyan', 'blue', 'indigo'],
  seven: ['red', 'amber', 'lime', 'green', 'cyan', 'blue', 'indigo'],
} as const satisfies Readonly<Record<string, readonly Kind[]>>;

export type Lamp = keyof typeof LAMPS;

export const LAMP_NAMES = Object.keys(LAMPS) as Lamp[];
