import { readFileSync } from 'node:fs';
import { describe, expect, it, test } from 'vitest';
import { parseScene } from '../../../src/rehearsal/scenes/scene-file.js';
import { rehearsalText } from '../../../src/reporting/pages/rehearsal-text.js';
import { reportPage } from '../../../src/reporting/pages/report-page.js';
import { reportText } from '../../../src/reporting/pages/report-text.js';
import { reportRehearsal } from '../../../src/reporting/rehearsal.js';
import { makeReport } from '../../../src/reporting/report.js';
import { SessionStatistics } from '../../../src/reporting/session-statistics.js';
import {
  leftInWords,
  OffStageTimes,
  offStageFor,
  reportedOffStage,
} from '../../../src/reporting/words/off-stage-times.js';
import { Rig } from '../../engine/harness.js';
import { SOLO } from '../../engine/shows.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

const LANTERN = showOf(configShow('salt-lantern'));

describe('an evening of The Salt Lantern with three cues, an exit and a loss', () => {
  const text = readFileSync('config/scenes/three-cues.scene.yaml', 'utf8');
  const read = parseScene(text, 'a.scene.yaml', LANTERN, () => ({ ok: false, why: 'none' }));
  if (!read.ok) throw new Error(read.problems[0]?.message);
  const clock = { startS: 0, unixOffsetS: 1_764_099_000, tickHz: 40, rounds: 1 };
  const at = (atS: number) =>
    new Date(1000 * (atS + clock.unixOffsetS)).toISOString().slice(11, 19);
  const rehearsed = reportRehearsal(
    LANTERN,
    read.scene,
    clock,
    { version: '0.1.0', node: 'v20' },
    at,
  );
  const { report } = rehearsed;
  const plain = (line: string) => line;

  it('has Tobias off stage by the wing, and only the Gull lost', () => {
    expect(report.losses.map(({ performer }) => performer)).toEqual(['gull']);
    expect(report.offStage).toMatchObject([
      { performer: 'tobias', exit: 'wing-right', exitLabel: 'stage right wing', by: undefined },
    ]);
    // He is in the wing from 48 s on, and on his way out from 62 s on.
    const [off] = report.offStage;
    expect(off?.fromS).toBeGreaterThan(45);
    expect(off?.fromS).toBeLessThan(49.1);
    expect(off?.untilS).toBeGreaterThan(63);
    expect(off?.untilS).toBeLessThan(67);
    const tobias = report.performers.find(({ name }) => name === 'tobias');
    expect(tobias).toMatchObject({ losses: 0, offStageS: off?.forS });
    // All but the second of `rearm` at the beginning.
    expect((tobias?.sinceS ?? 0) - (tobias?.followedS ?? 0)).toBeCloseTo(1, 1);
    expect((tobias?.sinceS ?? 0) + (off?.forS ?? 0)).toBeCloseTo(90, 0);
  });

  it('reads as the guide shows it', () => {
    const guide = readFileSync('docs/guides/after-the-show.md', 'utf8');
    const shown = /```\n(The Salt Lantern, [\s\S]*?)\n```/.exec(guide)?.[1] ?? '';
    const lines = reportText(report, { day: s => `2025-11-25 ${at(s)}`, at }, plain);
    expect(shown.split('\n').length).toBeGreaterThan(20);
    // The page leaves out what comes after: its last line is then "...".
    expect(lines.map(line => line.trimEnd()).join('\n')).toContain(
      shown.replace(/\n\.\.\.$/, '\n'),
    );
  });

  it('has it on the page, in colour, and in the rehearsal', () => {
    const html = reportPage(report, LANTERN, { day: at, at });
    expect(html).toContain('<title>off stage, ');
    expect(html).toMatch(/Off stage, and not lost[\s\S]*by the stage right wing/);
    const lines = rehearsalText(rehearsed, at, plain).join('\n');
    expect(lines).toMatch(/off stage, not lost\n.*Tobias .*by the stage right wing/);
    // He was not trusted yet when he came to the steps: no loss, and no fault of the zone.
    const steps = rehearsed.zones.find(({ zone }) => zone === 'harbour steps');
    expect(steps).toMatchObject({ visits: 1, comingOn: 1, duringLoss: 0, missed: 0 });
  });
});

const EXIT = 'exits: { door: { polygon: [[9, 0], [14, 0], [14, 8], [9, 8]] } }\n';

describe('how somebody left', () => {
  const rig = new Rig(`${SOLO}${EXIT}`);
  const times = new OffStageTimes(exit => exit.toUpperCase());
  const run = (seconds: number, on: Parameters<Rig['run']>[1]) =>
    rig.run(seconds, on, now => {
      times.ticked(
        now.view,
        now.events.filter(({ atS }) => atS === now.nowS),
        now.nowS,
      );
    });
  run(3, { 1: [2, 6] });
  rig.order({
    kind: 'off',
    performer: 'ines',
    cause: 'command',
    by: 'control socket (user anna uid 7)',
  });
  run(3, { 1: [2, 6] });
  rig.order({ kind: 'on', performer: 'ines', cause: 'command' });
  run(3, { 1: [2, 6] });
  for (let x = 2; x < 12; x += 0.1) run(0.1, { 1: [x, 6] });
  run(4, {});

  it('is by whom they were sent, or by which exit; the last one goes on to the end', () => {
    const [sent, left, ...more] = reportedOffStage(times.all, rig.nowS);
    expect(more).toEqual([]);
    expect(sent && leftInWords(sent)).toBe('sent off by anna');
    expect(sent?.forS).toBeCloseTo(3, 0);
    expect(left && leftInWords(left)).toBe('by the DOOR');
    expect(left && offStageFor(left)).toMatch(/^\d\.\d s to the end$/);
  });

  it('counts nothing after the show', () => {
    const [sent] = times.all;
    const endS = (sent?.fromS ?? 0) + 1;
    expect(reportedOffStage(times.all, endS)).toMatchObject([{ untilS: undefined, forS: 1 }]);
    expect(reportedOffStage(times.all, sent?.fromS ?? 0)).toEqual([]);
  });
});

test('whoever is off stage is not lost with an engine, and is one absence before and after it', () => {
  const show = `${SOLO}${EXIT}`;
  const statistics = new SessionStatistics(showOf(show));
  const play = (rig: Rig, seconds: number, on: Parameters<Rig['run']>[1]) =>
    rig.run(seconds, on, ({ view, events, nowS }) => {
      statistics.ticked(
        view,
        nowS,
        events.filter(({ atS }) => atS === nowS),
        undefined,
      );
    });
  const first = new Rig(show);
  statistics.begin({ show: first.show, view: first.view, tickHz: 40 }, first.nowS);
  play(first, 3, { 1: [2, 6] });
  first.order({ kind: 'off', performer: 'ines', cause: 'command' });
  play(first, 3, {});
  const offS = first.nowS;
  const second = new Rig(show);
  second.nowS = offS + 5;
  second.order({ kind: 'off', performer: 'ines', away: true, cause: 'restored' });
  statistics.begin({ show: second.show, view: second.view, tickHz: 40 }, second.nowS, 'crashed');
  play(second, 3, {});
  expect(statistics.losses).toEqual([]);
  expect(statistics.offStage.all).toHaveLength(1);
  const [ines] = statistics.performers;
  expect(ines?.stretches.map(({ phase }) => phase)).not.toContain('no engine');
});

test('whoever is off stage through a whole recording is nobody to look for, and was not sent off again', () => {
  const rig = new Rig(`${SOLO}${EXIT}`);
  const { show } = rig;
  const statistics = new SessionStatistics(show);
  statistics.begin({ show, view: rig.view, tickHz: 40 }, rig.nowS);
  rig.order({ kind: 'off', performer: 'ines', away: true, cause: 'restored' });
  rig.run(6, {}, ({ view, events, nowS }) => {
    const own = events.filter(({ atS }) => atS === nowS);
    statistics.ticked(view, nowS, own, undefined);
  });
  statistics.countToEnd();
  const counts = {
    drops: { 'sender-not-allowed': 3 },
    duplicates: 0,
    outOfOrder: 0,
    invalid: 0,
    from: { 'sender-not-allowed': '10.0.0.99' },
  };
  const source = { version: '', node: '', fromS: rig.nowS - 6, toS: rig.nowS, unixOffsetS: 0 };
  const told = makeReport(statistics, { ...source, notes: [], at: String, counts }, () => '');
  expect(told.recommendations).toEqual([]);
  expect(told.actions.map(({ what }) => what)).toContain('ines was off stage, as before');
  const lines = reportText(told, { day: String, at: String }, line => line).join('\n');
  expect(lines).toMatch(/ines +off stage \d\.\d s, never heard/);
  expect(lines).toContain(
    'dropped: 3 sender-not-allowed (datagrams from a machine that the show does not allow; the last from 10.0.0.99)',
  );
});
