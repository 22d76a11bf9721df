import type { ShownColour } from '../../colour/shown.js';
import type { EngineEvent } from '../../engine/events/events.js';
import type { EngineView } from '../../engine/view.js';
import { lightColour } from '../../show/palettes/light-colour.js';
import { type Shade, shadesOf } from './shades.js';

/** What one fixture did. */
export interface LightDeeds {
  readonly fixture: string;
  /** Whether it has an intensity; the figures below are of it, per cent. */
  readonly hasIntensity: boolean;
  readonly highest: number;
  readonly lowest: number;
  /** How long it gave more than a per cent, seconds. */
  readonly litS: number;
  /** How often it rose by more than five per cent from a level at which it had stayed. */
  readonly rises: number;
  /** Fastest change, per cent a second. */
  readonly fastest: number;
  /** How often it went out, turned and came up again because the direct way was closed. */
  readonly turns: number;
  /** Intensity in steps of `stepS` from the beginning, per cent: the highest in each step, for a picture. */
  readonly trace: readonly number[];
  /** Its colours while lit, each from the step in which it changed; empty if it has no colour of its own. */
  readonly colours: readonly (ShownColour & { readonly step: number })[];
  /** The same for a picture: linear between two of these; two in one step are a jump. */
  readonly shades: readonly Shade[];
}

/** Most points across the page: more can't be told apart. */
const MOST_POINTS = 600;
/** Most colours kept; a light that goes through all hues would have thousands. */
const MOST_COLOURS = 100;
const RISE = 5;
const LIT = 1;

/** Watches every fixture, tick by tick. */
export class LightWatch {
  readonly stepS: number;
  readonly #lights: {
    low: number;
    high: number;
    litS: number;
    rises: number;
    /** The lowest level since it began to fall or rest, or the highest since it began to rise, per cent. */
    turn: number;
    falling: boolean;
    fastest: number;
    last: number;
    trace: number[];
    colours: (ShownColour & { readonly step: number })[];
    /** Colour in each step in which it was lit. */
    hexes: string[];
  }[];
  readonly #turns = new Map<string, number>();

  constructor(view: EngineView, lengthS: number, tickHz: number) {
    this.stepS = Math.max(1 / tickHz, lengthS / MOST_POINTS);
    this.#lights = view.fixtures.map(({ values, intensity }) => {
      const value = intensity < 0 ? 0 : (values[intensity] as number);
      return {
        low: value,
        high: value,
        litS: 0,
        rises: 0,
        turn: value,
        falling: true,
        fastest: 0,
        last: value,
        trace: [],
        colours: [],
        hexes: [],
      };
    });
  }

  ticked(view: EngineView, sinceS: number, dtS: number, events: readonly EngineEvent[]): void {
    const step = Math.floor(sinceS / this.stepS);
    view.fixtures.forEach(({ plan, values, intensity }, index) => {
      const one = this.#lights[index];
      if (intensity < 0 || one === undefined) return;
      const value = values[intensity] as number;
      one.low = Math.min(one.low, value);
      one.high = Math.max(one.high, value);
      if (value > LIT) one.litS += dtS;
      if (dtS > 0) one.fastest = Math.max(one.fastest, Math.abs(value - one.last) / dtS);
      one.last = value;
      if (one.falling) {
        one.turn = Math.min(one.turn, value);
        if (value > one.turn + RISE) {
          one.rises += 1;
          one.falling = false;
          one.turn = value;
        }
      } else {
        one.turn = Math.max(one.turn, value);
        if (value < one.turn - RISE) {
          one.falling = true;
          one.turn = value;
        }
      }
      one.trace[step] = Math.max(one.trace[step] ?? 0, value);
      // The first lit moment of a step gives its colour.
      if (value <= LIT || one.hexes[step] !== undefined) return;
      const colour = lightColour(plan.profile, values);
      if (colour === undefined) return;
      one.hexes[step] = colour.hex;
      if (one.colours.length >= MOST_COLOURS || colour.word === one.colours.at(-1)?.word) return;
      one.colours.push({ ...colour, step });
    });
    for (const event of events) {
      if (event.kind !== 'turn') continue;
      this.#turns.set(event.fixture, (this.#turns.get(event.fixture) ?? 0) + 1);
    }
  }

  deeds(view: EngineView): LightDeeds[] {
    return view.fixtures.flatMap(({ plan, intensity }, index): LightDeeds[] => {
      const one = this.#lights[index];
      if (one === undefined) return [];
      return [
        {
          fixture: plan.label,
          hasIntensity: intensity >= 0,
          highest: one.high,
          lowest: one.low,
          litS: one.litS,
          rises: one.rises,
          fastest: one.fastest,
          turns: this.#turns.get(plan.name) ?? 0,
          trace: Array.from(one.trace, value => value ?? 0),
          colours: one.colours,
          shades: shadesOf(one.hexes),
        },
      ];
    });
  }
}
