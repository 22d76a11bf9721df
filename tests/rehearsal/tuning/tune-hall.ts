import { readFileSync } from 'node:fs';
import { type Change, proposeChanges } from '../../../src/editing/propose.js';
import type { Datagram } from '../../../src/engine/values/inputs.js';
import type { Passage } from '../../../src/rehearsal/assessing/assess.js';
import { parseRecording } from '../../../src/rehearsal/assessing/recording.js';
import { reportDatagram } from '../../../src/rehearsal/report-datagram.js';
import { datagramsOf } from '../../../src/rehearsal/reports.js';
import { parseScene } from '../../../src/rehearsal/scenes/scene-file.js';
import { type TuneInputs, type Tuning, tune } from '../../../src/rehearsal/tuning/tune.js';
import type { Feed } from '../../../src/rehearsal/tuning/tune-feed.js';
import type { Show } from '../../../src/show/model/model.js';
import { vec3 } from '../../../src/stage/vector.js';
import { showOf } from '../../show/show-of.js';

/** A hall of a single lamp, wide enough for the measured recordings. */
export function hallText({
  trackers = '[1]',
  tracking = '{}',
  input = '',
  args = '[x, y, z]',
} = {}): string {
  return `lampwright: 1
name: A hall
stage: { x: [-200, 200], y: [-200, 200], z: [-10, 20] }
inputs:
  tracking:
    port: 9010
    ${input}
    routes: [{ address: "/tracker/{tracker}/position", arguments: ${args} }]
tracking: ${tracking}
performers:
  ines: { trackers: ${trackers} }
zones:
  stove: { circle: { centre: [2, 3], radius: 0.8 } }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1 }
mappings:
  - { zone: stove, fixtures: [glow], set: { Dimmer: 100 } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
}

/** Ticks of 40 Hz over datagrams in the order of their arrival. */
export function feedOf(datagrams: readonly Datagram[], unixOffsetS: number): Feed {
  const firstS = datagrams[0]?.arrivalS ?? 0;
  const lastS = datagrams.at(-1)?.arrivalS ?? 0;
  return taker => {
    taker.began();
    let next = 0;
    for (let tick = 0; firstS + tick / 40 <= lastS + 0.2; tick++) {
      const nowS = firstS + tick / 40;
      const from = next;
      while ((datagrams[next]?.arrivalS ?? Number.POSITIVE_INFINITY) <= nowS) next++;
      const heard = datagrams.slice(from, next);
      taker.intake({ type: 'tick', nowS, unixOffsetS, datagrams: heard, operator: [] });
    }
  };
}

export const UNIX_OFFSET_S = 1_790_000_000;

/** Ines walks about a stage for minutes, at speeds from a stroll to a run, and stands now and then. */
export function walkAbout(
  text: string,
  { sensor = '{ rate: 30 }', lengthS = 120, lateS }: WalkOptions = {},
): Feed {
  const show = showOf(text);
  const places = [
    [1, 1],
    [6, 1.5],
    [6.5, 5],
    [2, 6],
    [4, 3],
    [8, 2],
    [3, 1.5],
    [1.5, 5.5],
  ] as const;
  const marks: string[] = [];
  for (let [atS, n] = [0, 0]; atS <= lengthS; n++) {
    const [x, y] = places[n % places.length] as readonly [number, number];
    marks.push(`      - { at: ${atS}, place: [${x}, ${y}] }`);
    // Stands there for two seconds at every third mark.
    if (n % 3 === 2) {
      atS += 2;
      if (atS <= lengthS) marks.push(`      - { at: ${atS}, place: [${x}, ${y}] }`);
    }
    atS += [3, 6, 4, 9, 2][n % 5] as number;
  }
  const scene = parseScene(
    `lampwright: 1\nscene: walking about\nlength: ${lengthS}\nsensor: ${sensor}\nperformers:\n  ines:\n    height: 1.5\n    path:\n${marks.join('\n')}\n`,
    'walk.scene.yaml',
    show,
    () => ({ ok: false, why: 'there is none' }),
  );
  if (!scene.ok) throw new Error(scene.problems[0]?.message);
  const datagrams = datagramsOf(scene.scene, show, UNIX_OFFSET_S);
  const heard = lateS === undefined ? datagrams : datagrams.map(one => delayed(one, lateS));
  return feedOf(
    [...heard].sort((a, b) => a.arrivalS - b.arrivalS),
    UNIX_OFFSET_S,
  );
}

interface WalkOptions {
  readonly sensor?: string;
  readonly lengthS?: number;
  /** By tracker, how much later than the others its datagrams arrive, seconds. */
  readonly lateS?: Readonly<Record<string, number>>;
}

function delayed(datagram: Datagram, lateS: Readonly<Record<string, number>>): Datagram {
  const tracker = /^\/tracker\/(\d+)\//.exec(datagram.bytes.toString('latin1'))?.[1] ?? '';
  return { ...datagram, arrivalS: datagram.arrivalS + (lateS[tracker] ?? 0) };
}

export function tuned(
  text: string,
  feed: Feed,
  {
    clocksAgree = false,
    isTable = false,
    changed = changes => applied(text, changes),
  }: Partial<Pick<TuneInputs, 'clocksAgree' | 'isTable' | 'changed'>> = {},
): Tuning {
  return tune({
    show: showOf(text),
    feed,
    changed,
    clocksAgree,
    isTable,
    progress: () => {},
  });
}

export function applied(text: string, changes: readonly Change[]): Show | string {
  const proposal = proposeChanges(text, 'hall.show.yaml', changes);
  return proposal.ok ? showOf(proposal.text) : proposal.why;
}

/** A measured recording of tests/fixtures/data/tracking (sources and licences in its README). */
export function measured(name: string): Passage {
  const file = new URL(`../../fixtures/data/tracking/${name}.csv`, import.meta.url);
  const parsed = parseRecording(readFileSync(file, 'utf8'));
  if (!parsed.ok || parsed.value.kind !== 'measured') throw new Error(`${name} is not measured`);
  return parsed.value.passage;
}

/** The part of a recording between two shares of its length. */
export function stretch({ truth, sightings }: Passage, from: number, to: number): Passage {
  const { timesS } = truth;
  const [firstS, lastS] = [timesS[0] ?? 0, timesS.at(-1) ?? 0];
  const fromS = firstS + from * (lastS - firstS);
  const toS = firstS + to * (lastS - firstS);
  const within = (timeS: number) => timeS >= fromS && timeS < toS;
  const pick = (values: Float64Array) => values.filter((_, i) => within(timesS[i] ?? 0));
  return {
    truth: { timesS: pick(timesS), xs: pick(truth.xs), ys: pick(truth.ys), zs: pick(truth.zs) },
    sightings: sightings.filter(({ timeS }) => within(timeS)),
  };
}

export function feedOfReports(text: string, { sightings }: Passage): Feed {
  const [input] = showOf(text).inputs;
  if (input === undefined) throw new Error('a hall without an input');
  return feedOf(
    sightings.map(({ timeS, x, y, z }) => {
      const bytes = reportDatagram(input, '1', vec3(x, y, z), timeS);
      if (bytes === undefined) throw new Error('an input without a route');
      return { input: 0, bytes, arrivalS: timeS };
    }),
    0,
  );
}
