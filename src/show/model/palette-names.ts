import type { FixturePlan, Show } from './model.js';

/** A word of the palettes that matches the values of a fixture. */
export interface PaletteWord {
  readonly kind: 'colour' | 'beam' | 'target';
  readonly label: string;
  /** The attributes that it sets. */
  readonly attributes: readonly string[];
}

/** Values closer than this are the same. */
const SAME = 1e-9;

/**
 * The palette entries that match the values of a fixture; the first of each kind, because several may have the same values.
 * @param valueAt of each channel of its profile, physical; undefined: nothing is said about it
 */
export function wordsOfValues(
  { fixtures, colours, beams, targets }: Pick<Show, 'fixtures' | 'colours' | 'beams' | 'targets'>,
  fixture: number,
  valueAt: (channel: number) => number | undefined,
): PaletteWord[] {
  const { profile, panChannel, tiltChannel } = fixtures[fixture] as FixturePlan;
  const is = (attribute: string, value: number | string) => {
    const at = profile.channels.findIndex(channel => channel.attribute === attribute);
    const physical = typeof value === 'number' ? value : profile.channels[at]?.values.get(value);
    return physical !== undefined && isClose(valueAt(at), physical);
  };
  const firstOf = (
    kind: 'colour' | 'beam',
    all: readonly {
      readonly label: string;
      readonly on: readonly {
        readonly fixture: number;
        readonly values: Readonly<Record<string, number | string>>;
      }[];
    }[],
  ): PaletteWord[] => {
    for (const { label, on } of all) {
      const values = Object.entries(on.find(one => one.fixture === fixture)?.values ?? {});
      if (values.length === 0 || !values.every(([attribute, value]) => is(attribute, value)))
        continue;
      return [{ kind, label, attributes: values.map(([attribute]) => attribute) }];
    }
    return [];
  };
  const target = targets.find(({ on }) => {
    const aimed = on.find(one => one.fixture === fixture);
    if (aimed === undefined) return false;
    const { panDeg, tiltDeg } = aimed;
    return isClose(valueAt(panChannel), panDeg) && isClose(valueAt(tiltChannel), tiltDeg);
  });
  return [
    ...firstOf('colour', colours),
    ...firstOf('beam', beams),
    ...(target === undefined
      ? []
      : [{ kind: 'target' as const, label: target.label, attributes: ['Pan', 'Tilt'] }]),
  ];
}

function isClose(value: number | undefined, wanted: number): boolean {
  return value !== undefined && Math.abs(value - wanted) <= SAME;
}
