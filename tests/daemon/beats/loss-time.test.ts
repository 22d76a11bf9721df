import { describe, expect, it } from 'vitest';
import { lossTimes, shortenFades } from '../../../src/daemon/beats/loss-time.js';
import { EngineLoss } from '../../../src/daemon/engine/engine-loss.js';
import { createShowLevels } from '../../../src/daemon/levels/show-levels.js';
import { takeOverLevels } from '../../../src/daemon/levels/take-over.js';
import type { Show } from '../../../src/show/model/model.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

const opera = showOf(configShow('salt-lantern')); // fades of 2 s
const [EVENING, STORM] = [0, 1];

/** At 11.5 s half a second is left of the fade of those who are lost. */
function lossOf(lost: readonly string[], live: readonly string[]): EngineLoss {
  const loss = new EngineLoss();
  const event = { kind: 'performer', cause: 'feed-silent', silentForS: 1, confidence: 0 } as const;
  for (const performer of [...lost, ...live]) {
    loss.hear({ ...event, performer, from: 'returning', to: 'live' }, opera, 0);
  }
  for (const performer of lost) {
    loss.hear({ ...event, performer, from: 'live', to: 'losing' }, opera, 10);
  }
  return loss;
}

const fadesOf = ({ fixtures }: Show, fadeS: ArrayLike<number>) =>
  Object.fromEntries(fixtures.map(({ name }, i) => [name, fadeS[i]]));

function shortened(cue: number, loss: EngineLoss) {
  const levels = createShowLevels(opera, cue);
  shortenFades(levels, lossTimes([levels], loss, 11.5));
  return fadesOf(opera, levels.fallback.fadeS);
}

describe('a loss that the engine has begun', () => {
  it('shortens the fades of what the lost ones drive in this cue, and of nothing else', () => {
    const storm = shortened(STORM, lossOf(['ines', 'tobias'], ['gull']));
    expect(storm).toMatchObject({ 'head-right': 0.5, 'head-left': 0.5, 'lantern-glow': 0.5 });
    // She is live; a wave drives it, whoever is lost; nobody drives it in this cue, or in any.
    expect(storm).toMatchObject({ 'head-back': 2, 'stove-glow': 2 });
    expect(storm).toMatchObject({ 'harbour-lamp': 2, 'window-glow': 2 });
    const evening = shortened(EVENING, lossOf(['ines', 'tobias', 'gull'], []));
    expect(evening).toMatchObject({ 'harbour-lamp': 0.5, 'window-glow': 0.5 });
  });

  it('shortens none where nobody is lost, or who is lost drives nothing', () => {
    const whole = fadesOf(opera, createShowLevels(opera, STORM).fallback.fadeS);
    expect(shortened(STORM, lossOf([], ['ines', 'tobias', 'gull']))).toEqual(whole);
    const stranger = shortened(STORM, lossOf(['a-walk-on'], []));
    expect(stranger).toEqual(whole);
  });

  it('shortens what the lost ones drive in a cue of which some may still show', () => {
    const levels = createShowLevels(opera, STORM);
    const before = createShowLevels(opera, EVENING);
    const lost = lossOf(['ines', 'tobias', 'gull'], []);
    shortenFades(levels, lossTimes([levels, before], lost, 11.5));
    // In the storm nobody drives them.
    const fades = fadesOf(opera, levels.fallback.fadeS);
    expect(fades).toMatchObject({ 'harbour-lamp': 0.5, 'window-glow': 0.5, 'head-back': 0.5 });
    // She is the one who lit it, and is live.
    const live = createShowLevels(opera, STORM);
    shortenFades(live, lossTimes([live, before], lossOf([], ['gull', 'ines', 'tobias']), 11.5));
    expect(fadesOf(opera, live.fallback.fadeS)).toMatchObject({ 'harbour-lamp': 2 });
  });

  it('keeps its time in another show, on the slots where its light is', () => {
    const before = createShowLevels(opera, EVENING);
    before.fallback.phase = 'live';
    const times = lossTimes([before], lossOf(['ines', 'tobias', 'gull'], []), 11.5);
    const text = configShow('salt-lantern');
    const next = showOf(
      text.replace('address: 31,', 'address: 41,').replace('address: 2,', 'address: 51,'),
    );
    const levels = takeOverLevels(next, before, EVENING);
    shortenFades(levels, times);
    const fades = fadesOf(next, levels.fallback.fadeS);
    expect(fades).toMatchObject({ 'stove-glow': 0.5, 'head-back': 0.5, 'window-glow': 2 });
  });
});
