// The show of the campaign: The Salt Lantern's rig on the campaign's network, with short times.
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { timeToSafeS } from '../dist/safety/fallback.js';
import { fallbackPlan } from '../dist/show/model/safe-look.js';
import { parseShow } from '../dist/show/parse.js';
import { HOSTS, PORT } from './hosts.mjs';

/** Seconds. */
export const TIMES = {
  after: 0.5,
  engineAfter: 0.25,
  fade: 1,
  move: 0.5,
  rearm: 0.5,
  return: 1,
  frozen: 1,
};

/**
 * The show file.
 * @param more universes beside the two of the rig, a lamp by the stove in each: of more than 16 a frame leaves in sections
 */
export function showText(more = 0) {
  const source = readFileSync('config/salt-lantern.show.yaml', 'utf8');
  const { after, engineAfter, fade, move, rearm } = TIMES;
  const condition = `{ after: ${after}, fade: ${fade} }`;
  const watchdog = `watchdog:
  trackerSilent: ${condition}
  feedSilent: ${condition}
  confidenceLow: ${condition}
  frozen: ${condition}
  jumped: { fade: ${fade} }
  engineSilent: { after: ${engineAfter}, fade: ${fade} }
  rearm: ${rearm}
  return: ${TIMES.return}
  move: ${move}
operator: { listen: 127.0.0.1, port: 9011, allow: [127.0.0.1] }
tracking: { frozen: ${TIMES.frozen} }
`;
  const numbers = Array.from({ length: more }, (_, i) => i + 3);
  // By its address, that a receiver of the measurement may follow: multicast would be as many groups.
  const house =
    more === 0
      ? ''
      : `  house: { protocol: sacn, interface: ${PORT}, to: [${Object.values(HOSTS)[0]}], universes: ["3-${more + 2}"] }\n`;
  const lamps = numbers.map(
    n =>
      `  house-${n}: { profile: dimmer, universe: ${n}, address: 1, base: { Dimmer: 8 }, safe: { Dimmer: 20 } }\n`,
  );
  const lit = numbers.map(n => `house-${n}`).join(', ');
  const mapping =
    more === 0
      ? ''
      : `  - { zone: stove, fixtures: [${lit}], set: { Dimmer: 85 }, curve: smooth }\n`;
  const outputs = `outputs:
  practicals: { protocol: sacn, interface: ${PORT}, to: multicast, universes: [1] }
${house}  heads: { protocol: artnet, interface: ${PORT}, to: [${Object.values(HOSTS).join(', ')}], universes: [2] }
`;
  // Fades of the cues as short as those of the loss, so that what is seen is the loss.
  const body = source
    .slice(0, source.indexOf('\nwatchdog:'))
    .replace('listen: 127.0.0.1', 'listen: 0.0.0.0')
    .replace('\nperformers:', '\nspares: [7]\n\nperformers:')
    .replace('\nmappings:\n', () => `\n${lamps.join('')}\nmappings:\n${mapping}`)
    .replace(/fade: \{ in: [\d.]+, out: [\d.]+ \}/g, 'fade: { in: 0.3, out: 0.3 }');
  return `${body}\n${watchdog}\n${outputs}`;
}

/** Live to the safe look by the show's fades, its moves and its heads' own limits, seconds. */
export function wayToSafeS() {
  const parsed = parseShow(showText(), 'campaign.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems.map(problem => problem.message).join('\n'));
  return timeToSafeS(fallbackPlan(parsed.show));
}

/** @param more see `showText` */
export function writeShow(more) {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-campaign-'));
  const text = showText(more);
  const file = join(folder, 'campaign.show.yaml');
  writeFileSync(file, text);
  return { folder, file, text };
}

/**
 * @returns of a cue by its name (undefined: the first) the levels of the safe look, by universe on the wire
 */
export function safeLooksOf({ text, file }) {
  const parsed = parseShow(text, file);
  if (!parsed.ok) throw new Error(parsed.problems.map(problem => problem.message).join('\n'));
  const { cues, universes } = parsed.show;
  return name => {
    const cue = cues.findIndex(one => one.name === name);
    const { safeLook } = fallbackPlan(parsed.show, Math.max(0, cue));
    const lookOf = universe => {
      const from = 512 * universes.indexOf(universe);
      return safeLook.subarray(from, from + 512);
    };
    return { 1: lookOf(1), 2: lookOf(2) };
  };
}

/** What is patched: protocol, universe on the wire, slots from 0, class, and whose light it is. */
export const CHANNELS = [
  ...[0, 1, 2].map(slot =>
    channel('sacn', 1, [slot], 'intensity', ['ines', 'gull', undefined][slot]),
  ),
  channel('sacn', 1, [10], 'intensity'),
  ...[11, 12, 13].map(slot => channel('sacn', 1, [slot], 'other')),
  ...[30, 31].map(slot => channel('sacn', 1, [slot], 'other')),
  ...[
    [0, 'ines'],
    [20, undefined],
    [40, 'gull'],
  ].flatMap(([at, whose]) => [
    channel('artnet', 2, [at, at + 1], 'movement', whose),
    channel('artnet', 2, [at + 2, at + 3], 'movement', whose),
    channel('artnet', 2, [at + 4, at + 5], 'intensity', whose),
    ...[6, 7, 8, 9].map(slot => channel('artnet', 2, [at + slot], 'other', whose)),
  ]),
];

function channel(protocol, universe, slots, kind, whose) {
  return { protocol, universe, slots, kind, whose };
}

/** Where they stand, and what is lit there: The Salt Lantern's stove at 85 and window at 70 per cent. */
export const PLACES = { ines: [1, 2, 6], gull: [3, 8.5, 7] };
export const LIVE = {
  ines: levels => levels('sacn', 1)[0] === 217 && levels('artnet', 2)[4] === 191,
  gull: levels => [178, 179].includes(levels('sacn', 1)[1]) && levels('artnet', 2)[44] === 140,
};
