import { Counter, Gauge, Histogram, Registry } from 'prom-client';
import { DELAY_BINS_S } from '../../live/light-delays.js';
import { hasLight, OTHER_MACHINES, OTHER_SHOWS, PAIR_PARTS } from '../../live/pair-words.js';
import { batteryOf, peopleOf } from '../../live/reading.js';
import type { LiveSnapshot } from '../../live/schema.js';
import { REFUSALS, type Refusal } from '../../live/turned-away.js';
import { plain } from './doors.js';
import type { Record as Kept } from './record.js';
import type { Streams } from './streams.js';

const STATES = ['live', 'returning', 'lost', 'not heard', 'stopped', 'off stage'] as const;
/** Among the numbers of the engine, what rises and falls. */
const OF_NOW: ReadonlySet<string> = new Set(['held', 'heapUsed', 'rss']);
const LIGHTS = ['live', 'partly', 'safe look', 'not sent', 'other machine'] as const;

type Told = readonly LiveSnapshot['status']['delays'][number][];

const DELAYS = {
  name: 'lampwright_position_to_light_seconds',
  help: "End to end: from the sensor's reading of a position to the last packet of its frame, since the daemon began, by part of the way; only while the engine has all of the light",
} as const;

/** A histogram that was counted elsewhere. */
class Delays extends Histogram<'part'> {
  constructor(private readonly told: () => Told) {
    super({ ...DELAYS, labelNames: ['part'], registers: [] });
  }

  /** What the registry asks for. */
  async getForPromString() {
    const { name } = DELAYS;
    const values = this.told().flatMap(({ part, counts, sumS }) => {
      let below = 0;
      const buckets = counts.map((count, bin) => {
        below += count;
        const le = DELAY_BINS_S[bin] ?? '+Inf';
        return { labels: { part, le }, value: below, metricName: `${name}_bucket` };
      });
      return [
        ...buckets,
        { labels: { part }, value: sumS, metricName: `${name}_sum` },
        { labels: { part }, value: below, metricName: `${name}_count` },
      ];
    });
    return { ...DELAYS, type: 'histogram', values };
  }
}

/** Has a metric have these values, and no others. */
type Collect<L extends string> = (
  give: (labels: Readonly<Partial<Record<L, string>>>, value: number) => void,
) => void;
type Make = <L extends string>(
  name: string,
  help: string,
  labelNames: readonly L[],
  collect: Collect<L>,
) => Gauge<L> | Counter<L>;

function named<L extends string>(name: string, help: string, labelNames: readonly L[]) {
  return { name: `lampwright_${name}`, help, labelNames };
}

function filledBy<L extends string>(collect: Collect<L>) {
  return function fill(this: Gauge<L> | Counter<L>): void {
    this.reset();
    // What is not known is no 0.
    this.remove({} as never);
    collect((labels, value) => this.inc(labels as Record<L, string>, value));
  };
}

/** What Prometheus is told, of the newest snapshot. */
export class Metrics {
  readonly #registry = new Registry();
  readonly #refused: Counter<'reason'>;

  /** @param turnedAway is told of each that was */
  constructor(
    record: Kept,
    streams: Streams,
    private readonly turnedAway: (reason: Refusal, from?: string) => void = () => undefined,
  ) {
    const registers = [this.#registry];
    const gauge: Make = (name, help, labelNames, collect) =>
      new Gauge({ ...named(name, help, labelNames), registers, collect: filledBy(collect) });
    /** What is counted elsewhere, and begins anew with whoever counts it. */
    const counted: Make = (name, help, labelNames, collect) =>
      new Counter({ ...named(name, help, labelNames), registers, collect: filledBy(collect) });
    const fresh = () => (record.ageS < 5 ? record.snapshot : undefined);

    gauge('up', '1 while the daemon answers', [], set => set({}, fresh() === undefined ? 0 : 1));
    gauge('snapshot_age_seconds', 'Age of the newest snapshot', [], set =>
      set({}, Number.isFinite(record.ageS) ? record.ageS : 1e9),
    );
    gauge('engine_up', '1 while an engine runs', [], set => {
      const snapshot = fresh();
      if (snapshot !== undefined) set({}, snapshot.engine === null ? 0 : 1);
    });
    gauge('light', '1 for the state of the stage', ['state'], set => {
      const snapshot = fresh();
      for (const state of snapshot === undefined ? [] : LIGHTS) {
        set({ state }, snapshot?.status.light === state ? 1 : 0);
      }
    });
    gauge('performer_state', '1 for the state of each performer', ['performer', 'state'], set => {
      for (const { name, state } of fresh()?.status.performers ?? []) {
        for (const one of STATES) set({ performer: name, state: one }, state === one ? 1 : 0);
      }
    });
    gauge('performer_confidence', 'Confidence of each performer, 0 to 1', ['performer'], set => {
      const snapshot = fresh();
      for (const { status, seen } of snapshot === undefined ? [] : peopleOf(snapshot)) {
        if (seen !== undefined) set({ performer: status.name }, seen.confidence.value);
      }
    });
    gauge('performer_ahead_seconds', 'How far the light is predicted', ['performer'], set => {
      for (const { name, aheadS } of fresh()?.engine?.performers ?? []) {
        if (aheadS !== undefined) set({ performer: name }, aheadS);
      }
    });
    gauge(
      'performer_battery',
      'Lowest battery charge of their trackers, 0 to 1',
      ['performer'],
      set => {
        const { status, engine = null } = fresh() ?? {};
        for (const { name } of status?.performers ?? []) {
          const charge = batteryOf(engine, name);
          if (charge !== undefined) set({ performer: name }, charge);
        }
      },
    );
    gauge('tracking_silent', '1 while nobody is heard', [], set => {
      const feed = fresh()?.status.feed;
      if (feed !== undefined) set({}, feed.silent ? 1 : 0);
    });
    for (const what of ['positions', 'datagrams', 'dropped'] as const) {
      gauge(`input_${what}_per_second`, 'In the last second', [], set => {
        const feed = fresh()?.status.feed;
        if (feed !== undefined) set({}, feed[`${what}PerS`]);
      });
    }
    counted('input_dropped_total', 'Dropped since the engine began, by reason', ['reason'], add => {
      for (const [name, count] of Object.entries(fresh()?.engine?.counters ?? {})) {
        if (name.startsWith('drop:')) add({ reason: name.slice('drop:'.length) }, count);
      }
    });
    const engine = () => Object.entries(fresh()?.engine?.counters ?? {});
    gauge(
      'engine',
      'Memory of the engine in bytes, and input that it holds back',
      ['what'],
      set => {
        for (const [what, value] of engine()) if (OF_NOW.has(what)) set({ what }, value);
      },
    );
    counted('engine_events_total', 'What the engine has counted since it began', ['what'], add => {
      for (const [what, count] of engine()) {
        if (!OF_NOW.has(what) && !what.startsWith('drop:')) add({ what }, count);
      }
    });
    gauge('output_up', '1 while an output sends', ['output', 'protocol'], set => {
      for (const { name, protocol, trouble } of fresh()?.status.outputs ?? []) {
        set({ output: name, protocol }, trouble === undefined ? 1 : 0);
      }
    });
    const pairParts = () => {
      const pair = fresh()?.status.pair;
      return (pair?.parts ?? []).map(part => ({ machine: pair?.machine ?? 'main', part }));
    };
    gauge(
      'pair_part',
      '1 for the part of this machine of a pair, by network',
      ['machine', 'interface', 'part'],
      set => {
        for (const { machine, part } of pairParts()) {
          for (const one of PAIR_PARTS) {
            set({ machine, interface: part.interface, part: one }, part.part === one ? 1 : 0);
          }
        }
      },
    );
    gauge(
      'pair_has_light',
      '1 while receivers take this machine of a pair, as far as it knows, by network',
      ['machine', 'interface'],
      set => {
        const outputs = fresh()?.status.outputs ?? [];
        for (const { machine, part } of pairParts()) {
          set({ machine, interface: part.interface }, hasLight(machine, part, outputs) ? 1 : 0);
        }
      },
    );
    gauge(
      'pair_other',
      '1 for the state of the other machine of a pair, by network',
      ['interface', 'state'],
      set => {
        for (const { part } of pairParts()) {
          for (const state of part.other === undefined ? [] : OTHER_MACHINES) {
            set({ interface: part.interface, state }, part.other === state ? 1 : 0);
          }
        }
      },
    );
    gauge('pair_shows', '1 for whether both machines of a pair run one show', ['shows'], set => {
      const pair = fresh()?.status.pair;
      for (const shows of pair === undefined ? [] : OTHER_SHOWS) {
        set({ shows }, pair?.shows === shows ? 1 : 0);
      }
    });
    gauge('desk_lost', '1 while a desk that is watched is silent', [], set => {
      const snapshot = fresh();
      if (snapshot !== undefined) set({}, snapshot.status.deskLostSince === undefined ? 0 : 1);
    });
    gauge('troubles', '1 for each trouble, and each output that sends nothing', [], set => {
      const snapshot = fresh();
      if (snapshot === undefined) return;
      const { outputs, troubles } = snapshot.status;
      set({}, troubles.length + outputs.filter(one => one.trouble !== undefined).length);
    });
    gauge('stopped', '1 while everybody is stopped by an operator', [], set => {
      const snapshot = fresh();
      if (snapshot !== undefined) set({}, snapshot.status.stops.everybody ? 1 : 0);
    });
    const delays = new Delays(() => fresh()?.status.delays ?? []);
    this.#registry.registerMetric(delays);
    gauge('panel_streams', 'Connected browsers and programs', [], set => set({}, streams.count));
    counted('panel_snapshots_left_out_total', 'Skipped for slow readers', [], add =>
      add({}, streams.left),
    );
    this.#refused = new Counter({
      name: 'lampwright_panel_refused_total',
      help: 'Requests and connections that were turned away, by reason',
      labelNames: ['reason'],
      registers,
    });
    for (const reason of REFUSALS) this.#refused.inc({ reason }, 0);
  }

  /** @param from address, where it is known */
  refused(reason: Refusal, from?: string): void {
    this.#refused.inc({ reason });
    this.turnedAway(reason, from === undefined ? undefined : plain(from));
  }

  get contentType(): string {
    return this.#registry.contentType;
  }

  text(): Promise<string> {
    return this.#registry.metrics();
  }
}
