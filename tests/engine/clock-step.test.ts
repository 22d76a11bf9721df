import { describe, expect, it } from 'vitest';
import { position, Rig, TICK_HZ, UNIX_OFFSET_S } from './harness.js';
import { HOUSE } from './shows.js';

const HOUR_S = 3600;
const AT = [2, 6] as const;
const LIVE_S = 5;

/** Levels of each tick while somebody sets the machine's clock, or doesn't. */
function levelsWith(stepS: number): string[] {
  const rig = new Rig(HOUSE);
  const levels: string[] = [];
  for (let i = 0; i < 12 * TICK_HZ; i++) {
    if (i === LIVE_S * TICK_HZ) rig.unixOffsetS += stepS;
    rig.send(position('1', [AT[0] + i / 1000, AT[1]]));
    levels.push(Buffer.from(rig.tick()).toString('base64'));
  }
  return levels;
}

describe('the system clock is stepped by an hour', () => {
  it.each([HOUR_S, -HOUR_S])('by %i s: no slot of any tick is another', stepS => {
    expect(levelsWith(stepS)).toEqual(levelsWith(0));
  });

  /** Reports tagged with the sender's time, which stays right. */
  function tagged(rig: Rig, seconds: number): void {
    for (let i = 0; i < seconds * TICK_HZ; i++) {
      rig.send({ timeTag: rig.nowS + UNIX_OFFSET_S, elements: [position('1', AT)] });
      rig.tick();
    }
  }

  it('forward, with a sender that tags its messages: they are due at once (OSC 1.0)', () => {
    const rig = new Rig(HOUSE);
    tagged(rig, LIVE_S);
    expect(rig.phase('ines')).toBe('live');
    rig.unixOffsetS += HOUR_S;
    tagged(rig, LIVE_S);
    expect(rig.phase('ines')).toBe('live');
    expect(rig.eventsOf('performer').filter(event => event.to === 'losing')).toEqual([]);
  });

  it('backward: they would be due in an hour; that is refused, counted, and the light goes to safe', () => {
    const rig = new Rig(HOUSE);
    tagged(rig, LIVE_S);
    rig.unixOffsetS -= HOUR_S;
    tagged(rig, LIVE_S);
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.view.counters.drops['time-tag-too-late']).toBe(LIVE_S * TICK_HZ);
    // Set right again, all comes back by itself.
    rig.unixOffsetS += HOUR_S;
    tagged(rig, LIVE_S);
    expect(rig.phase('ines')).toBe('live');
  });
});
