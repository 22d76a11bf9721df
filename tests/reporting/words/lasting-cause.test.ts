import { describe, expect, test } from 'vitest';
import type { EngineView, PerformerView } from '../../../src/engine/view.js';
import { isOfThePlace } from '../../../src/reporting/causes/causes.js';
import { causeNow, goOn, type LossStep, Waits } from '../../../src/reporting/causes/loss-causes.js';
import { lastingCause, withoutLengths } from '../../../src/reporting/words/lasting-cause.js';

const step = (cause: LossStep['cause'], atS: number): LossStep => ({
  cause,
  atS,
  why: `for ${cause}`,
});

describe('what a loss was for', () => {
  test('is that of its longest part; what was short counts with it, so that all parts are the whole', () => {
    const steps = [
      step('operator-stop', 10),
      step('desk-lost', 11),
      step('operator-stop', 11.5),
      step('frozen', 12),
    ];
    const { cause, why, parts } = lastingCause(steps, 20);
    expect(cause).toBe('frozen');
    expect(why).toBe('for operator-stop (1.5 s), then for frozen (8.0 s)');
    expect(parts.map(part => [part.cause, part.atS, part.forS])).toEqual([
      ['operator-stop', 10, 1.5],
      ['frozen', 12, 8.5],
    ]);
    expect(withoutLengths(why)).toBe('for operator-stop, then for frozen');
  });

  test('is told with each part of 3 s or more', () => {
    const steps = [step('frozen', 0), step('desk-lost', 9), step('operator-stop', 12)];
    expect(lastingCause(steps, 14.9).parts.map(({ cause }) => cause)).toEqual([
      'frozen',
      'desk-lost',
    ]);
    expect(lastingCause(steps, 15.1).parts.map(({ forS }) => Number(forS.toFixed(6)))).toEqual([
      9, 3, 3.1,
    ]);
  });

  test('says how long the parts were together that it leaves out, so that the times add up', () => {
    const steps = [step('engine-dead', 0), step('engine-late', 1.4), step('operator-stop', 3.4)];
    expect(lastingCause(steps, 9.8).why).toBe(
      'for engine-dead (1.4 s), then for operator-stop (6.4 s), and others between (2.0 s)',
    );
  });

  test('is told without lengths where there is but one', () => {
    expect(lastingCause([step('frozen', 3), step('desk-lost', 9)], 10)).toEqual({
      ...step('frozen', 3),
      parts: [{ ...step('frozen', 3), forS: 7 }],
    });
  });

  test('goes on for another reason: of tracking there is one, but for a tracker that dies as it hangs', () => {
    const causesOf = (...causes: LossStep['cause'][]) => {
      const steps = [step(causes[0] as LossStep['cause'], 0)];
      causes.slice(1).forEach((cause, i) => {
        goOn(steps, cause, i + 1);
      });
      return steps.map(({ cause }) => cause);
    };
    expect(causesOf('tracker-silent', 'confidence-low', 'jumped')).toEqual(['tracker-silent']);
    expect(causesOf('frozen', 'confidence-low')).toEqual(['frozen']);
    expect(causesOf('frozen', 'tracker-silent')).toEqual(['frozen', 'tracker-silent']);
    expect(causesOf('tracker-silent', 'new-tracker')).toEqual(['tracker-silent']);
    expect(causesOf('jumped', 'feed-silent', 'feed-silent', 'jumped')).toEqual([
      'jumped',
      'feed-silent',
      'jumped',
    ]);
    expect(causesOf('operator-stop', 'no-tracker')).toEqual(['operator-stop', 'no-tracker']);
    expect(causesOf('frozen', 'waiting', 'waiting', 'frozen')).toEqual([
      'frozen',
      'waiting',
      'frozen',
    ]);
  });

  test('tells that nothing left the machine apart from the way back by the safe look', () => {
    const steps: LossStep[] = [{ cause: 'output-down', atS: 10, why: 'no light left' }];
    goOn(steps, 'output-down', 11, 'no light left');
    goOn(steps, 'output-down', 19.9, 'by the safe look');
    expect(lastingCause(steps, 25.6)).toMatchObject({
      cause: 'output-down',
      why: 'no light left (9.9 s), then by the safe look (5.7 s)',
    });
  });

  test('tells how long the light was waited for, and is put down to what went before', () => {
    const steps = [step('frozen', 0), step('waiting', 9)];
    const { cause, why, parts } = lastingCause(steps, 180);
    expect(cause).toBe('frozen');
    expect(why).toBe('for frozen (9.0 s), then for waiting (2:51 min)');
    expect(parts.map(({ forS }) => forS)).toEqual([9, 171]);
    expect(lastingCause(steps, 11.5).why).toBe('for frozen');
  });

  test('the light is waited for from when they are tracked well on, once that lasts', () => {
    const waits = new Waits();
    const at = (phase: PerformerView['phase'], nowS: number) =>
      waits.sinceS({ name: 'ines', phase }, nowS);
    expect([at('losing', 0), at('rearming', 1), at('rearming', 3.9)]).toEqual([
      undefined,
      undefined,
      undefined,
    ]);
    expect([at('rearming', 4), at('rearming', 9)]).toEqual([1, 1]);
    // Silent again, and well again: from then on.
    expect([at('safe', 10), at('rearming', 11), at('rearming', 13), at('rearming', 14)]).toEqual([
      undefined,
      undefined,
      undefined,
      11,
    ]);
  });
});

test('of who was never heard the watchdog says nothing: a stop, nobody heard, or this tracker', () => {
  const now = (
    performer: Partial<PerformerView>,
    view: { feedSilent?: boolean; wears?: string } = {},
  ) => {
    const { feedSilent = false, wears = 'ines' } = view;
    return causeNow(
      { feedSilent, trackers: [{ performer: wears }] } as unknown as EngineView,
      {
        name: 'ines',
        seen: false,
        stopped: false,
        cause: undefined,
        ...performer,
      } as PerformerView,
    );
  };
  expect(now({ stopped: true }, { feedSilent: true })).toBe('operator-stop');
  expect(now({}, { feedSilent: true })).toBe('feed-silent');
  expect(now({})).toBe('tracker-silent');
  expect(now({}, { wears: 'tobias' })).toBe('no-tracker');
  expect(now({ seen: true, cause: 'frozen' })).toBe('frozen');
  expect(now({ seen: true, cause: 'jumped' }, { wears: 'tobias' })).toBe('jumped');
  expect(now({ seen: true })).toBeUndefined();
});

test('the place is to blame for what happens to one performer there, and was nobody’s wish', () => {
  expect(
    ['jumped', 'tracker-silent', 'confidence-low'].every(one => isOfThePlace(one as 'jumped')),
  ).toBe(true);
  const others = ['frozen', 'feed-silent', 'operator-stop', 'no-tracker', 'engine-dead'] as const;
  expect(others.filter(isOfThePlace)).toEqual([]);
});
