import { enumerated } from '../../stage/enumerated.js';
import type { FixturePlan, Show } from '../model/model.js';
import type { Finding, Path } from '../problems/problem.js';

/** Figures that are off by a unit: milliseconds where seconds stand, a share where per cent stand. */

/** The longest plausible wait of a watchdog, and the longest plausible fade of one (common practice). */
const LONGEST_AFTER_S = 30;
const LONGEST_FADE_S = 60;
/** A mapping's fade may be a dawn. */
const LONGEST_MAPPING_FADE_S = 120;
/** And a cue's fade may take a whole scene. */
const LONGEST_CUE_FADE_S = 600;

export function unitWarnings(show: Show): Finding[] {
  return [
    ...watchdogWarnings(show),
    ...fadeWarnings(show),
    ...cueShareWarnings(show),
    ...shareWarnings(show),
    ...noiseWarnings(show),
  ];
}

/** Each time of the watchdog with its key in the file: what it waits, and what it takes. */
function watchdogWarnings({ watchdog }: Show): Finding[] {
  return Object.entries(watchdog).flatMap(([key, value]: [string, number | object]) => {
    if (typeof value === 'number') {
      const name = key.replace(/S$/, '');
      return tooLong(['watchdog', name], value, LONGEST_FADE_S);
    }
    const { afterS, fadeS } = value as { afterS?: number; fadeS?: number };
    return [
      ...tooLong(['watchdog', key, 'after'], afterS, LONGEST_AFTER_S),
      ...tooLong(['watchdog', key, 'fade'], fadeS, LONGEST_FADE_S),
    ];
  });
}

function fadeWarnings({ cues, fixtures, mappings }: Show): Finding[] {
  const ofMappings = mappings.flatMap(({ fade, place }, index) => {
    const path = ['mappings', place ?? index, 'fade'];
    return [
      ...tooLong([...path, 'in'], fade.inS, LONGEST_MAPPING_FADE_S),
      ...tooLong([...path, 'out'], fade.outS, LONGEST_MAPPING_FADE_S),
    ];
  });
  return [
    ...ofMappings,
    ...cues.flatMap(({ name, fadeS }) =>
      tooLong(['cues', name, 'fade'], fadeS, LONGEST_CUE_FADE_S),
    ),
    ...fixtures.flatMap(({ inFile, fadeS }) =>
      tooLong(['fixtures', inFile, 'fade'], fadeS, LONGEST_FADE_S),
    ),
  ];
}

/** How far mappings act in a cue: 0.6 where 60 per cent were meant. */
function cueShareWarnings({ cues, mappings }: Show): Finding[] {
  return cues.flatMap(({ name: cue, levels }) => {
    const seen = new Set<string>();
    return mappings.flatMap(({ name }, index): Finding[] => {
      const perCent = Number((100 * (levels[index] ?? 0)).toPrecision(12));
      if (name === undefined || seen.has(name) || perCent <= 0 || perCent > 1) return [];
      seen.add(name);
      const message = `"${name}" acts at ${perCent} % in cue "${cue}". Did you mean ${perCent * 100}?`;
      return [{ code: 'share-for-per-cent', message, path: ['cues', cue, 'mappings'] }];
    });
  });
}

function tooLong(path: Path, seconds: number | undefined, longestS: number): Finding[] {
  if (seconds === undefined || seconds <= longestS) return [];
  const what = path.filter(part => typeof part === 'string' && part !== 'mappings').join('.');
  return [
    {
      code: 'time-long',
      message: `\`${what}\` is ${seconds} s. Did you mean milliseconds? That would be ${Number((seconds / 1000).toPrecision(3))}.`,
      path,
    },
  ];
}

/** Nobody would follow with light beyond this: the worst system on sale is good to a metre (common practice). */
const LARGEST_NOISE_M = 1.5;

function noiseWarnings({ tracking }: Show): Finding[] {
  const { whiteM } = tracking.track.horizontal;
  if (whiteM <= LARGEST_NOISE_M) return [];
  return [
    {
      code: 'noise-large',
      message: `\`tracking.noise\` is ${whiteM} m: no light could follow such positions. Did you mean centimetres? That would be ${Number((whiteM / 100).toPrecision(3))}.`,
      path: ['tracking', 'noise'],
    },
  ];
}

/** Values of base, safe, mappings and cues between 0 and 1 where 100 is full; each place in the file once. */
function shareWarnings({ cues, fixtures, mappings, colours }: Show): Finding[] {
  const found = new Map<string, { path: Path; value: number; fixtures: string[] }>();
  const look = (fixture: FixturePlan, channel: number, value: number | undefined, at: Path) => {
    const { attribute, unit, to } = fixture.profile.channels[channel] ?? {};
    if (value === undefined || unit !== 'per cent' || to !== 100) return;
    if (attribute === undefined || value <= 0 || value > 1) return;
    // A colour may need a very small amount.
    const isMixed = colours.some(({ on }) =>
      on.some(use => fixtures[use.fixture] === fixture && use.values[attribute] === value),
    );
    if (isMixed) return;
    const key = [...at, attribute, value].join('.');
    const one = found.get(key) ?? { path: [...at, attribute], value, fixtures: [] };
    found.set(key, { ...one, fixtures: [...one.fixtures, fixture.name] });
  };
  for (const fixture of fixtures) {
    for (const [channel] of fixture.profile.channels.entries()) {
      const { name, base, safe } = fixture;
      look(fixture, channel, base[channel], ['fixtures', name, 'base']);
      // Safe values that the file does not give are those of the base.
      if (safe[channel] === base[channel]) continue;
      look(fixture, channel, safe[channel], ['fixtures', name, 'safe']);
    }
  }
  mappings.forEach((mapping, index) => {
    const looks = [
      ['set', mapping.values],
      ['from', mapping.kind === 'signal' ? mapping.from : []],
    ] as const;
    for (const [key, values] of looks) {
      for (const { fixture, channel, value } of values) {
        const plan = fixtures[fixture];
        const path = ['mappings', mapping.place ?? index, key];
        if (plan !== undefined) look(plan, channel, value, path);
      }
    }
  });
  for (const cue of cues) {
    for (const key of ['base', 'safe'] as const) {
      fixtures.forEach((fixture, index) => {
        cue[key][index]?.forEach((value, channel) => {
          // Values that the cue does not give are those of the fixture.
          if (value === fixture[key][channel]) return;
          look(fixture, channel, value, ['cues', cue.name, key]);
        });
      });
    }
  }
  return [...found.values()].map(({ path, value, fixtures: of }) => ({
    code: 'share-for-per-cent',
    message: `${path.at(-1)} of ${enumerated(of)} is ${value} %. Did you mean ${Number((100 * value).toPrecision(4))}?`,
    path,
  }));
}
