import type { Show } from '../../show/model/model.js';
import type { TrackerFit } from '../../tracking/options.js';
import type { HeardFeed } from './tune-feed.js';
import { type Outcome, type Step, trackingChange } from './tune-outcome.js';
import type { Measured, TwinFacts } from './tune-trackers.js';

/** A difference in latency or place below this is not worth a line in the show. */
const LEAST_LATENCY_S = 0.01;
const LEAST_OFFSET_M = 0.05;
/** An offset is proposed only if each part is known to this or better, half its interval, metres. */
const SURE_OFFSET_M = 0.05;
const LEAST_LAG_S = 0.03;
/** The least transits in different parts of a recording may differ by this much, seconds. */
const STEADY_TRANSIT_S = 0.03;

/** How old reports are when they arrive: their stamps tell, if both clocks agree. */
export function latencyOf(
  show: Show,
  { transits }: HeardFeed,
  { clocksAgree, isTable }: { readonly clocksAgree: boolean; readonly isTable: boolean },
): { result: Step | Outcome; laterS: number } {
  const what = 'tracking.sensorLatency';
  const nowS = show.tracking.sensorLatencyS;
  const unknown = (why: string) => ({
    result: { kind: 'unknown', what, why } as const,
    laterS: 0,
  });
  if (isTable || transits.length === 0) {
    return unknown(
      "the reports have no stamps, so their age on arrival is unknown. Let the tracking system stamp them, or take its maker's figure",
    );
  }
  const leastS = Math.min(...transits.map(transit => transit.leastS));
  const mostS = Math.max(...transits.map(transit => transit.mostS));
  const range = `${leastS.toFixed(3)} to ${mostS.toFixed(3)} s`;
  if (leastS < 0 || mostS > 2) {
    return unknown(
      `the stamps come from a clock that doesn't agree with this machine's (${range})`,
    );
  }
  if (mostS - leastS > STEADY_TRANSIT_S) {
    return unknown(
      `from stamp to arrival the fastest reports took ${range}: one of the clocks drifts or steps, so the latency can't be measured`,
    );
  }
  const latencyS = Math.round(leastS * 1e3) / 1e3;
  const took = `from stamp to arrival the fastest reports took ${leastS.toFixed(3)} s`;
  if (!clocksAgree) {
    return unknown(
      `${took}. That is their age if both clocks follow one time server: then say --clocks-agree`,
    );
  }
  if (Math.abs(latencyS - nowS) < LEAST_LATENCY_S) {
    return { result: { kind: 'kept', what, why: `${took}` }, laterS: 0 };
  }
  return {
    laterS: latencyS - nowS,
    result: {
      what,
      now: `${nowS}`,
      proposed: `${latencyS}`,
      why: took,
      change: trackingChange('sensorLatency', latencyS),
    },
  };
}

export function offsetsOf(
  show: Show,
  performer: string,
  twins: readonly TwinFacts[],
): { tracker: string; fit: TrackerFit | undefined; result: Step | Outcome }[] {
  const plan = show.performers.find(({ name }) => name === performer);
  return twins
    .filter(twin => twin.performer === performer)
    .flatMap(twin => {
      const planned = (id: string) => plan?.trackers.find(tracker => tracker.id === id);
      const [one, two] = [planned(twin.first), planned(twin.second)];
      const place = plan?.trackers.findIndex(({ id }) => id === twin.second) ?? -1;
      const what = `performers.${performer}: offset of tracker ${twin.second}`;
      const results: { tracker: string; fit: TrackerFit | undefined; result: Step | Outcome }[] =
        [];
      const tell = (result: Step | Outcome, fit?: TrackerFit) =>
        results.push({ tracker: twin.second, fit, result });
      const lag = lagOf(performer, twin);
      if (lag !== undefined) tell(lag);
      // A tracker that was given to them while the recording ran: the show doesn't say how it is worn.
      if (one === undefined || two === undefined) return results;
      const parts = [twin.forwardM, twin.leftM, twin.upM];
      const widest = Math.max(...parts.map(halfOf));
      if (!(widest <= SURE_OFFSET_M)) {
        const why = Number.isNaN(widest)
          ? `too little walking with ${twin.first} and ${twin.second} together, or all of it at one speed. At one speed, a tracker worn behind looks like one that reports late`
          : `it is known only to within ${widest.toFixed(2)} m; ${SURE_OFFSET_M} m are needed. Walk more, and at several speeds`;
        tell({ kind: 'unknown', what, why });
        return results;
      }
      const wanted = [one.fit.forwardM, one.fit.leftM, one.fit.upM].map(
        (value, i) => Math.round(100 * (value + (parts[i] as Measured).value)) / 100 + 0,
      ) as [number, number, number];
      const [forward, left, up] = wanted;
      const declared = [two.fit.forwardM, two.fit.leftM, two.fit.upM];
      const from = `from ${twin.first} to ${twin.second}, in the frame of the body: ${parts.map(wordsOf).join(', ')}`;
      const isOff = wanted.some(
        (value, i) =>
          Math.abs(value - (declared[i] as number)) >
          Math.max(LEAST_OFFSET_M, halfOf(parts[i] as Measured)),
      );
      if (!isOff) {
        tell({ kind: 'kept', what, why: from });
        return results;
      }
      const { noiseShare } = two.fit;
      const offset = { forward, left, up };
      const noise = noiseShare * show.tracking.track.horizontal.whiteM;
      tell(
        {
          what,
          now: offsetText(declared),
          proposed: offsetText(wanted),
          why: from,
          change: {
            path: ['performers', performer, 'trackers', String(place)],
            value: {
              id: idValue(two.id),
              offset,
              ...(noiseShare === 1 ? {} : { noise: Math.round(1e4 * noise) / 1e4 }),
            },
          },
        },
        { forwardM: forward, leftM: left, upM: up, noiseShare },
      );
      return results;
    });
}

/** As the show would have it: a number where it is one. */
function idValue(id: string): string | number {
  return /^(0|[1-9]\d{0,8})$/.test(id) ? Number(id) : JSON.stringify(id);
}

function halfOf({ low, high }: Measured): number {
  return (high - low) / 2;
}

const PARTS = ['forward', 'left', 'up'];

function wordsOf({ value, low, high }: Measured, i: number): string {
  return `${PARTS[i]} ${metres(value)} m (${metres(low)} .. ${metres(high)})`;
}

function metres(value: number): string {
  // Without the sign of a zero.
  return (Math.round(100 * value) / 100 + 0).toFixed(2);
}

function offsetText([forward, left, up]: readonly (number | undefined)[]): string {
  return `forward ${forward}, left ${left}, up ${up}`;
}

/** The show has one latency for all trackers: a difference can only be reported. */
function lagOf(performer: string, { first, second, lagS }: TwinFacts): Outcome | undefined {
  const what = `performers.${performer}: lag of tracker ${second} against ${first}`;
  if (Number.isNaN(lagS.low)) return undefined;
  const range = `${lagS.value.toFixed(3)} s (${lagS.low.toFixed(3)} .. ${lagS.high.toFixed(3)})`;
  if (halfOf(lagS) > 2 * LEAST_LAG_S) {
    return {
      kind: 'unknown',
      what,
      why: `${range}: not certain, because they walk at too few speeds`,
    };
  }
  const isOff = Math.abs(lagS.value) > LEAST_LAG_S && (lagS.low > 0 || lagS.high < 0);
  if (!isOff) return { kind: 'kept', what, why: `${range}: next to none` };
  const late = lagS.value > 0 ? second : first;
  return {
    kind: 'unknown',
    what,
    why: `${range}: ${late} comes later. The show has one sensorLatency for all; let the tracking system stamp its positions, so that each is placed at its own time`,
  };
}

export function unknownAnyway(show: Show): Outcome[] {
  const heads = show.fixtures.filter(({ head }) => head !== undefined).length;
  return [
    {
      kind: 'unknown',
      what: 'tracking.outputLatency',
      why: "a recording doesn't say when the light reached the stage",
    },
    ...(heads === 0
      ? []
      : [
          {
            kind: 'unknown' as const,
            what: `lag of ${heads} heads`,
            why: "a recording doesn't say when a head moved: film the beam and the slots, as in the guide on writing a show",
          },
        ]),
  ];
}
