import type { EngineEvent } from '../../engine/events/events.js';
import type { EngineView, SignalView } from '../../engine/view.js';
import { labelsOf } from '../../show/model/labels.js';
import { namedConditions, namedSignals, signalInFile } from '../../show/model/own-names.js';
import type { SignalUnit } from '../../signals/plan.js';
import { type Radians, toDegrees } from '../../stage/units.js';

/** What a signal was in a scene. */
export interface SignalDeeds {
  readonly signal: string;
  /** Least value; angles in degrees. null if it was never known. */
  readonly least: number | null;
  readonly greatest: number | null;
  readonly unit: SignalUnit;
  readonly unknownS: number;
}

export interface ConditionDeeds {
  readonly condition: string;
  readonly yesS: number;
  /** How often it became yes. */
  readonly times: number;
  readonly unknownS: number;
}

/** A message that would be sent to a receiver. */
export interface MessageDeeds {
  readonly receiver: string;
  readonly receiverLabel: string;
  readonly address: string;
  readonly args: readonly (number | string | boolean)[];
  readonly times: number;
  /** When it was sent first, seconds from the beginning. */
  readonly firstS: number;
}

interface SignalSums {
  readonly views: readonly SignalView[];
  least: number;
  greatest: number;
  unknownS: number;
}

interface ConditionSums {
  readonly at: number;
  was: 'no' | 'unknown' | 'yes';
  yesS: number;
  times: number;
  unknownS: number;
}

/** Watches the signals and conditions that the file names, and the messages of its actions, tick by tick. */
export class SignalWatch {
  readonly #signals: ReadonlyMap<string, SignalSums>;
  readonly #conditions: ReadonlyMap<string, ConditionSums>;
  readonly #messages = new Map<
    string,
    { -readonly [key in keyof MessageDeeds]: MessageDeeds[key] }
  >();

  readonly #receiver: (name: string) => string;

  constructor(view: EngineView) {
    this.#receiver = labelsOf(view.show).receiver;
    this.#signals = new Map(
      namedSignals(view.show).map(name => [
        name,
        {
          views: view.signals.filter(one => signalInFile(one.name) === name),
          least: Number.POSITIVE_INFINITY,
          greatest: Number.NEGATIVE_INFINITY,
          unknownS: 0,
        },
      ]),
    );
    this.#conditions = new Map(
      namedConditions(view.show).map(name => [
        name,
        {
          at: view.conditions.findIndex(one => one.name === name),
          was: 'no',
          yesS: 0,
          times: 0,
          unknownS: 0,
        },
      ]),
    );
  }

  /** @param sceneS seconds from the beginning */
  ticked(view: EngineView, sceneS: number, dtS: number, events: readonly EngineEvent[]): void {
    for (const sums of this.#signals.values()) {
      let isUnknown = false;
      for (const { least, greatest } of sums.views) {
        if (least !== greatest) isUnknown = true;
        else {
          sums.least = Math.min(sums.least, least);
          sums.greatest = Math.max(sums.greatest, greatest);
        }
      }
      if (isUnknown) sums.unknownS += dtS;
    }
    for (const sums of this.#conditions.values()) {
      const truth = view.conditions[sums.at]?.truth ?? 'no';
      if (truth === 'yes') {
        sums.yesS += dtS;
        if (sums.was !== 'yes') sums.times += 1;
      } else if (truth === 'unknown') sums.unknownS += dtS;
      sums.was = truth;
    }
    for (const event of events) {
      if (event.kind !== 'action') continue;
      const { receiver, address, args } = event;
      const key = JSON.stringify([receiver, address, args]);
      const there = this.#messages.get(key);
      if (there !== undefined) there.times += 1;
      else {
        const receiverLabel = this.#receiver(receiver);
        const said = { receiver, receiverLabel, address, args };
        this.#messages.set(key, { ...said, times: 1, firstS: sceneS });
      }
    }
  }

  signals(): SignalDeeds[] {
    return [...this.#signals].map(([signal, { views, least, greatest, unknownS }]) => {
      const unit = views[0]?.plan.unit ?? 'share';
      const figure = (value: number) => {
        if (!Number.isFinite(value)) return null;
        return unit === 'radians' ? toDegrees(value as Radians) : value;
      };
      return { signal, least: figure(least), greatest: figure(greatest), unit, unknownS };
    });
  }

  conditions(): ConditionDeeds[] {
    return [...this.#conditions].map(([condition, { yesS, times, unknownS }]) => ({
      condition,
      yesS,
      times,
      unknownS,
    }));
  }

  messages(): MessageDeeds[] {
    return [...this.#messages.values()];
  }
}

const SUFFIXES: Readonly<Record<SignalUnit, string>> = {
  share: '',
  metres: ' m',
  radians: '°',
  seconds: ' s',
  speed: ' m/s',
  people: '',
  raw: '',
};

/** "0.1 to 4.2 m", "2 m all the time", "never known". */
export function signalRange({ least, greatest, unit }: SignalDeeds): string {
  if (least === null || greatest === null) return 'never known';
  const figure = (value: number) => String(Number(value.toPrecision(3)));
  const suffix = SUFFIXES[unit];
  return figure(least) === figure(greatest)
    ? `${figure(least)}${suffix} all the time`
    : `${figure(least)} to ${figure(greatest)}${suffix}`;
}

/** "/harbour 1 to the sound desk". */
export function messageWords({ receiverLabel, address, args }: MessageDeeds): string {
  return `${[address, ...args].join(' ')} to ${receiverLabel}`;
}
