import type { Channel } from '../fixtures/profile.js';
import type { ColourPlan, Show } from './model.js';

/** The colour of the palette that the values of a fixture are, and the attributes that make it; undefined for none. */
export function colourOfValues(
  { colours, fixtures }: Pick<Show, 'colours' | 'fixtures'>,
  fixture: number,
  values: readonly number[],
): { readonly colour: ColourPlan; readonly attributes: readonly string[] } | undefined {
  const channels = fixtures[fixture]?.profile.channels ?? [];
  for (const colour of colours) {
    const use = colour.on.find(one => one.fixture === fixture);
    if (use === undefined) continue;
    const isSo = channels.every((channel, c) => {
      const value = use.values[channel.attribute];
      return value === undefined || physicalOf(channel, value) === values[c];
    });
    if (isSo) return { colour, attributes: Object.keys(use.values) };
  }
  return undefined;
}

function physicalOf({ values }: Channel, value: number | string): number | undefined {
  return typeof value === 'number' ? value : values.get(value);
}
