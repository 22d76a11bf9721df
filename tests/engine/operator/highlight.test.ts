import { describe, expect, test } from 'vitest';
import { answerInWords } from '../../../src/daemon/asking/answers.js';
import { createEngine } from '../../../src/engine/engine.js';
import { step } from '../../../src/engine/step.js';
import { takeOver } from '../../../src/engine/take-over/take-over.js';
import type { OperatorAction } from '../../../src/engine/values/operator-action.js';
import { viewOf } from '../../../src/engine/view.js';
import { happeningOf } from '../../../src/reporting/measures/happenings.js';
import { labelsOf } from '../../../src/show/model/labels.js';
import { Rig } from '../harness.js';
import { KEPT } from '../keep-out-show.js';
import { SOLO } from '../shows.js';

/** A head with a shutter and a wheel, as its maker says it is found; a laser; a plain lamp. */
const FOCUS = SOLO.replace(
  'fixtures:\n',
  `profiles:
  spot:
    channels:
      - { attribute: Dimmer }
      - { attribute: Shutter1, values: { closed: [0, 9], open: [10, 19] }, default: closed, highlight: open }
      - { attribute: Color1, values: { white: [0, 9], red: [10, 19] }, default: red }
      - { attribute: ColorSub_C }
      - { attribute: ColorSub_M, highlight: 10 }
  beam: { hazard: laser, channels: [{ attribute: Dimmer }] }
fixtures:
  spot: { label: Spot 3, profile: spot, universe: 1, address: 101, base: { ColorSub_C: 80 } }
  beam: { profile: beam, universe: 1, address: 201 }
`,
).replace('outputs:\n', 'operator: { port: 9011 }\noutputs:\n');

const HERE = [2, 6] as const;

const highlight = (
  fixture: string | undefined,
  more: { whileTracked?: true } = {},
): OperatorAction => ({ kind: 'highlight', fixture, cause: 'command', id: 1, ...more }) as const;

function focused(text = FOCUS): Rig {
  const rig = new Rig(text).run(1, {});
  rig.order(highlight('spot'));
  return rig;
}

const ends = (rig: Rig) =>
  rig.eventsOf('highlight').flatMap(({ on, reason }) => (on ? [] : [reason]));

describe('an empty stage', () => {
  test('shows the fixture as its profile says, and the rest at full, open and white; over half a second', () => {
    const rig = focused();
    expect(rig.level('spot')).toBe(0);
    rig.run(0.25, {});
    expect(rig.level('spot')).toBeGreaterThan(30);
    expect(rig.level('spot')).toBeLessThan(70);
    rig.run(0.5, {});
    expect(rig.level('spot')).toBe(100);
    expect(rig.level('spot', 'ColorSub_C')).toBe(0);
    expect(rig.level('spot', 'ColorSub_M')).toBeCloseTo(10, 0);
    const { plan } = rig.light('spot');
    const shutter = plan.profile.channels.find(one => one.attribute === 'Shutter1');
    expect(rig.level('spot', 'Shutter1')).toBe(shutter?.values.get('open'));
    // Nothing is said of the wheel: it stays.
    const wheel = plan.profile.channels.find(one => one.attribute === 'Color1');
    expect(rig.level('spot', 'Color1')).toBe(wheel?.values.get('red'));
  });

  test('leaves a head where it points, and all other lights as they are', () => {
    const rig = new Rig(FOCUS).run(1, {});
    const before = [rig.level('head', 'Pan'), rig.level('head', 'Tilt'), rig.level('stove-glow')];
    rig.order(highlight('head'));
    rig.run(2, {});
    expect(rig.level('head')).toBe(100);
    expect([rig.level('head', 'Pan'), rig.level('head', 'Tilt'), rig.level('stove-glow')]).toEqual(
      before,
    );
  });

  test('one at a time: another takes its place', () => {
    const rig = focused().run(1, {});
    rig.order(highlight('head'));
    rig.run(1, {});
    expect(rig.level('spot')).toBe(0);
    expect(rig.level('head')).toBe(100);
    const [, off, on] = rig.eventsOf('highlight');
    expect([off, on]).toMatchObject([
      { fixture: 'spot', on: false, reason: 'replaced' },
      { fixture: 'head', on: true },
    ]);
    expect(off && happeningOf(off, labelsOf(rig.show))).toBe(
      'Spot 3 was no longer highlighted: another fixture was highlighted instead',
    );
  });

  test('orders of one tick are answered one after the other', () => {
    const rig = new Rig(FOCUS).run(1, {});
    for (const fixture of ['spot', 'spot', undefined, undefined, 'head'])
      rig.order(highlight(fixture));
    rig.run(1, {});
    const labels = labelsOf(rig.show);
    expect(rig.eventsOf('operator-done').map(done => answerInWords(done, labels))).toEqual([
      'Spot 3 is highlighted for a minute; a stop, or somebody who is tracked, ends it.',
      'Spot 3 is highlighted for another minute.',
      'The highlight is off.',
      'No fixture is highlighted.',
      'head is highlighted for a minute; a stop, or somebody who is tracked, ends it.',
    ]);
    expect([rig.level('spot'), rig.level('head')]).toEqual([0, 100]);
  });

  test('ends by itself after a minute, which begins anew when it is asked again', () => {
    const rig = focused().run(50, {});
    rig.order(highlight('spot'));
    rig.run(50, {});
    expect(rig.level('spot')).toBe(100);
    rig.run(11, {});
    expect(rig.level('spot')).toBe(0);
    expect(ends(rig)).toEqual(['time']);
  });

  test('is off when it is told so, and when anybody is stopped', () => {
    const rig = focused().run(1, {});
    rig.order(highlight(undefined));
    rig.run(1, {});
    expect(rig.level('spot')).toBe(0);
    rig.order(highlight('spot'));
    rig.run(1, {});
    rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
    rig.run(1, {});
    expect(rig.level('spot')).toBe(0);
    expect(ends(rig)).toEqual([undefined, 'stopped']);
    // A stop that holds is no reason against it: nobody's light is out.
    rig.order(highlight('spot'));
    rig.run(1, {});
    expect(rig.level('spot')).toBe(100);
  });

  test('a hazardous output stays off without its enable, and the answer says so', () => {
    const rig = new Rig(FOCUS).run(1, {});
    rig.order(highlight('beam'));
    rig.run(1, {});
    expect(rig.level('beam')).toBe(0);
    const labels = labelsOf(rig.show);
    const [done] = rig.eventsOf('operator-done');
    expect(done && answerInWords(done, labels)).toBe(
      'beam is highlighted for a minute, but its laser output stays off: the enable is not held.',
    );
    const [on] = rig.eventsOf('highlight');
    expect(on && happeningOf(on, labels)).toBe(
      'beam was highlighted, but its laser output stays off: the enable is not held',
    );
    const hold = (held: boolean): OperatorAction => ({
      kind: 'hold',
      hazard: 'laser',
      held,
      cause: 'command',
    });
    // In one breath with the highlight it counts already.
    rig.order(hold(true));
    rig.order(highlight('beam'));
    rig.run(0.1, {});
    expect(rig.level('beam')).toBe(100);
    expect(rig.eventsOf('operator-done').at(-1)?.keptOff).toBeUndefined();
    rig.order(hold(false));
    rig.order(highlight('beam'));
    rig.run(0.1, {});
    expect(rig.level('beam')).toBe(0);
    expect(rig.eventsOf('operator-done').at(-1)?.keptOff).toEqual([
      { fixture: 'beam', hazard: 'laser', reason: 'not-repeated' },
    ]);
  });

  test('one whose enable is held, and that is latched off all the same, says why', () => {
    const rig = new Rig(FOCUS).run(1, {});
    rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
    rig.run(0.1, {});
    const answers: (string | undefined)[] = [];
    for (let i = 0; i < 2; i++) {
      rig.order({ kind: 'hold', hazard: 'laser', held: true, cause: 'command' });
      rig.order(highlight('beam'));
      rig.run(0.1, {});
      const done = rig.eventsOf('operator-done').at(-1);
      answers.push(done && answerInWords(done, labelsOf(rig.show)));
    }
    const why =
      'but its laser output stays off: everybody is stopped. Release, and press again once everybody has been resumed.';
    expect(answers).toEqual([
      `beam is highlighted for a minute, ${why}`,
      `beam is highlighted for another minute, ${why}`,
    ]);
  });

  test('of a group each class is said once, after what stays dark, and a strobe that its highlight does not start is none', () => {
    const many = FOCUS.replace(
      'fixtures:\n',
      `keepOut: { pit: { polygon: [[4, 3], [6, 3], [6, 5], [4, 5]], height: [-1, 1] } }
groups: { all: [head, beam, beam-2, hazer, flash] }
fixtures:
  beam-2: { label: Beam two, profile: beam, universe: 1, address: 211 }
  hazer: { profile: hazer, universe: 1, address: 221 }
  flash: { profile: flash, universe: 1, address: 231 }
`,
    ).replace(
      'profiles:\n',
      `profiles:
  hazer: { hazard: atmospheric, channels: [{ attribute: Haze1, highlight: 30 }] }
  flash: { channels: [{ attribute: Dimmer }, { attribute: Shutter1Strobe, values: { open: [0, 9], fast: [10, 255] }, default: open, highlight: open }] }
`,
    );
    const rig = new Rig(many).run(1, {});
    rig.order(highlight('all'));
    rig.run(1, {});
    const [done] = rig.eventsOf('operator-done');
    expect(done && answerInWords(done, labelsOf(rig.show))).toBe(
      'all is highlighted for a minute, but head stays dark: where it points, its beam would touch the keep-out pit; the laser outputs of Beam two and beam stay off: the enable is not held; the atmospheric output of hazer stays off: the enable is not held.',
    );
    expect([rig.level('hazer', 'Haze1'), rig.level('flash')]).toEqual([0, 100]);
  });

  test('a shutter that its highlight would have flash stays as it is, unless the enable of strobe is held', () => {
    const flash = (highlighted: string) =>
      FOCUS.replace(
        'profiles:\n',
        `profiles:
  flash: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { closed: [0, 9], open: [10, 19], strobe: [20, 255] }, default: open, highlight: ${highlighted} }] }
`,
      ).replace(
        'fixtures:\n',
        'fixtures:\n  flash: { profile: flash, universe: 1, address: 231 }\n',
      );
    const answer = (rig: Rig) => {
      rig.order(highlight('flash'));
      rig.run(1, {});
      const done = rig.eventsOf('operator-done').at(-1);
      return done && answerInWords(done, labelsOf(rig.show));
    };
    const open = new Rig(flash('open')).run(1, {});
    expect(answer(open)).toMatch(/^flash is highlighted for a minute; /);
    const rig = new Rig(flash('strobe')).run(1, {});
    const [first] = [rig.light('flash').plan.firstSlot];
    const shutter = () => rig.view.levels[first + 1];
    const rests = shutter();
    expect(answer(rig)).toBe(
      'flash is highlighted for a minute, but its strobe output stays off: the enable is not held.',
    );
    expect([rig.level('flash'), shutter()]).toEqual([100, rests]);
    rig.order({ kind: 'hold', hazard: 'strobe', held: true, cause: 'command' });
    expect(answer(rig)).toBe('flash is highlighted for another minute.');
    rig.order({ kind: 'hold', hazard: 'strobe', held: true, cause: 'command' });
    rig.run(0.2, {});
    expect(shutter()).toBeGreaterThanOrEqual(20);
  });

  test('a head whose beam would be in a keep-out stays dark', () => {
    const kept = FOCUS.replace(
      'fixtures:\n',
      'keepOut: { pit: { polygon: [[4, 3], [6, 3], [6, 5], [4, 5]], height: [-1, 1] } }\nfixtures:\n',
    );
    const rig = new Rig(kept).run(1, {});
    rig.order(highlight('head'));
    rig.run(2, {}, () => expect(rig.level('head')).toBe(0));
    const labels = labelsOf(rig.show);
    const [done] = rig.eventsOf('operator-done');
    expect(done && answerInWords(done, labels)).toBe(
      'head is highlighted for a minute, but stays dark: where it points, its beam would touch the keep-out pit.',
    );
    const [on] = rig.eventsOf('highlight');
    expect(on && happeningOf(on, labels)).toBe(
      'head was highlighted, but stays dark: where it points, its beam would touch the keep-out pit',
    );
    rig.order(highlight('head'));
    rig.run(1, {});
    const again = rig.eventsOf('operator-done').at(-1);
    expect(again && answerInWords(again, labels)).toMatch(
      /for another minute, but stays dark: .* pit\.$/,
    );
  });

  test('one whose beam only its highlight has so wide is dark at the slots, and says so', () => {
    const wide = KEPT.replace('range: [8, 40] }', 'range: [8, 40], highlight: 40 }').replace(
      'aim: [4, 6, 0]',
      'aim: [5, 1.8, 0]',
    );
    const rig = new Rig(wide).run(1, {});
    rig.order(highlight('side'));
    rig.run(0.1, {});
    // By itself it is clear: it is the Zoom of its highlight with which it shines into the audience.
    expect(rig.light('side').keepOut).toBeUndefined();
    expect(rig.eventsOf('operator-done')[0]?.keptDark).toEqual([
      { fixture: 'side', keepOut: 'audience' },
    ]);
  });

  test('of a group all are shown, and what their cells share; who stays dark is said by name', () => {
    const kept = FOCUS.replace(
      'fixtures:\n',
      `keepOut: { pit: { polygon: [[4, 3], [6, 3], [6, 5], [4, 5]], height: [-1, 1] } }
groups: { front: [spot, head, bar] }
fixtures:
  bar: { label: Row, profile: bar, universe: 1, address: 301, cells: {} }
`,
    ).replace(
      'profiles:\n',
      'profiles:\n  bar: { channels: [{ attribute: Shutter1, slots: [1], values: { closed: [0, 9], open: [10, 19] }, default: closed, highlight: open }, { attribute: Dimmer, slots: [2], copies: [[3]] }] }\n',
    );
    const rig = new Rig(kept).run(1, {});
    rig.order(highlight('front'));
    rig.run(1, {});
    const levels = () => ['spot', 'head', 'bar-1', 'bar-2'].map(one => rig.level(one));
    expect(levels()).toEqual([100, 0, 100, 100]);
    const open = rig.light('bar-body').plan.profile.channels[0]?.values.get('open');
    expect(rig.level('bar-body', 'Shutter1')).toBe(open);
    const [done] = rig.eventsOf('operator-done');
    expect(done && answerInWords(done, labelsOf(rig.show))).toBe(
      'front is highlighted for a minute, but head stays dark: where it points, its beam would touch the keep-out pit.',
    );
    // Another takes its place, whole.
    rig.order(highlight('bar'));
    rig.run(1, {});
    expect(levels()).toEqual([0, 0, 100, 100]);
    const bar = rig.eventsOf('operator-done').at(-1);
    expect(bar && answerInWords(bar, labelsOf(rig.show))).toMatch(
      /^Row is highlighted for a minute;/,
    );
    rig.order(highlight(undefined));
    rig.run(1, {});
    expect(levels()).toEqual([0, 0, 0, 0]);
  });

  test('is gone after a stall, when the supervisor has had the light', () => {
    const rig = focused().run(1, {});
    rig.tick(2);
    expect(rig.level('spot')).toBe(0);
    expect(ends(rig)).toEqual(['stalled']);
    rig.run(2, {});
    expect(rig.level('spot')).toBe(0);
  });
});

describe('while somebody is tracked', () => {
  test('it is refused, and says what would do', () => {
    const rig = new Rig(FOCUS).run(3, { 1: HERE });
    rig.order(highlight('spot'));
    rig.run(1, { 1: HERE });
    expect(rig.level('spot')).toBe(0);
    expect(rig.eventsOf('operator-refused')[0]?.reason).toBe(
      'performers are tracked, and a highlight is for focusing; stop everybody first, or say while-tracked after the fixture',
    );
  });

  test('it ends when somebody comes', () => {
    const rig = focused().run(1, {});
    rig.run(4, { 1: HERE });
    expect(rig.level('spot')).toBe(0);
    expect(ends(rig)).toEqual(['tracked']);
  });

  test('a head moves in the dark when its performer is lost, and when they are back', () => {
    const rig = new Rig(SOLO).run(5, { 1: [8, 5] });
    rig.order(highlight('head', { whileTracked: true }));
    rig.run(1, { 1: [8, 5] });
    expect(rig.level('head')).toBe(100);
    const place = () => [rig.level('head', 'Pan'), rig.level('head', 'Tilt')] as const;
    const follows = place();
    let [pan, tilt] = place();
    let moved = 0;
    const judge = () => {
      const [nextPan, nextTilt] = place();
      const by = Math.hypot(nextPan - pan, nextTilt - tilt);
      [pan, tilt] = [nextPan, nextTilt];
      if (by < 0.5) return;
      moved += 1;
      expect(rig.level('head')).toBe(0);
    };
    rig.run(12, {}, judge);
    // There it is shown again.
    expect(rig.level('head')).toBe(100);
    expect(Math.hypot(pan - follows[0], tilt - follows[1])).toBeGreaterThan(10);
    rig.run(12, { 1: [8, 5] }, judge);
    expect(rig.level('head')).toBe(100);
    expect(Math.hypot(pan - follows[0], tilt - follows[1])).toBeLessThan(1);
    expect(moved).toBeGreaterThan(10);
  });

  test('who means it says so, and a stop ends that too', () => {
    const rig = new Rig(FOCUS).run(3, { 1: HERE });
    rig.order(highlight('spot', { whileTracked: true }));
    rig.run(2, { 1: HERE });
    expect(rig.level('spot')).toBe(100);
    rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
    rig.run(1, { 1: HERE });
    expect(rig.level('spot')).toBe(0);
    expect(ends(rig)).toEqual(['stopped']);
  });
});

test('a fixture that the show does not have is refused', () => {
  const rig = new Rig(FOCUS).run(1, {});
  rig.order(highlight('spit'));
  rig.run(0.1, {});
  expect(rig.eventsOf('operator-refused')[0]?.reason).toBe('the show has no fixture "spit"');
});

test('a show in which nobody asks is the same to the byte', () => {
  const rig = focused().run(1, {});
  rig.order(highlight(undefined));
  rig.run(2, {});
  const other = new Rig(FOCUS).run(4, {});
  expect([...rig.view.levels]).toEqual([...other.view.levels]);
});

test('goes on over a reload, and fades out where the next show has nothing of that name', () => {
  const grouped = (name: string) => new Rig(`${FOCUS}groups: { ${name}: [spot] }\n`).show;
  const reloaded = (name: string) => {
    const rig = new Rig(grouped('spots')).run(1, {});
    rig.order(highlight('spots'));
    rig.run(1, {});
    expect(rig.level('spot')).toBe(100);
    const next = createEngine(grouped(name));
    takeOver(next, rig.engine);
    const light = viewOf(next).fixtures.find(({ plan }) => plan.name === 'spot');
    const levels: number[] = [];
    for (let i = 1; i <= 160; i++) {
      step(next, { datagrams: [], unixOffsetS: 0, operator: [], desk: [] }, rig.nowS + i * 0.025);
      levels.push(light?.values[light.intensity] ?? Number.NaN);
    }
    return levels;
  };
  expect(Math.min(...reloaded('spots'))).toBe(100);
  const gone = reloaded('front');
  expect(gone.at(-1)).toBe(0);
  // No step.
  expect(gone[4]).toBeGreaterThan(50);
});

test('words', () => {
  const rig = focused().run(0.1, {});
  const labels = labelsOf(rig.show);
  const [done] = rig.eventsOf('operator-done');
  expect(done && answerInWords(done, labels)).toBe(
    'Spot 3 is highlighted for a minute; a stop, or somebody who is tracked, ends it.',
  );
  const [on] = rig.eventsOf('highlight');
  expect(on && happeningOf(on, labels)).toBe('Spot 3 was highlighted');
  rig.run(61, {});
  const off = rig.eventsOf('highlight').at(-1);
  expect(off && happeningOf(off, labels)).toBe(
    'Spot 3 was no longer highlighted: its minute was over',
  );
});

describe('a shutter that is closed', () => {
  const shut = (highlight: string) =>
    FOCUS.replace(', default: closed, highlight: open', `, default: closed${highlight}`);
  const said = (rig: Rig) => {
    const [done] = rig.eventsOf('operator-done');
    return done && answerInWords(done, labelsOf(rig.show));
  };

  test('and of which the profile says nothing stays so, and the answer says that it does', () => {
    const rig = focused(shut('')).run(1, {});
    expect(rig.level('spot')).toBe(100);
    expect(said(rig)).toBe(
      'Spot 3 is highlighted for a minute, but stays dark: its Shutter1 is closed, and its profile has no highlight for it.',
    );
    const [on] = rig.eventsOf('highlight');
    expect(on && happeningOf(on, labelsOf(rig.show))).toBe(
      'Spot 3 was highlighted, but stays dark: its Shutter1 is closed, and its profile has no highlight for it',
    );
  });

  test('by the highlight of the profile is said, too', () => {
    const rig = focused(shut(', highlight: closed')).run(1, {});
    expect(said(rig)).toBe(
      'Spot 3 is highlighted for a minute, but stays dark: the highlight of its profile leaves Shutter1 closed.',
    );
  });

  test('is one for all cells that are behind it', () => {
    const bar = shut('')
      .replace('fixtures:\n', 'groups: { front: [spot, bar-2] }\nfixtures:\n  bar: { label: Row, profile: bar, universe: 1, address: 301, cells: {} }\n')
      .replace('profiles:\n', 'profiles:\n  bar: { channels: [{ attribute: Shutter1, slots: [1], values: { closed: [0, 9], open: [10, 19] } }, { attribute: Dimmer, slots: [2], copies: [[3]] }] }\n'); // biome-ignore format: two places
    const rig = new Rig(bar).run(1, {});
    rig.order(highlight('front'));
    rig.run(0.1, {});
    expect(said(rig)).toBe(
      'front is highlighted for a minute, but Row and Spot 3 stay dark: a shutter is closed, and their profiles have no highlight for it.',
    );
  });

  test('is none where it is open, whatever the profile says of its highlight', () => {
    const open = FOCUS.replace(', default: closed, highlight: open', ', default: open');
    expect(said(focused(open).run(1, {}))).toBe(
      'Spot 3 is highlighted for a minute; a stop, or somebody who is tracked, ends it.',
    );
    // A rate of 0 is no closed shutter, and a level of 0 is one.
    const rate = (attribute: string) =>
      FOCUS.replace(/attribute: Shutter1.*highlight: open/, `attribute: ${attribute}`);
    expect(said(focused(rate('Shutter1Strobe, range: [0, 20]')).run(1, {}))).not.toContain('dark');
    expect(said(focused(rate('Shutter1')).run(1, {}))).toContain('stays dark: its Shutter1');
  });
});
