import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { Replay } from '../../../src/recording/replay.js';
import { SessionStatistics } from '../../../src/reporting/session-statistics.js';
import {
  itemsOf,
  recordSession,
  type SessionOptions,
  START_S,
  TICK_HZ,
} from '../../recording/sessions.js';

const TEXT = readFileSync('config/salt-lantern.show.yaml', 'utf8');

/** A session of the demo's scene, of which the recording lacks what is between two times, seconds from its start. */
function withGap(fromS: number, toS: number, lengthS: number, options: SessionOptions = {}) {
  const items = itemsOf(recordSession(TEXT, lengthS, options));
  const at = (tick: number) => items.findIndex(one => one.type === 'tick' && one.tick === tick);
  items.splice(at(fromS * TICK_HZ), at(toS * TICK_HZ) - at(fromS * TICK_HZ));
  let statistics: SessionStatistics | undefined;
  const replay = new Replay({
    began: run => {
      statistics ??= new SessionStatistics(run.show);
      statistics.begin({ ...run, tickHz: TICK_HZ }, run.fromS);
    },
    resumed: (_, goneS, backS) => statistics?.gap({ fromS: goneS, toS: backS }),
    ticked: ({ run, nowS, events, sentS }) => statistics?.ticked(run.view, nowS, events, sentS),
  });
  for (const item of items) replay.take(item);
  replay.finish();
  if (statistics === undefined) throw new Error('nothing was recorded');
  return statistics;
}

it('counts nothing of a gap in which all were followed, and nothing of the way back after it', () => {
  const { losses, performers, gaps, actions, ticks } = withGap(3, 9, 11.5);
  expect(gaps).toHaveLength(1);
  expect((gaps[0]?.fromS ?? 0) - START_S).toBeCloseTo(3, 1);
  expect((gaps[0]?.toS ?? 0) - START_S).toBeCloseTo(9, 1);
  expect(losses).toEqual([]);
  expect(actions.all().map(({ what }) => what)).toEqual([]);
  expect(ticks.late).toBe(0);
  for (const { name, sinceS, followedS, stretches } of performers) {
    // They wait for `rearm`, a second, where the session begins; after the gap nothing counts until they are followed.
    expect([name, sinceS - followedS]).toEqual([name, expect.closeTo(1, 1)]);
    expect(sinceS).toBeLessThan(3 + 2.5);
    expect(stretches.at(-1)?.phase).toMatch(/^(live|returning)$/);
  }
});

it('ends a loss with the last that is recorded of it', () => {
  const { losses } = withGap(13, 16, 30);
  expect(losses).toHaveLength(1);
  expect(losses[0]).toMatchObject({ performer: 'gull' });
  expect((losses[0]?.untilS ?? 0) - START_S).toBeCloseTo(13, 1);
});

it('counts who is still lost ten seconds after it', () => {
  const { losses } = withGap(3, 6, 20, { heard: s => s < 5 });
  expect(losses.map(({ performer }) => performer).sort()).toEqual(['gull', 'ines', 'tobias']);
  for (const { steps, atS, untilS } of losses) {
    expect(steps).toMatchObject([{ cause: 'feed-silent' }]);
    expect(atS - START_S).toBeCloseTo(16, 1);
    expect(untilS).toBeUndefined();
  }
});
