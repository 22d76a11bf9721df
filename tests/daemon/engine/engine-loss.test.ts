import { describe, expect, it } from 'vitest';
import { EngineLoss } from '../../../src/daemon/engine/engine-loss.js';
import type { EngineEvent } from '../../../src/engine/events/events.js';
import { parseShow } from '../../../src/show/parse.js';
import { configShow } from '../../show/base.js';

const parsed = parseShow(configShow('salt-lantern'), 'a.show.yaml');
if (!parsed.ok) throw new Error('the example has errors');
const { show } = parsed;
type Performer = Extract<EngineEvent, { kind: 'performer' }>;

const ALL = ['ines', 'tobias', 'gull'];

const change = (
  performer: string,
  from: Performer['from'],
  to: Performer['to'],
  cause?: Performer['cause'],
): EngineEvent => ({ kind: 'performer', performer, from, to, cause, silentForS: 1, confidence: 0 });

describe('what is left of the fade that the engine has begun', () => {
  it('is nothing while one of those who drive is live, and the longest of all once nobody is', () => {
    const loss = new EngineLoss();
    for (const name of ['ines', 'tobias']) loss.hear(change(name, 'returning', 'live'), show, 0);
    loss.hear(change('ines', 'live', 'losing', 'jumped'), show, 10);
    expect(loss.leftS(10, ALL)).toBeUndefined();
    // Light that rests on nobody else has its time, or that of its own fade; who drives nothing has no say.
    expect(loss.leftS(10, ['ines', 'gull'])).toBeGreaterThan(0);
    expect(loss.leftS(10.5, ['ines'], 9)).toBe(8.5);
    expect(loss.leftS(10, ['gull'])).toBeUndefined();
    loss.hear(change('tobias', 'live', 'losing', 'feed-silent'), show, 10.5);
    const { feedSilent } = show.watchdog;
    expect(loss.leftS(11, ALL)).toBeCloseTo(feedSilent.fadeS - 0.5);
    // While it re-arms it goes on falling.
    loss.hear(change('tobias', 'losing', 'rearming', 'feed-silent'), show, 11);
    expect(loss.leftS(11.5, ALL)).toBeCloseTo(feedSilent.fadeS - 1);
    expect(loss.leftS(99, ALL)).toBe(0);
  });

  it('is over at the safe look, and when a new engine begins', () => {
    const loss = new EngineLoss();
    loss.hear(change('ines', 'live', 'losing', 'feed-silent'), show, 10);
    loss.hear(change('ines', 'losing', 'safe', 'feed-silent'), show, 12);
    expect(loss.leftS(12, ALL)).toBeUndefined();
    loss.hear(change('ines', 'live', 'losing', 'feed-silent'), show, 20);
    loss.forget();
    expect(loss.leftS(20, ALL)).toBeUndefined();
  });

  it('goes on in a show that goes on: who is live stays so, a loss keeps its time, who is gone has no say', () => {
    const loss = new EngineLoss();
    for (const name of ['ines', 'tobias']) loss.hear(change(name, 'returning', 'live'), show, 0);
    loss.keep(show);
    loss.hear(change('ines', 'live', 'losing', 'feed-silent'), show, 10);
    // Tobias is live, in the next show as well.
    expect(loss.leftS(11.9, ALL)).toBeUndefined();
    loss.hear(change('tobias', 'live', 'losing', 'feed-silent'), show, 10);
    loss.keep(show);
    expect(loss.leftS(11, ALL)).toBeCloseTo(show.watchdog.feedSilent.fadeS - 1);
    loss.hear(change('gull', 'returning', 'live'), show, 11);
    const { performers } = show;
    loss.keep({ performers: performers.filter(({ name }) => name !== 'gull') });
    expect(loss.leftS(11, ALL)).toBeCloseTo(show.watchdog.feedSilent.fadeS - 1);
  });

  it('is nothing of light that shows that somebody is off stage', () => {
    const loss = new EngineLoss();
    loss.hear(change('tobias', 'waiting', 'off'), show, 0);
    expect(loss.isUnderWay).toBe(false);
    loss.hear(change('ines', 'live', 'losing', 'feed-silent'), show, 10);
    expect(loss.isUnderWay).toBe(true);
    expect(loss.leftS(11, ALL)).toBeUndefined();
    expect(loss.leftS(11, ['ines'])).toBeCloseTo(show.watchdog.feedSilent.fadeS - 1);
  });
});
