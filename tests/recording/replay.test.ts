import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { ShowComparison } from '../../src/recording/comparison.js';
import type { RecordedItem } from '../../src/recording/decode.js';
import { encodeJson } from '../../src/recording/encode.js';
import { type Explained, explainReports } from '../../src/recording/explain.js';
import { Replay, type ReplayHooks } from '../../src/recording/replay.js';
import { parseShow } from '../../src/show/parse.js';
import { demand } from '../demand.js';
import { itemsOf, recordSession, START_S, TICK_HZ, UNIX_OFFSET_S } from './sessions.js';

const TEXT = readFileSync('config/salt-lantern.show.yaml', 'utf8');
const LENGTH_S = 25;
const RECORDS = recordSession(TEXT, LENGTH_S);
const END = encodeJson('end', { tick: LENGTH_S * TICK_HZ, atS: START_S + LENGTH_S });

function replay(items: readonly RecordedItem[], hooks: ReplayHooks = {}) {
  const replayed = new Replay(hooks);
  for (const item of items) {
    const fault = replayed.take(item);
    demand(fault === undefined, () => String(fault));
  }
  return replayed.finish();
}

describe('a replay', () => {
  it('gives every frame and event again', () => {
    const [run, ...others] = replay(itemsOf([...RECORDS, END]));
    expect(others).toEqual([]);
    expect(run).toMatchObject({
      ticks: LENGTH_S * TICK_HZ,
      compared: LENGTH_S * TICK_HZ,
      differing: 0,
      eventsDiffering: 0,
      gaps: 0,
      whole: true,
      endedCleanly: true,
      failed: undefined,
    });
    // Else it would prove nothing: light was moved, and the Gull was lost.
    expect(run?.view.levels.some(level => level > 0)).toBe(true);
    const lost = itemsOf(RECORDS).some(
      item => item.type === 'events' && JSON.stringify(item.value).includes('"losing"'),
    );
    expect(lost).toBe(true);
  });

  it('does so for every run of an engine that was started again', () => {
    const runs = replay(itemsOf([...RECORDS, ...recordSession(TEXT, 3, { run: 'run-2' }), END]));
    expect(
      runs.map(({ ticks, differing, endedCleanly }) => [ticks, differing, endedCleanly]),
    ).toEqual([
      [LENGTH_S * TICK_HZ, 0, false],
      [3 * TICK_HZ, 0, true],
    ]);
  });

  it('goes on with another show where the daemon did, in mid-movement', () => {
    const other = TEXT.replace(/Dimmer: \d+/, 'Dimmer: 33');
    expect(other).not.toBe(TEXT);
    const reload = { tick: 12 * TICK_HZ, text: other };
    const records = recordSession(TEXT, LENGTH_S, { reload });
    const runs = replay(itemsOf([...records, END]));
    expect(
      runs.map(({ ticks, differing, eventsDiffering, whole }) => [
        ticks,
        differing,
        eventsDiffering,
        whole,
      ]),
    ).toEqual([
      [12 * TICK_HZ, 0, 0, true],
      [(LENGTH_S - 12) * TICK_HZ, 0, 0, true],
    ]);
    // Without what was before, nobody can say where it went on from.
    const second = records.findIndex(one => itemsOf([one])[0]?.type === 'end') + 1;
    expect(replay(itemsOf([...records.slice(second), END]))).toMatchObject([{ whole: false }]);
  });

  it('carries out again what people wanted', () => {
    const swap = (tick: number) =>
      tick === 300 ? [{ kind: 'unassign' as const, tracker: '1', cause: 'command' as const }] : [];
    const items = itemsOf([...recordSession(TEXT, 15, { orders: swap }), END]);
    const told = JSON.stringify(items.filter(({ type }) => type === 'events'));
    expect(told).toContain('"unassigned"');
    expect(replay(items)[0]).toMatchObject({ differing: 0, eventsDiffering: 0 });
    const without = replay(items.filter(({ type }) => type !== 'action'));
    expect(without[0]?.differing).toBeGreaterThan(0);
  });

  it('says at which tick and in which slots it differs', () => {
    const items = itemsOf(RECORDS);
    const at = items.findIndex(item => item.type === 'frame' && item.tick === 400);
    const frame = items[at];
    if (frame?.type !== 'frame') throw new Error('no frame');
    // Slot 3 of universe 1, the lantern, at a level that it did not have.
    items[at] = { ...frame, changes: Uint8Array.of(2, 1, 251) };
    const [run] = replay(items);
    expect(run?.first?.tick).toBe(400);
    expect(run?.first?.slots[0]).toMatchObject({
      universe: 1,
      slot: 3,
      fixture: 'lantern',
      attribute: 'Dimmer',
      recorded: 251,
    });
    expect(run?.first?.unixS).toBeCloseTo(START_S + UNIX_OFFSET_S + 10, 1);
    expect(run?.differing).toBeGreaterThan(0);
  });

  it('notices an input that was another', () => {
    const items = itemsOf(RECORDS);
    const at = items.findIndex(item => item.type === 'tick' && item.tick === 300);
    const tick = items[at];
    if (tick?.type !== 'tick') throw new Error('no tick');
    items[at] = { ...tick, nowS: tick.nowS + 1e-3 };
    const [run] = replay(items);
    expect(run?.first?.tick).toBe(300);
  });

  it('notices events that were others, missing or too many', () => {
    const items = itemsOf([...RECORDS, END]);
    const at = items.findIndex(item => item.type === 'events');
    expect(replay(items.filter((_, i) => i !== at))[0]?.eventsDiffering).toBe(1);
    const changed = items.map((item, i) =>
      i === at && item.type === 'events' ? { ...item, value: { tick: 0, events: [] } } : item,
    );
    expect(replay(changed)[0]?.eventsDiffering).toBe(1);
  });

  it('says that records are missing, and holds what follows to nothing it cannot know', () => {
    const items = itemsOf(RECORDS);
    const from = items.findIndex(item => item.type === 'tick' && item.tick === 200);
    const to = items.findIndex(item => item.type === 'tick' && item.tick === 260);
    const [run] = replay([...items.slice(0, from), ...items.slice(to)]);
    expect(run?.gaps).toBe(1);
    expect(run?.ticks).toBe(LENGTH_S * TICK_HZ - 60);
  });

  it('says when the beginning of a run is missing', () => {
    const items = itemsOf(RECORDS);
    const [start] = items;
    if (start?.type !== 'start') throw new Error('no start');
    const later = {
      type: 'start' as const,
      value: { ...(start.value as object), part: 2, tick: 500 },
    };
    const at = items.findIndex(item => item.type === 'tick' && item.tick === 500);
    const [run] = replay([later, ...items.slice(at)]);
    expect(run?.whole).toBe(false);
    expect(run?.ticks).toBe(LENGTH_S * TICK_HZ - 500);
  });

  it('fails where the engine failed, and says why', () => {
    const items = itemsOf(RECORDS);
    const at = items.findIndex(item => item.type === 'tick' && item.tick === 102);
    // What was written before the step of tick 102 is the last of a process that failed in it.
    const cut = items.slice(0, at + 1);
    const [run] = replay(cut, {
      intake: ({ view }, { tick }) => {
        if (tick !== 102) return;
        view.onReport(() => {
          throw new Error('a fault of the engine');
        });
      },
    });
    expect(run?.failed).toEqual({ tick: 102, message: 'a fault of the engine' });
    expect(run?.differing).toBe(0);
    expect(run?.endedCleanly).toBe(false);
  });

  it('refuses a recording whose show is none, or that does not say what it is', () => {
    const bad = encodeJson('start', { by: 'engine' });
    const [item] = itemsOf([bad]);
    if (item === undefined) throw new Error('nothing');
    expect(new Replay().take(item)).toMatch(/does not say/);
    const [start] = itemsOf(RECORDS);
    if (start?.type !== 'start') throw new Error('no start');
    const other = { ...start, value: { ...(start.value as object), showText: 'lampwright: 1' } };
    expect(new Replay().take(other)).toMatch(/its show/);
  });
});

describe('another show over the same input', () => {
  function beside(otherText: string) {
    const other = parseShow(otherText, 'b.show.yaml');
    if (!other.ok) throw new Error(other.problems[0]?.message);
    const made: ShowComparison[] = [];
    replay(itemsOf(RECORDS), {
      began: run => made.push(new ShowComparison(run, other.show)),
      intake: (_, record, operator) => made.at(-1)?.intake(record, operator),
      ticked: tick => made.at(-1)?.ticked(tick),
    });
    const [only] = made;
    if (only === undefined) throw new Error('no run');
    return only.result();
  }

  it('that is the same does the same', () => {
    expect(beside(TEXT)).toMatchObject({
      differences: [],
      followed: [],
      onlyRecorded: [],
      onlyOther: [],
      unheardInputs: [],
      failed: undefined,
    });
  });

  it('is told apart by fixture and time: the lantern at 60 instead of 100 per cent', () => {
    const { differences } = beside(TEXT.replace('set: { Dimmer: 100 }', 'set: { Dimmer: 60 }'));
    expect(differences.map(({ fixture, attribute }) => `${fixture} ${attribute}`)).toEqual([
      'lantern Dimmer',
    ]);
    const [lantern] = differences;
    const worst = lantern?.periods.reduce((a, b) =>
      Math.abs(b.recorded - b.other) > Math.abs(a.recorded - a.other) ? b : a,
    );
    // Ines stands at the lantern from 12 to 20 s.
    expect(worst?.worstAtS).toBeGreaterThan(START_S + 10);
    expect(worst?.recorded).toBeCloseTo(100, 0);
    expect(worst?.other).toBeCloseTo(60, 0);
  });

  it('with a slower watchdog follows the lost Gull for longer', () => {
    const slower = TEXT.replace('trackerSilent: { after: 0.5,', 'trackerSilent: { after: 1.5,');
    const { followed } = beside(slower);
    expect(followed).toMatchObject([{ performer: 'gull', recordedOnlyS: 0 }]);
    // A second later, unless their confidence has fallen before.
    expect(followed[0]?.otherOnlyS).toBeGreaterThan(0.5);
    expect(followed[0]?.otherOnlyS).toBeLessThan(1.1);
  });

  it('that has no such input hears nothing, and says so', () => {
    const { unheardInputs, followed } = beside(
      TEXT.replace('  tracking:\n    listen', '  radio:\n    listen'),
    );
    expect(unheardInputs).toEqual(['tracking']);
    expect(followed).toHaveLength(3);
  });

  it('may have other fixtures', () => {
    const result = beside(TEXT.replaceAll('stove-glow', 'stove-ember'));
    expect(result.onlyRecorded).toEqual(['stove-glow']);
    expect(result.onlyOther).toEqual(['stove-ember']);
  });
});

describe('the explanation of reports', () => {
  it('has one for each position that reached a track', () => {
    const explained: Explained[] = [];
    const [run] = replay(itemsOf(RECORDS), {
      began: ({ view }) =>
        explainReports(
          view,
          () => UNIX_OFFSET_S,
          one => explained.push(one),
        ),
    });
    expect(explained).toHaveLength(run?.view.counters.positions ?? 0);
    expect(explained.length).toBeGreaterThan(1000);
    const [first] = explained;
    expect(first).toMatchObject({ performer: 'ines', tracker: '1', verdict: 'started' });
    for (const { verdict, nis, regimes, association } of explained.slice(100)) {
      const sum = Object.values(regimes).reduce((a, b) => a + b, 0);
      expect(sum).toBeCloseTo(1, 9);
      expect(nis).toBeGreaterThanOrEqual(0);
      expect(association).toBeGreaterThanOrEqual(0);
      expect(association).toBeLessThanOrEqual(1);
      expect(['accepted', 'started', 'gated', 'replayed', 'reacquired', 'duplicate']).toContain(
        verdict,
      );
    }
  });

  it('does not change the frames', () => {
    const [run] = replay(itemsOf(RECORDS), {
      began: ({ view }) =>
        explainReports(
          view,
          () => 0,
          () => undefined,
        ),
    });
    expect(run?.differing).toBe(0);
  });
});
