import type { EnvelopeOptions } from '../../src/mapping/options.js';
import type {
  ChannelValue,
  MappingPlan,
  Mix,
  Show,
  SignalMappingPlan,
} from '../../src/show/model/model.js';
import type {
  ConditionPlan,
  ConditionTest,
  EvaluationStep,
  SignalPlan,
  SignalSource,
} from '../../src/signals/plan.js';

type Values = Readonly<Record<string, number>>;

interface MappingOptions {
  readonly when?: number;
  /** One for all fixtures, or one for each. */
  readonly by?: number | readonly number[];
  readonly on: readonly string[];
  readonly from?: Values;
  readonly to: Values;
  readonly fade?: EnvelopeOptions;
  readonly mix?: Mix;
  readonly priority?: number;
}

/** A show with signals, conditions and what they drive, put together as the show file would have them resolved. */
export class SignalShow {
  readonly #signals: SignalPlan[] = [];
  readonly #conditions: ConditionPlan[] = [];
  readonly #order: EvaluationStep[] = [];
  #mappings: MappingPlan[];

  constructor(private readonly before: Show) {
    this.#mappings = [...before.mappings];
  }

  performers(...names: string[]): number[] {
    return names.map(name => indexOf(this.before.performers, name));
  }

  zone(name: string): number {
    return indexOf(this.before.zones, name);
  }

  signal(source: SignalSource, options: Partial<SignalPlan> = {}): number {
    const index = this.#signals.length;
    const isShare =
      options.range !== undefined || ['presence', 'across', 'wave'].includes(source.kind);
    this.#signals.push({
      name: `signal-${index}`,
      source,
      unit: isShare ? 'share' : 'raw',
      range: undefined,
      curve: undefined,
      attackS: 0,
      releaseS: 0,
      least: isShare ? 0 : Number.NEGATIVE_INFINITY,
      greatest: isShare ? 1 : Number.POSITIVE_INFINITY,
      ...options,
    });
    this.#order.push({ kind: 'signal', index });
    return index;
  }

  presence(zone: string, ...names: string[]): number {
    return this.signal({
      kind: 'presence',
      zone: this.zone(zone),
      performers: this.performers(...names),
      every: false,
    });
  }

  condition(test: ConditionTest, forS = 0, holdS = 0): number {
    const index = this.#conditions.length;
    this.#conditions.push({ name: `condition-${index}`, test, forS, holdS });
    this.#order.push({ kind: 'condition', index });
    return index;
  }

  above(signal: number, on: number, off = on, forS = 0, holdS = 0): number {
    return this.condition({ kind: 'threshold', signal, direction: 'above', on, off }, forS, holdS);
  }

  mapping({
    when,
    by,
    on,
    from = {},
    to,
    fade,
    mix = 'usual',
    priority = 0,
  }: MappingOptions): this {
    const fixtures = on.map(name => indexOf(this.before.fixtures, name));
    return this.mappingOf({
      when,
      by: typeof by === 'number' ? fixtures.map(() => by) : by,
      from: this.#values(fixtures, from),
      values: this.#values(fixtures, to),
      fade: fade ?? { inS: 0, outS: 0 },
      mix,
      priority,
    });
  }

  mappingOf(plan: Partial<SignalMappingPlan> & { readonly values: readonly ChannelValue[] }): this {
    this.#mappings.push({
      kind: 'signal',
      name: undefined,
      always: false,
      when: undefined,
      by: undefined,
      fixtures: [...new Set(plan.values.map(({ fixture }) => fixture))],
      from: [],
      fade: { inS: 0, outS: 0 },
      mix: 'usual',
      priority: 0,
      ...plan,
    });
    return this;
  }

  /** A mapping that is there already has a condition. */
  follow(index: number, when: number): this {
    this.#mappings[index] = { ...(this.#mappings[index] as MappingPlan), when } as MappingPlan;
    return this;
  }

  /** Only those of the show so far that hold what is asked of them. */
  keeping(holds: (mapping: MappingPlan) => boolean): this {
    this.#mappings = this.#mappings.filter(holds);
    return this;
  }

  #values(fixtures: readonly number[], values: Values): ChannelValue[] {
    return fixtures.flatMap(fixture =>
      Object.entries(values).map(([attribute, value]) => ({
        fixture,
        channel: channelOf(this.before, fixture, attribute),
        value,
      })),
    );
  }

  /** What is added acts in every cue. */
  show(): Show {
    const cues = this.before.cues.map(cue => ({
      ...cue,
      levels: this.#mappings.map((_, i) => cue.levels[i] ?? 1),
    }));
    return {
      ...this.before,
      cues,
      signals: { signals: this.#signals, conditions: this.#conditions, order: this.#order },
      mappings: this.#mappings,
    };
  }
}

function channelOf({ fixtures }: Show, fixture: number, attribute: string): number {
  const channels = fixtures[fixture]?.profile.channels ?? [];
  return channels.findIndex(one => one.attribute === attribute);
}

function indexOf(all: readonly { readonly name: string }[], name: string): number {
  const index = all.findIndex(one => one.name === name);
  if (index < 0) throw new Error(`no ${name}`);
  return index;
}
