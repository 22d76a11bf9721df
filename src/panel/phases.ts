import type { LiveSnapshot } from '../live/schema.js';
import type { Style } from './line.js';

type State = LiveSnapshot['status']['performers'][number]['state'];

const STYLES: Readonly<Record<State, Style>> = {
  live: 'green',
  returning: 'yellow',
  lost: 'red',
  'not heard': 'yellow',
  stopped: 'yellow',
  'off stage': 'dim',
};

export function styleOf(state: State): Style {
  return STYLES[state];
}
