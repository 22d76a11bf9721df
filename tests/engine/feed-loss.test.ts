import { describe, expect, it } from 'vitest';
import { position, Rig } from './harness.js';
import { HOUSE } from './shows.js';

/** Equal times, as in the default: the trackers' own would act first, one after the other. */
const EQUAL = HOUSE.replace('feedSilent: { after: 0.75', 'feedSilent: { after: 0.5');

const INES = [2, 6] as const;
const TOBIAS = [8, 7] as const;

function losses(rig: Rig) {
  return rig.events.filter(event => event.kind === 'performer' && event.to === 'losing');
}

describe('a feed that dies', () => {
  it('is one decision though its trackers fall silent 100 ms apart', () => {
    const rig = new Rig(EQUAL).run(4, { 1: INES, 2: TOBIAS });
    // Tracker 1 first; tracker 2, at 10 Hz, has one more report.
    rig.run(0.1, {});
    rig.send(position('2', TOBIAS));
    rig.run(2, {});
    expect(losses(rig).map(({ atS }) => atS)).toEqual([losses(rig)[0]?.atS, losses(rig)[0]?.atS]);
    const feed = rig.events.filter(event => event.kind === 'feed' && event.silent);
    // The first is of the time before anybody was heard, if that was long enough.
    expect(feed.at(-1)).toMatchObject({ performers: ['ines', 'tobias'] });
  });

  it('that has not spoken yet is told as that, and not as a loss of everybody', () => {
    const rig = new Rig(EQUAL).run(2, {}).run(3, { 1: INES }).run(2, {});
    expect(rig.eventsOf('feed')).toMatchObject([
      { silent: true, performers: [], neverHeard: true },
      { silent: false },
      { silent: true, performers: ['ines'] },
    ]);
    expect(rig.eventsOf('feed').slice(1)).not.toContainEqual(
      expect.objectContaining({ neverHeard: true }),
    );
  });

  it('and comes back elsewhere is no jump: why they were lost stays the cause', () => {
    const rig = new Rig(EQUAL).run(4, { 1: INES }).run(12, {});
    rig.run(1.5, { 1: [7, 3] });
    const back = rig.eventsOf('performer').filter(({ to }) => to === 'rearming');
    expect(back.at(-1)).toMatchObject({ from: 'safe', cause: 'feed-silent' });
  });

  it('is not assumed while anybody else is heard', () => {
    const rig = new Rig(EQUAL).run(4, { 1: INES, 2: TOBIAS }).run(2, { 2: TOBIAS });
    expect(losses(rig)).toMatchObject([{ performer: 'ines', cause: 'tracker-silent' }]);
    expect(rig.phase('tobias')).toBe('live');
  });

  it('does not shorten the patience with the last one, when the others were lost before', () => {
    const rig = new Rig(EQUAL).run(4, { 1: INES, 2: TOBIAS }).run(3, { 2: TOBIAS });
    const before = rig.nowS;
    rig.run(1, {});
    const tobias = losses(rig).at(-1);
    expect(tobias).toMatchObject({ performer: 'tobias' });
    expect((tobias?.atS ?? 0) - before).toBeGreaterThan(0.49);
  });
});
