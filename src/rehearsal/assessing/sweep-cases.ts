import { seededNormal, seededRandom } from '../sensors/random.js';
import { DEFAULT_SENSOR, type SensorOptions, simulateSensor } from '../sensors/sensor.js';
import type { Truth } from '../sensors/truth.js';

/** A report as it reaches this machine. */
export interface Delivery {
  readonly tracker: number;
  /** When it was measured by the sender's clock, seconds; undefined: it brings no time. */
  readonly stampS: number | undefined;
  readonly arrivalS: number;
  readonly x: number;
  readonly y: number;
  readonly z: number;
}

export interface SweepCase {
  readonly name: string;
  /** Where they truly are. */
  readonly truth: Truth;
  /** The noise that the show declares, metres; undefined: the default. */
  readonly declaredNoiseM?: number;
  readonly trackers?: number;
  /** In the order of their arrival. */
  deliveries(seed: number): readonly Delivery[];
}

const LENGTH_S = 30;
const TRUTH_HZ = 200;
const HEIGHT_M = 1.5;

type Place = readonly [x: number, y: number];

/**
 * A path, computed when it is first needed: other commands load this module too.
 * @param at x and y at a time in seconds, metres
 * @param z height at a time, metres
 */
function truthOf(at: (t: number) => Place, z: (t: number) => number = () => HEIGHT_M): Truth {
  let made: Truth | undefined;
  const whole = () => {
    made ??= sampled(at, z);
    return made;
  };
  return {
    get timesS() {
      return whole().timesS;
    },
    get xs() {
      return whole().xs;
    },
    get ys() {
      return whole().ys;
    },
    get zs() {
      return whole().zs;
    },
  };
}

function sampled(at: (t: number) => Place, z: (t: number) => number): Truth {
  const timesS = Float64Array.from({ length: LENGTH_S * TRUTH_HZ + 1 }, (_, i) => i / TRUTH_HZ);
  return {
    timesS,
    xs: timesS.map(t => at(t)[0]),
    ys: timesS.map(t => at(t)[1]),
    zs: timesS.map(z),
  };
}

/** Five metres there and back, standing for a second at both ends: an actor who walks and stops. */
const WALK = truthOf(t => [shuttle(t, 1.4, 5, 1), 3]);
/** The same at a run. */
const RUN = truthOf(t => [shuttle(t, 4, 8, 1.5), 3]);
const STAND = truthOf(() => [2, 3]);
const circle = (speedMps: number, radiusM = 2) =>
  truthOf(t => {
    const angle = (speedMps * t) / radiusM;
    return [radiusM * Math.cos(angle), radiusM * Math.sin(angle)];
  });
/** Six metres away at once, every ten seconds: off at one wing, on at the other. */
const TELEPORT = truthOf(t => [t % 20 < 10 ? 0 : 6, 2]);
/** Up through a trap and down again: three metres at once. */
const LIFT = truthOf(
  () => [2, 3],
  t => HEIGHT_M + (t % 12 < 6 ? 0 : 3),
);

/** x in metres at time `t`: there and back, standing at the ends, each start and stop within a quarter of a second. */
function shuttle(t: number, speedMps: number, lengthM: number, standS: number): number {
  const walkS = lengthM / speedMps;
  const phase = t % (2 * (walkS + standS));
  const [out, at] = phase < walkS + standS ? [true, phase] : [false, phase - walkS - standS];
  const along = smooth(at, walkS) * lengthM;
  return out ? along : lengthM - along;
}

/** From 0 to 1 in `lengthS`, at an even speed except for a quarter of a second at both ends. */
function smooth(t: number, lengthS: number): number {
  const ease = 0.25;
  const top = 1 / (lengthS - ease);
  if (t <= 0) return 0;
  if (t >= lengthS) return 1;
  if (t < ease) return (top * t * t) / (2 * ease);
  if (t > lengthS - ease) return 1 - (top * (lengthS - t) ** 2) / (2 * ease);
  return top * (t - ease / 2);
}

/** A plain sensor with coloured noise and nothing else: each case adds its own faults. */
const SENSOR: SensorOptions = {
  ...DEFAULT_SENSOR,
  noiseM: 0.07,
  outlierShare: 0,
  dropoutsPerS: 0,
  shadowM: 0,
  timeJitter: 0,
};
/** From the measurement to this machine over a wired network, seconds. */
const TRAVEL_S = 0.005;

interface FeedOptions {
  readonly rateHz: number;
  readonly stamped?: boolean;
  readonly noiseM?: number;
}

function feed(
  truth: Truth,
  { rateHz, stamped = false, noiseM }: FeedOptions,
  seed: number,
): Delivery[] {
  const sensor = { ...SENSOR, rateHz, noiseM: noiseM ?? SENSOR.noiseM };
  return simulateSensor(truth, sensor, seed).map(({ timeS, x, y, z }) => ({
    tracker: 0,
    stampS: stamped ? timeS : undefined,
    arrivalS: timeS + TRAVEL_S,
    x,
    y,
    z,
  }));
}

type Change = (deliveries: readonly Delivery[], seed: number) => Delivery[];

/** Each report arrives up to `mostS` later, independently; the order may change. */
const jitter =
  (mostS: number): Change =>
  (deliveries, seed) => {
    const random = seededRandom(seed + 11);
    return inOrder(deliveries.map(one => ({ ...one, arrivalS: one.arrivalS + mostS * random() })));
  };

const lose =
  (share: number): Change =>
  (deliveries, seed) => {
    const random = seededRandom(seed + 12);
    return deliveries.filter(() => random() >= share);
  };

/** Every `everyS`, all reports for `lengthS` are off by one distance, in a new direction each time. */
const outliers =
  (lengthS: number, everyS: number, distanceM: number): Change =>
  (deliveries, seed) =>
    deliveries.map(one => {
      const burst = Math.floor((one.arrivalS - 2) / everyS);
      if (burst < 0 || (one.arrivalS - 2) % everyS >= lengthS) return one;
      const angle = 2 * Math.PI * seededRandom(seed * 97 + burst)();
      return {
        ...one,
        x: one.x + distanceM * Math.cos(angle),
        y: one.y + distanceM * Math.sin(angle),
      };
    });

/** Every `everyS` nothing gets through for `lengthS`; then all of it comes at once, 0.1 ms apart or less. */
const stall =
  (lengthS: number, everyS: number): Change =>
  deliveries => {
    let n = 0;
    return deliveries.map(one => {
      const since = (one.arrivalS - 2) % everyS;
      if (one.arrivalS < 2 || since >= lengthS) {
        n = 0;
        return one;
      }
      return { ...one, arrivalS: one.arrivalS - since + lengthS + 1e-5 * n++ };
    });
  };

/** The sender's clock steps by `byS` seconds after a third of the run. */
const clockStep =
  (byS: number): Change =>
  deliveries =>
    deliveries.map(one => ({
      ...one,
      stampS:
        one.stampS === undefined ? undefined : one.stampS + (one.arrivalS > LENGTH_S / 3 ? byS : 0),
    }));

/** z is off by `byM` for `lengthS` every five seconds. */
const wrongHeight =
  (byM: number, lengthS: number): Change =>
  deliveries =>
    deliveries.map(one =>
      (one.arrivalS - 2) % 5 < lengthS && one.arrivalS > 2 ? { ...one, z: one.z + byM } : one,
    );

/** A second tracker on the same performer reports a place three metres away; it reports first. */
const contradict: Change = (deliveries, seed) => {
  const normal = seededNormal(seed + 13);
  const others = deliveries.map(one => ({
    ...one,
    tracker: 1,
    arrivalS: one.arrivalS + 0.012,
  }));
  const wrong = deliveries.map(one => ({
    ...one,
    x: one.x + 3 + 0.03 * normal(),
    y: one.y + 0.03 * normal(),
  }));
  return inOrder([...wrong, ...others.filter(({ arrivalS }) => arrivalS > 1)]);
};

function inOrder(deliveries: readonly Delivery[]): Delivery[] {
  return [...deliveries].sort((a, b) => a.arrivalS - b.arrivalS);
}

function one(
  name: string,
  truth: Truth,
  options: FeedOptions,
  changes: readonly Change[] = [],
  rest: Pick<SweepCase, 'declaredNoiseM' | 'trackers'> = {},
): SweepCase {
  return {
    name,
    truth,
    ...rest,
    deliveries: seed =>
      changes.reduce((so, change) => change(so, seed), feed(truth, options, seed)),
  };
}

const RATES = [5, 10, 20, 40, 60, 120] as const;

/** What a feed can do to the tracking, one or two things at a time. */
export const SWEEP_CASES: readonly SweepCase[] = [
  ...RATES.flatMap(rateHz => [
    one(`stand, ${rateHz} Hz`, STAND, { rateHz }),
    one(`walk and stop, ${rateHz} Hz`, WALK, { rateHz }),
    one(`run and stop, ${rateHz} Hz`, RUN, { rateHz }),
  ]),
  ...[1, 3, 5].flatMap(speed => [
    one(`circle at ${speed} m/s, 10 Hz`, circle(speed), { rateHz: 10 }),
    one(`circle at ${speed} m/s, 40 Hz`, circle(speed), { rateHz: 40 }),
  ]),
  ...([5, 10, 40] as const).flatMap(rateHz => [
    one(`walk, 30 % lost, ${rateHz} Hz`, WALK, { rateHz }, [lose(0.3)]),
    one(`circle at 3 m/s, 30 % lost, ${rateHz} Hz`, circle(3), { rateHz }, [lose(0.3)]),
  ]),
  ...([10, 40] as const).flatMap(rateHz => [
    one(`run, jitter to 50 ms, ${rateHz} Hz`, RUN, { rateHz }, [jitter(0.05)]),
    one(`run, out of order by 150 ms, stamped, ${rateHz} Hz`, RUN, { rateHz, stamped: true }, [
      jitter(0.15),
    ]),
    one(`run, out of order by 150 ms, ${rateHz} Hz`, RUN, { rateHz }, [jitter(0.15)]),
    one(`walk, outliers 3 m for 0.2 s, ${rateHz} Hz`, WALK, { rateHz }, [outliers(0.2, 3, 3)]),
    one(`walk, outliers 3 m for 0.6 s, ${rateHz} Hz`, WALK, { rateHz }, [outliers(0.6, 5, 3)]),
    one(`circle at 3 m/s, outliers 3 m for 0.2 s, ${rateHz} Hz`, circle(3), { rateHz }, [
      outliers(0.2, 3, 3),
    ]),
    one(`walk, socket stalls for 0.5 s, ${rateHz} Hz`, WALK, { rateHz }, [stall(0.5, 4)]),
    one(`walk, socket stalls for 0.5 s, stamped, ${rateHz} Hz`, WALK, { rateHz, stamped: true }, [
      stall(0.5, 4),
    ]),
    one(`another place at once, 6 m, ${rateHz} Hz`, TELEPORT, { rateHz }),
    one(`three metres up at once, ${rateHz} Hz`, LIFT, { rateHz }),
  ]),
  ...[-1, -0.24, -0.1, 0.1, 0.24, 1].map(byS =>
    one(`run, sender's clock steps by ${byS} s, 40 Hz`, RUN, { rateHz: 40, stamped: true }, [
      clockStep(byS),
    ]),
  ),
  one('stand, height 2 m off for 0.3 s, 40 Hz', STAND, { rateHz: 40 }, [wrongHeight(2, 0.3)]),
  one('stand, height 2 m off for 2 s, 40 Hz', STAND, { rateHz: 40 }, [wrongHeight(2, 2)]),
  one('run, noise 0.1 m declared as 0.05 m, 40 Hz', RUN, { rateHz: 40, noiseM: 0.1 }, [], {
    declaredNoiseM: 0.05,
  }),
  one('run, noise 0.3 m, 40 Hz', RUN, { rateHz: 40, noiseM: 0.3 }),
  one('stand, two trackers disagree by 3 m, 20 Hz', STAND, { rateHz: 20 }, [contradict], {
    trackers: 2,
  }),
];
