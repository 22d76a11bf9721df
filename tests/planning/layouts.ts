import type { PlanOptions } from '../../src/planning/options.js';

export function at(name: string, x: number, y: number, z: number) {
  return { name, position: { x, y, z } };
}

/** Eight anchors round a stage of 10 x 8 m, high up, on no regular figure. */
export const GOOD: PlanOptions = {
  bounds: { min: { x: 0, y: 0, z: -0.5 }, max: { x: 10, y: 8, z: 3 } },
  anchors: [
    at('a', -1.1, -1, 3.9),
    at('b', 4.4, -1.3, 3.2),
    at('c', 10.8, -1.1, 4.1),
    at('d', 11.2, 3.3, 3),
    at('e', 11, 8.9, 3.8),
    at('f', 6.3, 9.2, 4.2),
    at('g', -0.8, 9, 3.3),
    at('h', -1.3, 4.6, 4),
  ],
  obstacles: [],
  lights: [],
  ranging: { by: 'range', errorM: 0.1 },
  wearers: [{ heightM: 1.7, wornAtM: 1.6 }],
  stepM: 0.5,
};
