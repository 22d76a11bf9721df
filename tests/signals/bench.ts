import { createPresence, type Presence, stepPresence } from '../../src/mapping/presence.js';
import { truthIn } from '../../src/signals/conditions.js';
import { createPeople, STANDING } from '../../src/signals/doubt.js';
import type { Truth } from '../../src/signals/kleene.js';
import { createNetwork, type Network, stepNetwork } from '../../src/signals/network.js';
import type {
  ConditionPlan,
  ConditionTest,
  EvaluationStep,
  SignalPlan,
  SignalSource,
} from '../../src/signals/plan.js';
import type { Scene, SignalZone } from '../../src/signals/scene.js';
import { compileArea, signedDistanceM } from '../../src/stage/area.js';

export const DT_S = 1 / 40;
export const COMPANY = 3;
export const ZONES: readonly SignalZone[] = [
  {
    area: { shape: { kind: 'circle', centre: { x: 2, y: 2 }, radiusM: 1.5 } },
    edge: { featherM: 0.5, hysteresisM: 0.1 },
    around: undefined,
  },
  {
    area: {
      shape: {
        kind: 'polygon',
        points: [
          [4, 0],
          [8, 0],
          [8, 4],
          [5, 5],
        ],
      },
    },
    edge: { featherM: 1, hysteresisM: 0 },
    around: undefined,
  },
  {
    area: { shape: { kind: 'circle', centre: { x: 0, y: 0 }, radiusM: 1 } },
    edge: { featherM: 0.5, hysteresisM: 0 },
    around: 0,
  },
];

type SignalOptions = Partial<Omit<SignalPlan, 'source'>>;

/** Signals and conditions in the order in which they are made. */
export class Plans {
  readonly signals: SignalPlan[] = [];
  readonly conditions: ConditionPlan[] = [];
  readonly order: EvaluationStep[] = [];

  signal(source: SignalSource, options: SignalOptions = {}): number {
    const index = this.signals.length;
    this.signals.push({
      name: `s${index}`,
      source,
      unit: 'share',
      range: undefined,
      curve: undefined,
      attackS: 0,
      releaseS: 0,
      least: Number.NEGATIVE_INFINITY,
      greatest: Number.POSITIVE_INFINITY,
      ...options,
    });
    this.order.push({ kind: 'signal', index });
    return index;
  }

  condition(test: ConditionTest, forS = 0, holdS = 0): number {
    const index = this.conditions.length;
    this.conditions.push({ name: `c${index}`, test, forS, holdS });
    this.order.push({ kind: 'condition', index });
    return index;
  }

  above(signal: number, on: number, off = on, forS = 0, holdS = 0): number {
    return this.condition({ kind: 'threshold', signal, direction: 'above', on, off }, forS, holdS);
  }
}

export interface Place {
  readonly x: number;
  readonly y: number;
  readonly vx?: number;
  readonly vy?: number;
}

/** A network, and a stage without noise on which people are put where a test has them. */
export class Bench {
  readonly network: Network;
  readonly scene: Scene;
  readonly #presences: Presence[][];
  readonly #zones: readonly SignalZone[];
  readonly #areas: readonly ReturnType<typeof compileArea>[];

  constructor(plans: Plans, zones = ZONES) {
    this.#zones = zones;
    this.#areas = zones.map(({ area }) => compileArea(area));
    this.network = createNetwork(plans, zones);
    this.#presences = zones.map(() => Array.from({ length: COMPANY }, () => createPresence()));
    const count = plans.signals.length;
    this.scene = {
      people: createPeople(COMPANY),
      presences: this.#presences,
      nearby: {
        who: Int32Array.from({ length: zones.length * COMPANY }, (_, i) => i % COMPANY),
        count: new Int32Array(zones.length).fill(COMPANY),
      },
      numbers: {
        value: new Float64Array(count),
        heardS: new Float64Array(count).fill(Number.NEGATIVE_INFINITY),
      },
      elapsedS: 0,
      nowS: 1000,
      silentFadeS: 2,
    };
  }

  /** @param lost who keeps their presence, as in the engine */
  tick(places: readonly (Place | 'away' | undefined)[], dtS = DT_S): this {
    const { people } = this.scene;
    this.scene.elapsedS += dtS;
    this.scene.nowS += dtS;
    places.forEach((place, p) => {
      const was = people.standing[p];
      people.standing[p] =
        place === undefined ? STANDING.lost : place === 'away' ? STANDING.away : STANDING.known;
      people.afresh[p] = was === STANDING.lost && place !== undefined ? 1 : 0;
      people.fadeS[p] = 2;
      if (place === undefined || place === 'away') return;
      people.x[p] = place.x;
      people.y[p] = place.y;
      people.z[p] = 1.5;
      people.vx[p] = place.vx ?? 0;
      people.vy[p] = place.vy ?? 0;
    });
    this.#zones.forEach(({ edge, around }, zone) => {
      if (around !== undefined && typeof places[around] !== 'object') return;
      const centre = around === undefined ? { x: 0, y: 0 } : (places[around] as Place);
      places.forEach((place, p) => {
        if (typeof place !== 'object') return;
        const area = this.#areas[zone];
        if (area === undefined) return;
        const distanceM = signedDistanceM(area, place.x - centre.x, place.y - centre.y, 1.5);
        stepPresence(this.#presences[zone]?.[p] as Presence, distanceM, edge);
      });
    });
    stepNetwork(this.network, this.scene, dtS);
    return this;
  }

  run(seconds: number, places: readonly (Place | 'away' | undefined)[]): this {
    for (let i = 0; i < Math.round(seconds / DT_S); i++) this.tick(places);
    return this;
  }

  hear(signal: number, value: number): void {
    this.scene.numbers.value[signal] = value;
    this.scene.numbers.heardS[signal] = this.scene.nowS;
  }

  range(signal: number): [number, number] {
    const { lo, hi } = this.network.out;
    return [lo[signal] as number, hi[signal] as number];
  }

  is(condition: number): Truth {
    return truthIn(this.network.conditions, condition);
  }
}
