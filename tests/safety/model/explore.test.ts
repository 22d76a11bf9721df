import { expect, test } from 'vitest';
import { edges, explore, longestWay, type Model } from './explore.js';

/** Counts down while told to; any other step sets it back to a number. */
const COUNT: Model<number, 'down' | 'back'> = {
  initial: 0,
  inputs: ['down', 'back'],
  next: (state, input) => (input === 'back' ? 5 : Math.max(0, state - 1)),
  key: String,
};

test('finds every state and every step', () => {
  const graph = explore(COUNT);
  expect([...graph.states].sort()).toEqual([0, 1, 2, 3, 4, 5]);
  expect([...edges(graph)]).toHaveLength(12);
  expect(() => explore(COUNT, 3)).toThrow('more than 3 states');
});

test('gives the longest way to the goal, and finds a circle that avoids it', () => {
  const graph = explore(COUNT);
  const isGoal = (state: number) => state === 0;
  expect(
    longestWay(
      graph,
      () => true,
      isGoal,
      ({ input }) => input === 'down',
    ),
  ).toBe(5);
  expect(() =>
    longestWay(
      graph,
      () => true,
      isGoal,
      () => true,
    ),
  ).toThrow('a circle');
});
