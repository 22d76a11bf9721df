import type { Scene } from './scene.js';

/**
 * A minute of The Salt Lantern for the demo: Ines lights the lantern; Tobias tends the stove and goes down
 * to the harbour; the Gull circles, and her tracker is lost for a while behind the window.
 */
export const SALT_LANTERN: Scene = {
  name: 'the lighting of the lantern',
  lengthS: 60,
  parts: [
    {
      performer: 'ines',
      tracker: '1',
      heightM: 1.4,
      marks: [
        [0, 8.4, 7],
        [6, 8.4, 7],
        [12, 5, 4],
        [20, 5.2, 4.1],
        [25, 2.2, 5.6],
        [31, 2.2, 5.6],
        [38, 6.4, 2.4],
        [45, 5, 4],
        [51, 5, 4],
        [60, 8.4, 7],
      ],
      silences: [],
    },
    {
      performer: 'tobias',
      tracker: '2',
      heightM: 1.5,
      marks: [
        [0, 2, 6],
        [10, 2, 6.1],
        [17, 1.2, 1.2],
        [28, 1.4, 1.3],
        [36, 7, 5],
        [44, 3.4, 3],
        [52, 2, 6],
        [60, 2, 6],
      ],
      silences: [],
    },
    {
      performer: 'gull',
      tracker: '3',
      heightM: 1.3,
      marks: [
        [0, 5, 1],
        [5, 8, 3],
        [10, 8.6, 6.8],
        [18, 8.3, 7],
        [24, 4.6, 4.6],
        [30, 2, 2],
        [36, 5, 1],
        [42, 8.4, 2.6],
        [48, 5.4, 4.4],
        [54, 3, 2.4],
        [60, 5, 1],
      ],
      silences: [[12, 19]],
    },
  ],
};
