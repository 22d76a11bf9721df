import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { createEngine } from '../../src/engine/engine.js';
import type { EngineEvent } from '../../src/engine/events/events.js';
import { createCounters } from '../../src/engine/values/counters.js';
import type { OperatorAction } from '../../src/engine/values/operator-action.js';
import { viewOf } from '../../src/engine/view.js';
import { Replay } from '../../src/recording/replay.js';
import { CAUSES, DOUBTS } from '../../src/reporting/causes/causes.js';
import { blackouts, type HeldLight } from '../../src/reporting/causes/held-light.js';
import { Histogram } from '../../src/reporting/measures/histogram.js';
import { PlaceNames, placeWords } from '../../src/reporting/measures/places.js';
import { reportPage } from '../../src/reporting/pages/report-page.js';
import { reportText } from '../../src/reporting/pages/report-text.js';
import { recommendationsOf } from '../../src/reporting/recommendations.js';
import { makeReport } from '../../src/reporting/report.js';
import { SessionStatistics } from '../../src/reporting/session-statistics.js';
import type { Report } from '../../src/reporting/words/report-data.js';
import { inWords, lossInWords } from '../../src/reporting/words/words.js';
import { WATCHDOG_TABLE } from '../../src/safety/watchdog-table.js';
import type { Show } from '../../src/show/model/model.js';
import { parseShow } from '../../src/show/parse.js';
import { Rig } from '../engine/harness.js';
import { HOUSE } from '../engine/shows.js';
import { itemsOf, recordSession, START_S, TICK_HZ, UNIX_OFFSET_S } from '../recording/sessions.js';
import { showOf } from '../show/show-of.js';

const TEXT = readFileSync('config/salt-lantern.show.yaml', 'utf8');
const LENGTH_S = 30;

/** A session of the demo's scene, and what is told of it. */
function reportOf(
  records: readonly Buffer[],
  reloaded: readonly string[] = [],
  held: readonly HeldLight[] = [],
): { report: Report; show: Show } {
  let statistics: SessionStatistics | undefined;
  const replay = new Replay({
    began: run => {
      statistics ??= new SessionStatistics(run.show, held);
      statistics.begin(
        { ...run, tickHz: TICK_HZ },
        run.fromS,
        run.start.before !== undefined
          ? 'went on'
          : reloaded.includes(run.start.run)
            ? 'reloaded'
            : 'crashed',
      );
    },
    intake: (_, record) => {
      for (const { arrivalS } of record.datagrams) statistics?.ticks.arrived(arrivalS);
    },
    ticked: ({ run, nowS, events, sentS }) => statistics?.ticked(run.view, nowS, events, sentS),
  });
  for (const item of itemsOf(records)) replay.take(item);
  const runs = replay.finish();
  if (statistics === undefined) throw new Error('nothing was recorded');
  const names = new PlaceNames(statistics.show);
  const report = makeReport(
    statistics,
    {
      version: '0.1.0',
      node: 'v20',
      fromS: START_S,
      toS: runs.at(-1)?.toS ?? 0,
      unixOffsetS: UNIX_OFFSET_S,
      notes: [],
      at: atS => `${(atS - START_S).toFixed(0)} s`,
      counts: runs[0]?.view.counters ?? createCounters(),
    },
    (x, y) => names.of(x, y),
  );
  return { report, show: statistics.show };
}

const DEMO = reportOf(recordSession(TEXT, LENGTH_S));

describe('the report of the demo scene', () => {
  const { report, show } = DEMO;
  const of = (name: string) => report.performers.find(one => one.name === name);

  it('finds the one loss that the scene has: the Gull, silent from 12 to 19 s, behind the window', () => {
    expect(report.losses).toHaveLength(1);
    const [loss] = report.losses;
    expect(loss).toMatchObject({
      performer: 'gull',
      cause: 'tracker-silent',
      place: 'upstage left, window seat',
    });
    // Lost half a second after the last report; followed again a second (`rearm`) after the first, once
    // her head has come to rest in the dark.
    expect((loss?.atS ?? 0) - START_S).toBeCloseTo(12.5, 0);
    expect((loss?.untilS ?? 0) - START_S).toBeGreaterThan(19.9);
    expect((loss?.untilS ?? 0) - START_S).toBeLessThan(21);
  });

  it('says how long each was followed', () => {
    // All wait for `rearm`, a second, at the beginning.
    for (const name of ['ines', 'tobias']) {
      expect(of(name)?.losses).toBe(0);
      expect(of(name)?.availability).toBeCloseTo((LENGTH_S - 1) / LENGTH_S, 2);
    }
    const lostS = report.losses[0]?.forS ?? 0;
    expect(of('gull')?.availability).toBeCloseTo((LENGTH_S - 1 - lostS) / LENGTH_S, 2);
    expect(of('gull')?.longestLossS).toBe(lostS);
  });

  it('puts her loss first among what to fix, and nothing else', () => {
    expect(report.recommendations.map(({ what }) => what)).toEqual([
      expect.stringMatching(
        /^The Gull was lost once, \d\.\d s in all, at upstage left, window seat/,
      ),
    ]);
    expect(report.recommendations[0]?.act).toContain('tracker 3');
  });

  it('has the weak places on the map: where she was lost, and nowhere else', () => {
    expect(report.places.weakest).toMatchObject([
      { place: 'upstage left, window seat', losses: 1 },
    ]);
    const held = report.places.cells.reduce((sum, { heldS }) => sum + heldS, 0);
    expect(held).toBeGreaterThan(2 * LENGTH_S);
    expect(held).toBeLessThan(3 * LENGTH_S);
  });

  it('measures from the arrival of a position to its light', () => {
    // The session sends half a millisecond after the tick, and positions arrive at most one tick of
    // 25 ms and what is absorbed before: 10 ms.
    expect(report.latency.p50S).toBeGreaterThan(0.0005);
    expect(report.latency.maxS).toBeLessThan(0.04);
    expect(report.tickLength.maxS).toBeCloseTo(0.0005, 4);
    expect(report.latency.count).toBeGreaterThan(1000);
  });

  it('lists what went to safe values and back, in the order of time', () => {
    expect(report.actions.map(({ what }) => what)).toEqual([
      'The Gull: light began to fade to its safe values (the tracker was not heard)',
      'The Gull: light at its safe values',
      'The Gull: light began to return',
    ]);
  });

  it('is a page that needs nothing else, and text', () => {
    const at = (atS: number) => `${(atS - START_S).toFixed(0)} s`;
    const html = reportPage(report, show, { at, day: () => 'today' });
    expect(html).not.toMatch(/<script|src=|href=|@import|url\(/);
    expect(html).toContain('The Gull was lost once');
    // A strip a performer, the places, and the paths of those who were seen.
    const seen = report.performers.filter(({ path }) => path.length > 0);
    expect(html.match(/<svg /g)).toHaveLength(report.performers.length + 1 + seen.length);
    expect(html).toContain('▼1</b>');
    const text = reportText(report, { at, day: () => 'today' }, one => one).join('\n');
    expect(text).toMatch(/The Gull +for +\d\.\d s {2}the tracker was not heard; upstage left/);
  });

  it('takes no markup from a show', () => {
    const evil = TEXT.replace('label: The Gull', 'label: "<img src=x onerror=alert(1)>"');
    const other = reportOf(recordSession(evil, 3));
    const html = reportPage(other.report, other.show, { at: String, day: String });
    expect(html).not.toContain('<img');
    expect(html).toContain('&lt;img');
  });
});

describe('the time after the show', () => {
  it('is not counted: trackers that are switched off before the daemon are no loss', () => {
    const records = recordSession(TEXT, 70, { heard: sinceS => sinceS < 30 });
    const { report } = reportOf(records);
    expect(report.losses.map(({ performer }) => performer)).toEqual(['gull']);
    expect(report.notes).toEqual([expect.stringMatching(/nobody was followed/)]);
    expect(report.endS - START_S).toBeCloseTo(30.5, 0);
    expect(report.performers[0]?.availability).toBeGreaterThan(0.95);
  });
});

describe('an engine that was gone', () => {
  it('loses everybody who was followed, and counts the time', () => {
    const first = recordSession(TEXT, 10);
    const second = recordSession(TEXT, 10, { run: 'run-2', fromS: 15 });
    const { report } = reportOf([...first, ...second]);
    const gone = report.losses.filter(({ cause }) => cause === 'engine-dead');
    expect(gone.map(({ performer }) => performer)).toEqual(['ines', 'tobias', 'gull']);
    // From 10 to 15 s, and the second of `rearm` after it.
    for (const { forS } of gone) expect(forS).toBeCloseTo(6, 0);
    // It would have happened anywhere.
    expect(report.places.weakest).toEqual([]);
    expect(report.recommendations[0]?.what).toBe(
      'The engine crashed once; all light went to its safe values.',
    );
  });
});

describe('a show that was loaded anew', () => {
  const wider = TEXT.replace('label: Ines,', 'label: Ines the keeper,').replace(
    /^( {2}x: \[.*, )(\d+)\]/m,
    (_, before, x) => `${before}${Number(x) + 4}]`,
  );

  it('is one evening: what was lost in the shorter version counts, and the change is no failure', () => {
    const { report } = reportOf(
      [...recordSession(TEXT, 25), ...recordSession(wider, 30, { run: 'run-2', fromS: 27 })],
      ['run-2'],
    );
    const causes = report.losses.map(({ performer, cause }) => `${performer}: ${cause}`);
    expect(causes.slice(0, 4)).toEqual([
      'gull: tracker-silent',
      'ines: show-reload',
      'tobias: show-reload',
      'gull: show-reload',
    ]);
    // The scene of the second version begins anew, and has her loss again.
    expect(causes.slice(4)).toEqual(['gull: tracker-silent']);
    expect(report.recommendations.map(({ what }) => what)).toEqual([
      expect.stringMatching(/^The Gull was lost twice/),
    ]);
    expect(report.ticks).toBe(55 * TICK_HZ);
    const ines = report.performers.find(one => one.name === 'ines');
    expect(ines?.sinceS).toBeGreaterThan(56);
  });

  it('is no loss where the light goes on, and takes along who is lost just then', () => {
    const brighter = TEXT.replace('label: Ines,', 'label: Ines the keeper,');
    const whole = DEMO.report;
    for (const atS of [5, 15, 25]) {
      const reload = { tick: atS * TICK_HZ, text: brighter };
      const { report } = reportOf(recordSession(TEXT, LENGTH_S, { reload }));
      const facts = ({ losses }: Report) =>
        losses.map(({ performer, cause, atS, forS }) => ({ performer, cause, atS, forS }));
      expect(facts(report)).toEqual(facts(whole));
      expect(report.performers[0]?.label).toBe('Ines the keeper');
      expect(report.performers[0]?.stretches.map(({ phase }) => phase)).not.toContain('no engine');
      expect(report.performers[0]?.sinceS).toBeCloseTo(whole.performers[0]?.sinceS ?? 0, 0);
    }
  });

  it('is no loss of whom the new version leaves out', () => {
    const heron = TEXT.replace(/^ {2}gull:/m, '  heron:').replaceAll(/\bgull\b/g, 'heron');
    const { report } = reportOf(
      [...recordSession(TEXT, 14), ...recordSession(heron, 30, { run: 'run-2', fromS: 16 })],
      ['run-2'],
    );
    const gull = report.losses.filter(({ performer }) => performer === 'gull');
    // Silent since 12 s, and out of the show from 14 s on.
    expect(gull.map(({ cause }) => cause)).toEqual(['tracker-silent']);
    expect(gull[0]?.forS).toBeCloseTo(1.5, 0);
    expect(report.performers.map(({ name }) => name)).toContain('heron');
  });
});

describe('what happened', () => {
  const happened = (events: readonly EngineEvent[]) => {
    const parsed = parseShow(TEXT, 'a.show.yaml');
    if (!parsed.ok) throw new Error('no show');
    const { show } = parsed;
    const view = viewOf(createEngine(show));
    const statistics = new SessionStatistics(show);
    statistics.begin({ show, view, tickHz: TICK_HZ }, START_S);
    statistics.ticked(view, START_S + 1, events, undefined);
    return statistics;
  };
  const stops = { stillStopped: [], stopOfEverybody: false };

  it('names who asked, trackers given, batteries and the desk', () => {
    const statistics = happened([
      {
        kind: 'stopped',
        performers: ['gull'],
        everybody: false,
        cause: 'command',
        by: '10.0.0.5',
        ...stops,
      },
      {
        kind: 'resumed',
        performers: ['gull'],
        everybody: true,
        cause: 'command',
        by: '10.0.0.5',
        ...stops,
      },
      {
        kind: 'tracker',
        tracker: '9',
        performer: 'tobias',
        change: 'assigned',
        cause: 'command',
        by: 'control socket (user anna uid 1000)',
      },
      { kind: 'battery', tracker: '3', performer: 'gull', low: true, charge: 0.18 },
      { kind: 'battery', tracker: '9', performer: undefined, low: true, charge: 0.1 },
      { kind: 'battery', tracker: '9', performer: undefined, low: false, charge: 0.9 },
      { kind: 'desk', lost: true, required: false, by: '10.0.0.9' },
    ]);
    expect(statistics.actions.all().map(({ what }) => what)).toEqual([
      'The Gull was stopped by 10.0.0.5',
      'The Gull was resumed by 10.0.0.5',
      'tracker 9 was given to Tobias (asked by anna)',
      'The Gull: the battery of tracker 3 was low, 18 % left',
      'spare: the battery of tracker 9 was low, 10 % left',
      'spare: tracker 9 had been charged or its battery changed, 90 %',
      'the desk was not heard any more (10.0.0.9)',
    ]);
    expect([...statistics.lowBatteries.keys()]).toEqual(['3']);
  });
});

/** Statistics of an engine that is run here, tick by tick. */
function following(text: string, held: readonly HeldLight[] = []) {
  const rig = new Rig(text);
  const statistics = new SessionStatistics(rig.show, held);
  statistics.begin({ show: rig.show, view: rig.view, tickHz: TICK_HZ }, rig.nowS);
  let heard = 0;
  const run = (seconds: number, places: Parameters<Rig['run']>[1]) =>
    rig.run(seconds, places, () => {
      statistics.ticked(rig.view, rig.nowS, rig.events.slice(heard), undefined);
      heard = rig.events.length;
    });
  const source = {
    version: '0.1.0',
    node: 'v20',
    fromS: rig.nowS,
    unixOffsetS: 0,
    notes: [],
    at: String,
    counts: createCounters(),
  };
  const report = () => makeReport(statistics, { ...source, toS: rig.nowS }, () => 'a place');
  return { rig, statistics, run, report };
}

describe('what people did', () => {
  const by = 'control socket (user anna uid 1000)';

  it('is why a performer who was left without a tracker was lost: none of theirs was silent', () => {
    const { rig, run, report } = following(HOUSE);
    run(5, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'assign', tracker: '2', performer: 'ines', cause: 'command', by });
    run(5, { 1: [2, 6], 2: [2, 6] });
    const { losses, recommendations, actions } = report();
    expect(losses).toMatchObject([
      {
        performer: 'tobias',
        cause: 'no-tracker',
        why: 'wore no tracker: tracker 2 was given to ines by anna',
      },
    ]);
    expect(recommendations.map(({ what }) => what).join()).not.toContain('tobias');
    expect(actions.map(({ what }) => what).join('\n')).toMatch(
      /tracker 2 was taken from tobias and given to ines \(asked by anna\), \d\.\d m from where ines was last tracked/,
    );
  });

  it('is told where a tracker that is somewhere else was given to somebody', () => {
    const { rig, run, report } = following(HOUSE.replace('zones:', 'spares: [7]\nzones:'));
    run(5, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'assign', tracker: '7', performer: 'tobias', cause: 'command' });
    run(12, { 1: [2, 6], 2: [8, 7], 7: [3, 2] });
    const { losses, recommendations } = report();
    expect(losses[0]).toMatchObject({ performer: 'tobias', reason: 'conflict' });
    expect(losses[0]?.why).toBe('confidence was low: their trackers were in different places');
    expect(recommendations[0]?.act).toMatch(/^Check who really wears trackers 2 and 7: /);
    // Each kind of doubt has advice of its own, though both are low confidence.
    const { recommendations: _, ...rest } = report();
    const [loss] = losses as [Report['losses'][number]];
    const both = [loss, { ...loss, reason: 'gate' as const, why: 'most reports were too far off' }];
    const acts = recommendationsOf({ ...rest, losses: both }, String).map(({ act }) => act);
    expect(acts).toContainEqual(expect.stringMatching(/^Check who really wears/));
    expect(acts).toContainEqual(expect.stringMatching(/^Look for reflections/));
  });

  it('counts a stop of everybody and one of theirs alone, in a loss for another cause too', () => {
    const { rig, run, report } = following(HOUSE);
    const both = { 1: [2, 6], 2: [8, 7] } as const;
    const order = (kind: 'stop' | 'resume', performer?: string) =>
      rig.order({ kind, performer, cause: 'command' });
    run(5, both);
    order('stop');
    run(4, both);
    order('resume');
    run(5, both);
    order('stop', 'tobias');
    run(2, both);
    order('resume', 'tobias');
    run(12, { 1: [2, 6] });
    run(5, both);
    const { performers, losses } = report();
    expect(performers.map(one => one.stops)).toEqual([1, 2]);
    expect(losses.at(-1)).toMatchObject({ performer: 'tobias', cause: 'tracker-silent' });
  });

  it('counts for whom an operator had stopped before the engine began', () => {
    const { rig, run, report } = following(HOUSE);
    rig.order({ kind: 'stop', performer: 'tobias', cause: 'restored' });
    run(6, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'resume', performer: 'tobias', cause: 'command' });
    run(3, { 1: [2, 6], 2: [8, 7] });
    const { losses, performers } = report();
    expect(losses).toMatchObject([{ performer: 'tobias', cause: 'operator-stop' }]);
    const tobias = performers.find(({ name }) => name === 'tobias');
    expect(tobias).toMatchObject({ losses: 0, stops: 1, longestLossS: 0 });
    expect(losses[0]?.forS).toBeGreaterThan(6);
    expect(performers.map(one => one.stops)).toEqual([0, 1]);
  });

  it('is one line for all, with who asked, and none for each step of it', () => {
    const { rig, run, report } = following(HOUSE);
    run(5, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'stop', performer: undefined, cause: 'command', by });
    run(4, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'resume', performer: undefined, cause: 'command', by });
    run(4, { 1: [2, 6], 2: [8, 7] });
    expect(report().actions.map(({ what }) => what)).toEqual([
      'everybody was stopped by anna',
      'ines and tobias: light at its safe values',
      'ines and tobias were resumed by anna',
      'ines and tobias: light began to return',
    ]);
  });
});

describe('a tracker that hops between corners', () => {
  it('was not late: most reports were too far off, and the advice is about that', () => {
    const { run, report } = following(HOUSE);
    run(6, { 1: [2, 6], 2: [8, 7] });
    let random = 1;
    for (let i = 0; i < 250; i++) {
      random = (random * 48271) % 2147483647;
      run(0.05, { 1: [2, 6], 2: [random & 1024 ? 1 : 9, random & 4096 ? 1 : 8] });
    }
    const { losses, recommendations } = report();
    expect(losses.map(({ performer }) => performer)).toContain('tobias');
    for (const { why } of losses) expect(why).not.toContain('late or missing');
    expect(losses[0]).toMatchObject({ cause: 'confidence-low', reason: 'gate' });
    expect(losses[0]?.why).toContain('most reports were too far off');
    expect(recommendations[0]?.act).toMatch(/^Look for reflections.*only one program sends/);
  });

  it.each([
    ['whatever began it', ['age', 0.5, 0.1], ['quality', 4, 0.1], 'quality'],
    // While they wait for the light, the least part of a good confidence is nobody's fault.
    [
      'not to what was least while they waited',
      ['conflict', 1, 0.1],
      ['quality', 4, 0.9],
      'conflict',
    ],
  ] as const)('is put down to what was worst for longest, %s', (_, first, then, main) => {
    const { statistics, rig, run, report } = following(HOUSE);
    run(6, { 1: [2, 6], 2: [8, 7] });
    run(5, { 1: [2, 6], 2: [8, 7] });
    const performer = {
      kind: 'performer',
      performer: 'tobias',
      from: 'live',
      to: 'losing',
      cause: 'confidence-low',
    } as const;
    const doubted = (
      [reason, forS, value]: readonly ['age' | 'quality' | 'conflict', number, number],
      events: EngineEvent[],
    ) => {
      const performers = rig.view.performers.map(one =>
        one.name === 'tobias'
          ? {
              ...one,
              phase: 'losing' as const,
              cause: 'confidence-low' as const,
              confidence: { ...one.confidence, value, reason },
            }
          : one,
      );
      for (let i = 0; i < forS * TICK_HZ; i++) {
        const atS = (statistics.lastFollowedS ?? 0) + 1 / TICK_HZ;
        statistics.ticked({ ...rig.view, performers }, atS, i === 0 ? events : [], undefined);
      }
    };
    doubted(first, [performer as unknown as EngineEvent]);
    doubted(then, []);
    expect(report().losses).toMatchObject([
      { reason: main, why: `confidence was low: ${DOUBTS[main]}` },
    ]);
  });
});

describe('a loss that goes on for another reason', () => {
  it('is put down to what lasted, and says how it began', () => {
    const { rig, run, report } = following(HOUSE);
    run(6, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
    run(2, { 1: [2, 6], 2: [8, 7] });
    run(2, { 1: [2, 6] });
    rig.order({ kind: 'resume', performer: 'tobias', cause: 'command' });
    run(12, { 1: [2, 6] });
    run(5, { 1: [2, 6], 2: [8, 7] });
    expect(report().losses).toMatchObject([
      {
        performer: 'tobias',
        cause: 'tracker-silent',
        why: 'stopped by an operator (4.0 s), then the tracker was not heard (13.0 s)',
      },
    ]);
  });

  it('as after a stall of the engine', () => {
    const { statistics, rig, run, report } = following(HOUSE);
    run(6, { 1: [2, 6], 2: [8, 7] });
    statistics.ticked(
      rig.view,
      rig.nowS,
      [
        {
          kind: 'performer',
          performer: 'tobias',
          from: 'live',
          to: 'safe',
          cause: 'engine-late',
          silentForS: 0,
          confidence: 1,
        },
      ],
      undefined,
    );
    run(13, { 1: [2, 6] });
    run(5, { 1: [2, 6], 2: [8, 7] });
    expect(report().losses[0]).toMatchObject({
      cause: 'tracker-silent',
      why: 'the engine was late (0.5 s), then the tracker was not heard (13.5 s)',
    });
  });

  it('tells of a stop that lasted after the tracker had died', () => {
    const { rig, run, report } = following(HOUSE);
    run(5, { 1: [2, 6], 2: [8, 7] });
    run(11, { 1: [2, 6] });
    rig.order({
      kind: 'stop',
      performer: 'tobias',
      cause: 'command',
      by: 'control socket (user anna)',
    });
    run(7, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'resume', performer: 'tobias', cause: 'command' });
    run(5, { 1: [2, 6], 2: [8, 7] });
    expect(report().losses[0]?.why).toMatch(
      /^the tracker was not heard \(1[01]\.\d s\), then stopped by anna \([78]\.\d s\)$/,
    );
  });

  it('that an operator wanted in the end is advised of for as long as it was a fault, whichever lasted longer', () => {
    const { rig, run, report } = following(HOUSE);
    run(5, { 1: [2, 6], 2: [8, 7] });
    run(6, { 1: [2, 6] });
    rig.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
    run(9, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'resume', performer: 'tobias', cause: 'command' });
    run(5, { 1: [2, 6], 2: [8, 7] });
    const { losses, recommendations } = report();
    const [loss] = losses;
    expect(loss).toMatchObject({ cause: 'operator-stop' });
    expect(loss?.parts?.reduce((sum, { forS }) => sum + forS, 0)).toBeCloseTo(loss?.forS ?? 0, 6);
    expect(recommendations.map(({ what }) => what)).toEqual([
      expect.stringMatching(
        /^tobias was lost once, [56]\.\d s in all, .*the tracker was not heard\)\.$/,
      ),
    ]);
  });

  it('of a tracker that repeated itself and then died is both, in status and report', () => {
    const { rig, run, report } = following(HOUSE);
    const walk = (i: number) => [8 - 0.02 * i, 7] as [number, number];
    for (let i = 0; i < 80; i++) run(0.1, { 1: [2, 6], 2: walk(i) });
    run(5, { 1: [2, 6], 2: walk(80) });
    run(13, { 1: [2, 6] });
    expect(report().losses[0]?.why).toMatch(
      /^the tracker was frozen \([34]\.\d s\), then the tracker was not heard \(1[23]\.\d s\)$/,
    );
    const last = rig.eventsOf('performer').findLast(one => one.performer === 'tobias');
    expect(last).toMatchObject({ cause: 'tracker-silent' });
  });

  it('is where they were before a jump, and says where the reports put them', () => {
    const { run, report } = following(HOUSE);
    run(6, { 1: [2, 6], 2: [8, 7] });
    run(6, { 1: [9, 1], 2: [8, 7] });
    const [loss] = report().losses;
    expect(loss).toMatchObject({ performer: 'ines', place: 'upstage right, stove' });
    expect([loss?.x, loss?.y]).toEqual([expect.closeTo(2, 0), expect.closeTo(6, 0)]);
    expect(loss?.why).toBe('the position jumped to downstage left');
  });

  it('keeps its cause where the other one was the shorter, or is the same tracking coming back', () => {
    const { rig, run, report } = following(HOUSE);
    run(6, { 1: [2, 6], 2: [8, 7] });
    run(8, { 1: [2, 6] });
    rig.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
    run(1, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'resume', performer: 'tobias', cause: 'command' });
    run(5, { 1: [2, 6], 2: [8, 7] });
    expect(report().losses).toMatchObject([
      { performer: 'tobias', cause: 'tracker-silent', why: 'the tracker was not heard' },
    ]);
  });
});

describe('light that was not where the engine had it', () => {
  const late = {
    cause: 'engine-late',
    why: 'the engine was late: no frame on time for 0.29 s',
  } as const;
  const still = { cause: 'engine-late', why: 'the daemon stood still for 0.31 s' } as const;

  it('followed nobody: all are lost for that time, with its cause', () => {
    const { run, report } = following(HOUSE, [
      { fromS: 1010, untilS: 1013, ...late },
      { fromS: 1020, untilS: 1022, ...still },
    ]);
    run(30, { 1: [2, 6], 2: [8, 7] });
    const { losses, recommendations, performers, actions } = report();
    const told = losses.map(({ performer, atS, forS, why }) => [
      performer,
      Math.round(atS),
      Math.round(forS),
      why,
    ]);
    expect(told).toEqual([
      ['ines', 1010, 3, late.why],
      ['tobias', 1010, 3, late.why],
      ['ines', 1020, 2, still.why],
      ['tobias', 1020, 2, still.why],
    ]);
    expect(recommendations.map(({ what }) => what)).toEqual([
      'The engine was late once; all light went to the safe look, for up to 3.0 s.',
      'The daemon stood still once; all light went to the safe look, for up to 2.0 s.',
    ]);
    const standbyLight = [{ interface: undefined, fromS: 1019, untilS: 1021, why: 'it had' }];
    const { recommendations: _, ...rest } = report();
    expect(recommendationsOf({ ...rest, standbyLight }, String).map(({ what }) => what)).toEqual([
      'The engine was late once; all light went to the safe look, for up to 3.0 s.',
      'The daemon stood still once; its standby had the light meanwhile.',
    ]);
    for (const { sinceS, followedS, stretches } of performers) {
      // 5 s of the two fades, and the second and a half before the light came up at first.
      expect(sinceS - followedS).toBeGreaterThan(4.9);
      expect(sinceS - followedS).toBeLessThan(7);
      const held = stretches.filter(({ phase }) => phase === 'held');
      expect(held.map(({ fromS, toS }) => Math.round(toS - fromS))).toEqual([3, 2]);
    }
    expect(actions.filter(({ what }) => what.includes('return'))).toEqual([]);
  });

  it('goes on for a performer who is lost when it ends, and tells nothing of their light meanwhile', () => {
    const { run, report } = following(HOUSE, [{ fromS: 1010, untilS: 1014, ...late }]);
    run(11, { 1: [2, 6], 2: [8, 7] });
    // Tobias is silent within the fade, and comes back well after it.
    run(9, { 1: [2, 6] });
    run(5, { 1: [2, 6], 2: [8, 7] });
    const { losses, actions } = report();
    expect(losses.map(({ performer }) => performer)).toEqual(['ines', 'tobias']);
    const [ines, tobias] = losses;
    expect(ines?.forS).toBeCloseTo(4, 1);
    expect(tobias?.forS).toBeGreaterThan(10);
    expect(tobias?.cause).toBe('tracker-silent');
    expect(actions.map(({ what }) => what)).toEqual(['tobias: light began to return']);
  });

  it('is the end of the evening where the daemon is told to stop', () => {
    const { run, report } = following(HOUSE, [
      { fromS: 1010, untilS: Number.POSITIVE_INFINITY, cause: 'shutdown', why: 'it was stopped' },
    ]);
    run(13, { 1: [2, 6], 2: [8, 7] });
    const { losses, endS, performers } = report();
    expect(losses).toEqual([]);
    expect(endS).toBeCloseTo(1010, 1);
    expect(performers[0]?.sinceS).toBeCloseTo(10, 0);
  });

  it('is dark where none of the outputs could send', () => {
    const one = { interface: 'eth1', cause: 'interface lost', fromS: 10, untilS: 20 } as const;
    const other = { interface: 'eth2', cause: 'no carrier', fromS: 15, untilS: 30 } as const;
    const outputs = ['heads', 'wash'].map(name => ({ name, interface: 'eth1' }));
    expect(blackouts([one, other], outputs)).toMatchObject([{ fromS: 10, untilS: 20 }]);
    const both = [...outputs, { name: 'bars', interface: 'eth2' }];
    expect(blackouts([one, other], both)).toEqual([
      {
        fromS: 15,
        untilS: 20,
        cause: 'output-down',
        why: 'no light left this machine: nothing could be sent on any lighting interface',
      },
    ]);
    expect(blackouts([one], both)).toEqual([]);
    // Of one output of two the other goes on.
    const failing = { ...one, cause: 'sends failed', output: 'heads' } as const;
    expect(blackouts([failing], outputs)).toEqual([]);
    expect(blackouts([failing, { ...failing, output: 'wash' }], outputs)).toHaveLength(1);
  });
});

it('says when the standby had the light', () => {
  const statistics = new SessionStatistics(showOf(TEXT));
  const source = { version: '', node: '', fromS: 0, toS: 90, unixOffsetS: 0, notes: [] };
  const standbyLight = [
    { interface: undefined, fromS: 14, untilS: 52, why: 'the main machine was silent' },
  ];
  const told = makeReport(
    statistics,
    { ...source, at: String, counts: createCounters(), standbyLight },
    () => 'a place',
  );
  const words = { day: String, at: String };
  const line = 'the standby had the light from 14 to 52 (38.0 s): the main machine was silent';
  expect(reportText(told, words, one => one).join('\n')).toContain(`two machines\n  ${line}\n`);
  expect(reportPage(told, showOf(TEXT), words)).toContain(line);
});

describe('an evening with more to tell than there is room', () => {
  it('keeps outages and orders to the last of them, and says what it left out', () => {
    const statistics = new SessionStatistics(showOf(TEXT));
    for (let i = 0; i < 70; i++)
      statistics.acted(i, `Universe Discovery can't be sent, ${i}`, true);
    statistics.actions.ofLight(71, 'The Gull', 'light at its safe values');
    statistics.acted(80, 'lighting interface 10.2.0.5 is lost');
    statistics.acted(88, 'the daemon had stopped');
    const source = { version: '', node: '', fromS: 0, toS: 90, unixOffsetS: 0, notes: [] };
    const told = makeReport(
      statistics,
      { ...source, at: String, counts: createCounters() },
      () => 'a place',
    );
    const text = reportText(told, { day: String, at: String }, one => one).join('\n');
    expect(text).toContain('lighting interface 10.2.0.5 is lost');
    expect(text).toContain('the daemon had stopped');
    // Of a kind that there is once: it is shown, whatever else there is.
    expect(text).toContain('The Gull: light at its safe values');
    expect(text).toContain('and 13 more; --json has them all:\n    13 like "Universe Discovery');
  });
});

describe('names', () => {
  it('are labels, those of the show that ran last; who is lost off the stage is told so once', () => {
    const first = showOf(TEXT);
    const statistics = new SessionStatistics(first);
    const begin = (show: Show, atS: number) =>
      statistics.begin(
        { show, view: viewOf(createEngine(show)), tickHz: TICK_HZ },
        atS,
        'reloaded',
      );
    begin(first, 1);
    begin(showOf(TEXT.replace('The Gull', 'The Herring Gull')), 2);
    expect(statistics.performers.map(({ label }) => label)).toContain('The Herring Gull');
    const off = { why: 'off the stage', place: 'off the stage' };
    expect(lossInWords(off)).toBe('off the stage');
    const lamp = first.fixtures.find(({ label, name }) => label !== name);
    const event = {
      kind: 'enable' as const,
      outputs: [{ fixture: lamp?.name ?? '', hazard: 'strobe' as const }],
      gate: 'on' as const,
      wasOn: false,
      reason: undefined,
      by: 'control socket (user anna uid 1000)',
    };
    statistics.ticked(viewOf(createEngine(first)), 3, [event], undefined);
    expect(statistics.actions.all().at(-1)?.what).toBe(
      `${lamp?.label} (strobe) on (asked by anna)`,
    );
  });

  it('are one for a condition: the log, the status and the report say "off the stage"', () => {
    const row = WATCHDOG_TABLE.find(({ condition }) => condition === 'out-of-bounds');
    expect(row?.title).toBe(CAUSES['out-of-bounds']);
  });
});

describe('the end of an evening', () => {
  it('that is not counted is said, however short', () => {
    const { run, report } = following(HOUSE);
    run(6, { 1: [2, 6], 2: [8, 7] });
    run(12, {});
    expect(report().notes).toEqual([expect.stringMatching(/\(11\.\d s\) nobody was followed/)]);
  });

  it('is not noted where the daemon was simply stopped', () => {
    const { run, report } = following(HOUSE);
    run(6, { 1: [2, 6], 2: [8, 7] });
    expect(report().notes).toEqual([]);
  });
});

describe('an evening with many losses', () => {
  const { report } = reportOf(recordSession(TEXT, 5));
  const at = (atS: number) => String(atS);
  const loss = (i: number) => ({
    performer: 'gull',
    atS: i,
    untilS: i + i / 10,
    cause: 'tracker-silent' as const,
    why: 'the tracker was not heard',
    frozen: [],
    reason: undefined,
    x: 1,
    y: 1,
    place: `place ${i}`,
    forS: i / 10,
  });
  const many = {
    ...report,
    losses: Array.from({ length: 50 }, (_, i) => loss(i)),
    actions: Array.from({ length: 130 }, (_, i) => ({
      atS: i,
      what: `line ${i}`,
      ...(i % 2 === 0 ? { routine: true as const } : {}),
    })),
  };
  const text = reportText(many, { at, day: at }, one => one).join('\n');

  it('shows the longest first, and says how many are left out and where they are', () => {
    const shown = [...text.matchAll(/; place (\d+)/g)].map(([, i]) => Number(i));
    expect(shown).toEqual(Array.from({ length: 20 }, (_, i) => 49 - i));
    expect(text).toContain('and 30 others (30 times the tracker was not heard); --json has them');
  });

  it('leaves out no jump and no freeze, however many others there are', () => {
    const jump = { ...loss(3), cause: 'jumped' as const, why: 'the position jumped' };
    const freeze = { ...loss(2), cause: 'frozen' as const, why: 'the tracker was frozen' };
    const common = Array.from({ length: 200 }, (_, i) => ({
      atS: i,
      what: `The Gull: tracker ${i % 5} was not heard any more`,
      minor: true as const,
    }));
    const told = reportText(
      {
        ...many,
        losses: [...many.losses, jump, freeze],
        actions: [
          ...common,
          {
            atS: 300,
            what: 'Ines: light began to fade to its safe values (the position jumped to centre)',
            routine: true,
          },
          {
            atS: 301,
            what: 'Ines: tracker 1 was frozen (it repeated the same position)',
            minor: true,
          },
        ],
      },
      { at, day: at },
      one => one,
    ).join('\n');
    expect(told).toContain('the position jumped; place 3');
    expect(told).toContain('the tracker was frozen; place 2');
    expect(told).toContain('and 32 others (32 times the tracker was not heard)');
    expect(told).toContain('(the position jumped to centre)');
    expect(told).toContain('Ines: tracker 1 was frozen');
    expect(told).toMatch(
      /and 142 more; --json has them all:\n +142 like "The Gull: tracker \d was not heard/,
    );
  });

  it('leaves out the steps of losses before anything else that happened', () => {
    // How it began, and how it ended.
    for (const line of [1, 59, 71, 129]) expect(text).toContain(`line ${line}`);
    expect(text).not.toContain('line 118');
    expect(text).not.toMatch(/^ +61 +line 61$/m);
    expect(text).toContain(
      'and 70 more; --json has them all:\n    5 like "line 61"\n    65 steps of the losses above',
    );
  });
});

describe('of two trackers of one performer', () => {
  const OF_TWO = HOUSE.replace('trackers: [2]', 'trackers: [2, 12]').replace(
    'zones:',
    'spares: [7]\nzones:',
  );
  const round = (i: number) =>
    [8 - 0.3 * Math.sin(i / 9), 7 + 0.3 * Math.cos(i / 9)] as [number, number];

  /** @param stretches for how long, and which trackers of Tobias move or hang meanwhile */
  function evening(...stretches: [number, { moves?: string[]; hangs?: string[] }][]) {
    const session = following(OF_TWO);
    const stuck = new Map<string, [number, number]>();
    let i = 0;
    for (const [seconds, { moves = [], hangs = [] }] of stretches) {
      for (const id of hangs) stuck.set(id, stuck.get(id) ?? round(i));
      for (const id of moves) stuck.delete(id);
      for (const endI = i + 10 * seconds; i < endI; i++) {
        const places = [
          ...moves.map(id => [id, round(i)]),
          ...hangs.map(id => [id, stuck.get(id)]),
        ];
        session.run(0.1, { 1: [2, 6], ...Object.fromEntries(places) });
      }
    }
    const report = session.report();
    return {
      ...session,
      silences: report.trackerSilences.map(({ tracker, how, forS, followedS }) => [
        tracker,
        how,
        Math.round(forS),
        Math.round(followedS),
      ]),
      lines: report.actions.map(({ what }) => what),
      recommended: report.recommendations.map(({ what }) => what),
      losses: report.losses,
    };
  }

  it('one dies while the other is frozen: two faults, each once, and nobody was followed in the end', () => {
    const { silences, lines, losses, recommended, rig } = evening(
      [15, { moves: ['2', '12'] }],
      [5, { moves: ['2'], hangs: ['12'] }],
      [8, { hangs: ['12'] }],
      [5, { moves: ['12'] }],
      [3, { moves: ['2', '12'] }],
    );
    expect(losses).toMatchObject([{ performer: 'tobias', cause: 'frozen', frozen: ['12'] }]);
    expect(silences).toEqual([
      ['12', 'frozen', 12, 5],
      ['2', 'silent', 13, 5],
    ]);
    expect(lines.filter(line => line.includes('tracker 2 '))).toEqual([
      'tobias: tracker 2 was not heard any more',
      'tobias: tracker 2 was heard again',
    ]);
    expect(rig.eventsOf('tracker-contact')[0]?.others).toEqual([]);
    expect(recommended).toContainEqual(
      expect.stringMatching(
        /^Tracker 2 of tobias was silent once, 13\.\d s in all; the light followed the other one for 5\.\d s of it\.$/,
      ),
    );
  });

  it('one is dead, and the other hangs for a while: one silence, not two', () => {
    const { silences, recommended } = evening(
      [15, { moves: ['2', '12'] }],
      [5, { moves: ['12'] }],
      [8, { hangs: ['12'] }],
      [5, { moves: ['12'] }],
      [3, { moves: ['2', '12'] }],
    );
    expect(silences.filter(([tracker]) => tracker === '2')).toEqual([['2', 'silent', 18, 10]]);
    expect(recommended.join('\n')).toContain('Tracker 2 of tobias was silent once, 18');
  });

  it('one hangs and then dies: frozen until it dies, then silent, and heard again', () => {
    const { silences, lines } = evening(
      [15, { moves: ['2', '12'] }],
      [5, { moves: ['2'], hangs: ['12'] }],
      [6, { moves: ['2'] }],
      [3, { moves: ['2', '12'] }],
    );
    expect(silences).toEqual([
      ['12', 'frozen', 4, 4],
      ['12', 'silent', 6, 6],
    ]);
    expect(lines).toEqual([
      'tobias: tracker 12 was frozen (it repeated the same position)',
      'tobias: tracker 12 was not heard any more; the light followed tracker 2',
      'tobias: tracker 12 was heard again',
    ]);
  });

  it('a silent spare that is given to somebody is told once', () => {
    const { run, rig, report } = following(OF_TWO);
    const on = { 1: [2, 6], 2: [8, 7], 12: [8, 7] } as const;
    run(8, on);
    rig.order({ kind: 'assign', tracker: '7', performer: 'ines', cause: 'command' });
    run(6, on);
    const { actions, trackerSilences } = report();
    expect(actions.map(({ what }) => what)).toEqual([
      'tracker 7 was given to ines, but nothing had come from it',
    ]);
    expect(trackerSilences).toMatchObject([{ tracker: '7', how: 'silent' }]);
    expect(rig.eventsOf('tracker-contact')).toMatchObject([{ tracker: '7', told: true }]);
  });
});

describe('what to fix', () => {
  const { report, show } = reportOf(recordSession(TEXT, 5));

  it('is a tracker of a pair that was frozen while the other one went on', () => {
    const [first] = recommendationsOf(
      {
        ...report,
        trackerSilences: [
          {
            performer: 'gull',
            tracker: '3',
            how: 'frozen',
            fromS: 1,
            untilS: 41,
            forS: 40,
            followedS: 40,
          },
        ],
      },
      String,
    );
    expect(first?.what).toBe(
      'Tracker 3 of The Gull was frozen once, 40.0 s in all; the light followed the other one.',
    );
  });

  it('does not advise a second tracker to whom wears two', () => {
    const { run, report: told } = following(HOUSE.replace('trackers: [2]', 'trackers: [2, 12]'));
    run(6, { 1: [2, 6], 2: [8, 7], 12: [8, 7] });
    run(4, { 1: [2, 6] });
    run(4, { 1: [2, 6], 2: [8, 7], 12: [8, 7] });
    const [first] = told().recommendations;
    expect(first?.what).toMatch(/^tobias was lost once/);
    expect(first?.act).toMatch(/^Neither of trackers 2 and 12 was heard/);
    expect(first?.act).not.toContain('second tracker');
  });

  it('is one thing of an engine that crashed and hung: the advice is the same', () => {
    const lost = (atS: number, performer: string, why: string) => ({
      performer,
      atS,
      untilS: atS + 5,
      cause: 'engine-dead' as const,
      why,
      frozen: [],
      reason: undefined,
      x: 1,
      y: 1,
      place: 'the stove',
      forS: 5,
    });
    const recommendations = recommendationsOf(
      {
        ...report,
        losses: [
          ...['ines', 'gull'].map(name => lost(10, name, 'the engine crashed')),
          ...['ines', 'gull'].map(name => lost(30, name, 'the engine crashed')),
          ...['ines', 'gull'].map(name => lost(50, name, 'the engine hung')),
        ],
      },
      String,
    );
    expect(recommendations.map(({ what }) => what)).toEqual([
      'The engine crashed twice and hung once; all light went to its safe values.',
    ]);
  });

  it('names the frozen tracker of several that the performer wore', () => {
    const { run, report: told } = following(HOUSE.replace('trackers: [2]', 'trackers: [2, 12]'));
    const walk = (i: number) => [8 - 0.02 * i, 7] as [number, number];
    for (let i = 0; i < 80; i++) run(0.1, { 1: [2, 6], 2: walk(i), 12: walk(i) });
    // One of the two is silent, and the other one hangs in the middle of a walk.
    run(6, { 1: [2, 6], 12: walk(80) });
    const [loss] = told().losses.filter(({ performer }) => performer === 'tobias');
    expect(loss).toMatchObject({ cause: 'frozen', frozen: ['12'] });
    expect(told().recommendations[0]?.act).toContain('and tracker 12:');
  });

  it('has no bracket in a bracket', () => {
    const { rig, run, report: told } = following(HOUSE);
    run(5, { 1: [2, 6], 2: [8, 7] });
    rig.order({ kind: 'assign', tracker: '2', performer: 'ines', cause: 'command' });
    run(5, { 1: [2, 6], 2: [2, 6] });
    const lines = told().actions.map(({ what }) => what);
    expect(lines).toContain(
      'tobias: light began to fade to its safe values (wore no tracker: tracker 2 was given to ines)',
    );
    expect(lines.filter(line => /\([^)]*\(/.test(line))).toEqual([]);
  });

  it('is at most five things, those that cost most first', () => {
    const weights = recommendationsOf(
      {
        ...report,
        unreached: [
          { fixture: 'head upstage', forS: 100 },
          { fixture: 'head stage left', forS: 10 },
          { fixture: 'head stage right', forS: 4 },
          { fixture: 'another', forS: 3 },
          { fixture: 'one more', forS: 2.5 },
          { fixture: 'the last', forS: 2 },
        ],
      },
      String,
    );
    expect(weights.map(({ what }) => what)).toEqual([
      'head upstage could not reach its point for 1:40 min.',
      'head stage left could not reach its point for 10.0 s.',
      'head stage right could not reach its point for 4.0 s.',
      'another could not reach its point for 3.0 s.',
      'one more could not reach its point for 2.5 s.',
    ]);
  });

  it('is no battery: those have a list of their own, from which nothing falls off', () => {
    const low = { ...report, lowBatteries: [{ tracker: '3', performer: 'gull', charge: 0.18 }] };
    expect(recommendationsOf(low, String)).toEqual([]);
    const words = { day: String, at: String };
    expect(reportText(low, words, text => text)).toContain(
      '  tracker 3 (The Gull), 18 % left: charge or change it',
    );
    expect(reportPage(low, show, words)).toContain('<li>tracker 3 (The Gull), 18 % left</li>');
  });

  it('is one of two who send a tracker, by name where the recording has them; text and page say so too', () => {
    const [gull] = report.performers.filter(({ name }) => name === 'gull');
    const tracker = gull?.trackers[0]?.id ?? '';
    const senders = [
      { from: '10.0.1.5', positions: 4000 },
      { from: '10.0.1.9', positions: 1200 },
    ];
    const doubted = {
      ...report,
      performers: report.performers.map(one =>
        one === gull ? { ...one, gatedShare: 0.4, sinceS: 600 } : one,
      ),
      trackerFeeds: [
        { tracker, input: 'tracking', protocol: 'psn' as const, positions: 5200, senders },
      ],
    };
    const both = `tracker ${tracker} had 2 senders: 10.0.1.5 to input tracking (4000) and 10.0.1.9 to input tracking (1200)`;
    const [first] = recommendationsOf(doubted, String);
    expect(first?.act).toContain(`Stop all but one of its senders: ${both}.`);
    const words = { day: String, at: String };
    const line = `PosiStageNet to input tracking from 10.0.1.5 and 10.0.1.9: tracker ${tracker}, 5200 positions`;
    expect(reportText(doubted, words, text => text)).toEqual(
      expect.arrayContaining(['who sent the positions', `  ${line}`, `  ${both}`]),
    );
    expect(reportPage(doubted, show, words)).toContain(`<p>${line}.</p>`);
    const unnamed = recommendationsOf({ ...doubted, trackerFeeds: [] }, String);
    expect(unnamed[0]?.act).toContain('Make sure that only one program sends this tracker');
  });

  it('is first of all a daemon that was gone without an end', () => {
    const [first] = recommendationsOf(
      { ...report, goneS: 77, unreached: [{ fixture: 'head', forS: 9000 }] },
      atS => `20:${atS}`,
    );
    expect(first?.what).toBe('The daemon was gone from 20:77: it did not end cleanly.');
  });

  it('is an outage of one interface at the weight of its outputs', () => {
    const outage = { interface: 'eth1', cause: 'no carrier', fromS: 10, forS: 8 } as const;
    const [first] = recommendationsOf(
      { ...report, outages: [{ ...outage, outputs: ['heads'], ofOutputs: 2 }] },
      String,
    );
    expect(first).toMatchObject({
      what: 'Output heads on interface eth1 sent nothing once, 8.0 s in all: it had no carrier.',
      // Three performers, half of the light.
      weightS: 12,
    });
  });

  it('is an outage before any hint, however short it was', () => {
    const outage = { interface: 'eth1', cause: 'sends failed', fromS: 10, forS: 6.5 } as const;
    const found = recommendationsOf(
      {
        ...report,
        outages: [{ ...outage, outputs: ['heads'], ofOutputs: 2 }],
        unreached: ['a', 'b', 'c', 'd', 'e'].map(fixture => ({ fixture, forS: 9000 })),
      },
      String,
    );
    expect(found[0]?.what).toMatch(/^Output heads on interface eth1 sent nothing once/);
  });

  it('is the desk, where nothing came from it', () => {
    const deskSilences = [12, 3].map(forS => ({ input: 'stage', forS }));
    const [first] = recommendationsOf({ ...report, deskSilences }, String);
    expect(first?.what).toMatch(
      /^Nothing came from the desk on stage (twice|2 times|2×), for 15(\.0)? s in all\.$/,
    );
  });

  it('is nothing where nothing was lost', () => {
    expect(report.recommendations).toEqual([]);
  });
});

describe('words', () => {
  it('say when somebody was off the stage', () => {
    const bounds = { min: { x: 0, y: 0, z: 0 }, max: { x: 9, y: 6, z: 3 } };
    expect(placeWords({ bounds } as Show, 8, 5)).toBe('upstage left');
    expect(placeWords({ bounds } as Show, 20, 1)).toBe('off the stage');
  });

  it('say figures as people do', () => {
    expect([0, 0.5, 0.99987, 1].map(inWords.share)).toEqual(['0 %', '50.0 %', '99.99 %', '100 %']);
    expect([0.0005, 0.0241].map(inWords.ms)).toEqual(['0.5 ms', '24 ms']);
    expect([2.54, 59.96, 61, 3723].map(inWords.duration)).toEqual([
      '2.5 s', '1:00 min', '1:01 min', '1:02:03 h',
    ]); // biome-ignore format: one row
    expect([1, 2, 3].map(inWords.times)).toEqual(['once', 'twice', '3 times']);
  });
});

describe('the histogram', () => {
  it('has quantiles to a quarter of a millisecond, and the longest as it was', () => {
    const histogram = new Histogram();
    for (let i = 1; i <= 1000; i++) histogram.add(i / 10_000);
    histogram.add(7);
    const { p50S, p95S, p99S, maxS, count } = histogram.quantiles();
    expect(count).toBe(1001);
    expect(p50S).toBeCloseTo(0.05, 3);
    expect(p95S).toBeCloseTo(0.095, 3);
    expect(p99S).toBeCloseTo(0.099, 3);
    expect(maxS).toBe(7);
    const long = new Histogram();
    for (let i = 0; i < 10; i++) long.add(3 + i);
    expect(long.quantiles().p95S).toBe(12);
    expect(new Histogram().quantiles()).toEqual({ count: 0, p50S: 0, p95S: 0, p99S: 0, maxS: 0 });
  });
});

it('who is off stage counts apart: neither followed nor lost', () => {
  const off = (tick: number): readonly OperatorAction[] =>
    tick === 8 * TICK_HZ ? [{ kind: 'off', performer: 'ines', cause: 'command' }] : [];
  const { report } = reportOf(recordSession(TEXT, 20, { orders: off }));
  const ines = report.performers.find(({ name }) => name === 'ines');
  expect(ines?.offStageS).toBeGreaterThan(5);
  expect(ines?.losses).toBe(0);
  expect(report.actions.map(({ what }) => what).join()).toMatch(/sent off stage/);
  // Heard all the time: nor do the reports count that came off stage.
  const there = reportOf(recordSession(TEXT, 20)).report.performers[0];
  expect(ines?.name).toBe(there?.name);
  expect(Math.abs((ines?.reportHz ?? 0) - (there?.reportHz ?? 0))).toBeLessThan(1);
});

it('a standstill of everything is lost from its beginning, though no tick tells of that', () => {
  const held: HeldLight[] = [];
  const { rig, statistics, run, report } = following(HOUSE, held);
  run(6, { 1: [2, 6], 2: [8, 7] });
  const fromS = rig.nowS;
  held.push({ fromS, untilS: fromS + 9, cause: 'engine-late', why: 'the daemon stood still' });
  statistics.ticked(rig.view, fromS + 6, [], undefined);
  for (let i = 1; i <= 3 * TICK_HZ; i++)
    statistics.ticked(rig.view, fromS + 6 + i / TICK_HZ, [], undefined);
  const { losses, performers } = report();
  expect(losses.length).toBeGreaterThan(1);
  for (const { atS, forS } of losses) {
    expect(atS).toBe(fromS);
    expect(forS).toBeCloseTo(9, 6);
  }
  for (const { followedS } of performers) expect(followedS).toBeLessThan(6.1);
});

it('who is off stage is not lost with those whose light is held, then or when it comes back', () => {
  const orders = (tick: number): readonly OperatorAction[] => {
    if (tick === 8 * TICK_HZ) return [{ kind: 'off', performer: 'ines', cause: 'command' }];
    return tick === 11 * TICK_HZ ? [{ kind: 'off', performer: 'tobias', cause: 'command' }] : [];
  };
  const fromS = START_S + 10;
  const held: HeldLight = { fromS, untilS: fromS + 4, cause: 'engine-late', why: 'it stood still' };
  const { report } = reportOf(recordSession(TEXT, 30, { orders }), [], [held]);
  const late = report.losses.filter(({ cause }) => cause === 'engine-late');
  // Tobias was lost until he was sent off stage; Ines never. The Gull's tracker was silent for longer.
  expect(late.map(({ performer }) => performer)).toEqual(['tobias']);
  expect(late[0]?.forS).toBeCloseTo(1, 1);
  expect(report.performers[0]?.losses).toBe(0);
  expect(report.performers[0]?.offStageS).toBeCloseTo(report.endS - START_S - 8, 0);
});

it('who is off stage stays so through a restart, heard by the new engine or not, and loses nothing by it', () => {
  const off =
    (fromTick: number) =>
    (tick: number): readonly OperatorAction[] =>
      tick === fromTick ? [{ kind: 'off', performer: 'ines', away: true, cause: 'restored' }] : [];
  const heard = (sinceS: number) => sinceS < 0;
  for (const reloaded of [[], ['run-2']]) {
    const { report } = reportOf(
      [
        ...recordSession(TEXT, 14, { orders: off(8 * TICK_HZ), heard: s => s < 8 || s > 13 }),
        ...recordSession(TEXT, 20, { run: 'run-2', fromS: 16, orders: off(0), heard }),
      ],
      reloaded,
    );
    const ines = report.performers.find(({ name }) => name === 'ines');
    const stretches = ines?.stretches.map(({ phase }) => phase) ?? [];
    const sinceRestart = ines?.stretches.filter(({ toS }) => toS > START_S + 15) ?? [];
    expect(stretches).not.toContain('no engine');
    expect(sinceRestart.map(({ phase }) => phase)).toEqual(['off']);
    // As long as anybody was followed; what comes after that is after the show.
    expect(ines?.offStageS).toBeCloseTo(report.endS - START_S - 8, 1);
    expect(report.offStage.map(({ performer }) => performer)).toEqual(['ines']);
    const engineLosses = report.losses.filter(({ atS }) => atS > 13.5);
    expect(engineLosses.map(({ performer }) => performer)).not.toContain('ines');
  }
});

it('says what to do where nobody was followed at the end, though the show went on', () => {
  const { report } = reportOf(recordSession(TEXT, 30, { heard: s => s < 10 }));
  expect(report.notes.join()).toMatch(
    /taken as the time after the show, and not counted\. If the show was still on, this is the first thing to fix\.$/,
  );
});
