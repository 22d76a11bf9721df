import { describe, expect, test } from 'vitest';
import { dropInWords, dropsNamed } from '../../../src/engine/events/drop-words.js';
import * as words from '../../../src/engine/events/event-words.js';
import type { EngineEvent } from '../../../src/engine/events/events.js';
import { DROP_REASONS } from '../../../src/engine/values/counters.js';
import type { OperatorAction } from '../../../src/engine/values/operator-action.js';
import { NAMES_AS_LABELS } from '../../../src/show/model/labels.js';

type Of<Kind extends EngineEvent['kind']> = Extract<EngineEvent, { kind: Kind }>;

const LABELS = {
  ...NAMES_AS_LABELS,
  performer: (name: string) => ({ ines: 'Ines', gull: 'the Gull' })[name] ?? name,
  fixture: (name: string) => (name === 'front-1' ? 'front 1' : name),
  cue: (name: string) => `the ${name}`,
  exit: (name: string) => (name === 'left' ? 'The Left Wing' : name),
  receiver: (name: string) => (name === 'snd' ? 'sound' : name),
};

test('a list, and a number of things', () => {
  expect([[], ['a'], ['a', 'b'], ['a', 'b', 'c']].map(words.listed)).toEqual([
    '',
    'a',
    'a and b',
    'a, b and c',
  ]);
  expect([0, 1, 3].map(count => words.counted(count, 'order'))).toEqual([
    '0 orders',
    '1 order',
    '3 orders',
  ]);
  expect(words.trackersNamed(['7'])).toBe('tracker 7');
  expect(words.trackersNamed(['7', '9'])).toBe('trackers 7 and 9');
});

test('who asked, without what only the data need', () => {
  const who = (by: string) => words.whoAsked({ by });
  expect(who('user anna')).toBe('anna');
  expect(who('user anna uid 1000')).toBe('anna');
  expect(who('the user anna uid 1000')).toBe('the user anna uid 1000');
  expect(who('control socket (10.0.0.5) x')).toBe('control socket (10.0.0.5) x');
  expect(who('the control socket (10.0.0.5)')).toBe('the control socket (10.0.0.5)');
  expect(who('panel at 10.0.0.5')).toBe('the panel at 10.0.0.5');
});

test('a loss is for want of a tracker only where none is worn, and nothing comes for that', () => {
  const isFor = (
    cause: Parameters<typeof words.isForWantOfTracker>[0]['cause'],
    wearsNone?: true,
  ) => words.isForWantOfTracker({ cause, ...(wearsNone && { wearsNone }) });
  expect(isFor('tracker-silent', true)).toBe(true);
  expect(isFor('frozen', true)).toBe(true);
  expect(isFor('confidence-low', true)).toBe(true);
  expect(isFor('feed-silent', true)).toBe(false);
  expect(isFor(undefined, true)).toBe(false);
  expect(isFor('tracker-silent')).toBe(false);
});

describe('hazardous outputs', () => {
  const hazer = { fixture: 'hazer', hazard: 'atmospheric' } as const;
  const strobe = { fixture: 'strobe', hazard: 'strobe' } as const;
  const said = (event: Partial<Of<'enable'>>) =>
    words.enableInWords(
      {
        kind: 'enable',
        outputs: [hazer],
        gate: 'off',
        wasOn: false,
        reason: undefined,
        ...event,
      } as Of<'enable'>,
      name => name.toUpperCase(),
    );

  test('what became of them, why, and by whom', () => {
    expect(said({ gate: 'on', by: '10.0.0.5' })).toBe('HAZER (atmospheric) on (asked by 10.0.0.5)');
    expect(said({ reason: 'released' })).toBe('HAZER (atmospheric) off: the enable was released');
    const latched = { gate: 'latched-off', reason: 'feed-silent' } as const;
    expect(said({ ...latched, wasOn: true })).toBe(
      'HAZER (atmospheric) dropped: tracking is silent. Release, and press again once it is back',
    );
    expect(said(latched)).toMatch(/^HAZER \(atmospheric\) refused: /);
    const gone = { reason: 'hand-gone', wasOn: true, by: 'panel at 10.0.0.5' } as const;
    expect(said(gone)).toBe(
      'HAZER (atmospheric) off: a page of the panel at 10.0.0.5 held the enable and is no longer heard',
    );
    expect(said({ ...gone, by: undefined, gate: 'latched-off' })).toBe(
      'HAZER (atmospheric) dropped: whoever held the enable is no longer heard. Release, and press again',
    );
  });

  test('the class is said once where all are of one', () => {
    expect(said({ outputs: [hazer, { ...hazer, fixture: 'fog' }] })).toBe(
      'HAZER and FOG (atmospheric) off',
    );
    expect(said({ outputs: [hazer, strobe] })).toBe('HAZER (atmospheric) and STROBE (strobe) off');
  });
});

test('a pin, a mapping, a battery, a signal, trackers apart', () => {
  const by = { cause: 'command', by: 'anna' } as const;
  const restored = { cause: 'restored' } as const;
  const pin = (event: Omit<Of<'pin'>, 'kind' | 'fixture'>) =>
    words.pinInWords({ kind: 'pin', fixture: 'front-1', ...event }, LABELS);
  expect(pin({ performer: 'ines', ...by })).toBe('front 1 is pinned to Ines (asked by anna)');
  expect(pin({ performer: 'ines', ...restored })).toBe('front 1 is pinned to Ines, as before');
  expect(pin({ performer: undefined, ...by })).toBe(
    'front 1 chooses by itself again (asked by anna)',
  );
  expect(pin({ performer: undefined, cause: 'command', reason: 'reload' })).toBe(
    "front 1 is no longer pinned: in the reloaded show it can't follow that performer",
  );

  const mapping = { kind: 'mapping', mapping: 'stove' } as const;
  expect(words.mappingInWords({ ...mapping, off: true, ...restored })).toBe(
    'mapping stove is off, as before',
  );
  expect(words.mappingInWords({ ...mapping, off: false, ...by })).toBe(
    'mapping stove acts again (asked by anna)',
  );

  const battery = { kind: 'battery-unit', tracker: '7', charge: 95.127 } as const;
  expect(words.batteryUnitInWords(battery, LABELS.performer)).toBe(
    'battery 95.13 of tracker 7 (spare) is outside 0 to 1: is it per cent?',
  );
  expect(words.batteryUnitInWords({ ...battery, performer: 'gull' }, LABELS.performer)).toContain(
    ' of tracker 7 (the Gull) ',
  );

  const signal = { kind: 'signal', signal: 'train', silent: true, silentForS: 2 } as const;
  expect(words.silentSignalInWords(signal)).toBe(
    'signal train is no longer heard: what depends on it is at its safe values',
  );
  expect(words.silentSignalInWords({ ...signal, neverHeard: true })).toContain(
    'signal train has not been heard yet: ',
  );
  expect(words.silentSignalInWords({ ...signal, silent: false })).toBeUndefined();

  expect(words.apartInWords('dov', ['5', '9'], 3.44)).toBe(
    'trackers 5 and 9 of dov are 3.4 m apart: who wears them?',
  );
});

test('a highlight, and why it ended', () => {
  const said = (event: Partial<Of<'highlight'>>, is?: string) =>
    words.highlightInWords(
      { kind: 'highlight', fixture: 'front-1', on: false, ...event },
      LABELS.fixture,
      is,
    );
  expect(said({ on: true, by: 'anna' })).toBe('front 1 is highlighted (asked by anna)');
  expect(said({ on: true }, 'was')).toBe('front 1 was highlighted');
  expect(said({ by: 'anna' })).toBe('front 1 is no longer highlighted (asked by anna)');
  const why = (reason: Of<'highlight'>['reason'], is?: string) =>
    said({ ...(reason && { reason }) }, is).split(': ')[1];
  expect(why('time')).toBe('its minute is over');
  expect(why('time', 'was')).toBe('its minute was over');
  expect(why('stopped')).toBe('somebody is stopped');
  expect(why('tracked', 'was')).toBe('a performer was tracked');
  expect(why('stalled')).toBe('the engine stood still');
});

test('what of a highlight, or under a hold, does not come on', () => {
  const kept = (event: Parameters<typeof words.keptInWords>[0]) =>
    words.keptInWords({ fixture: 'rig', ...event }, LABELS.fixture);
  expect(kept({})).toBe('');
  const dark = (fixture: string, keepOut: string) => ({ fixture, keepOut });
  const pit = dark('front-1', 'pit');
  expect(kept({ keptDark: [pit] })).toBe(
    ', but front 1 stays dark: where it points, its beam would touch the keep-out pit',
  );
  expect(kept({ fixture: 'front-1', keptDark: [pit] })).toBe(
    ', but stays dark: where it points, its beam would touch the keep-out pit',
  );
  expect(kept({ keptDark: [pit, dark('side', 'camera')] })).toBe(
    ', but front 1 and side stay dark: where they point, their beams would touch the keep-outs pit and camera',
  );
  expect(kept({ keptDark: [pit, dark('side', 'pit')] })).toBe(
    ', but front 1 and side stay dark: where they point, their beams would touch the keep-out pit',
  );
  const shut = (fixture: string, byHighlight: boolean) => ({
    fixture,
    attribute: 'Shutter1' as const,
    byHighlight,
  });
  expect(kept({ keptShut: [shut('front-1', true), shut('side', true), shut('back', false)] })).toBe(
    ', but front 1 and side stay dark: the highlight of their profiles leaves a shutter closed; back stays dark: its Shutter1 is closed, and its profile has no highlight for it',
  );
  const off = (fixture: string, reason: 'released' | 'not-repeated') => ({
    fixture,
    hazard: 'laser' as const,
    reason,
  });
  const allOff = (...all: ReturnType<typeof off>[]) => words.allOffInWords(all, LABELS.fixture);
  expect(allOff()).toBe('');
  expect(allOff(off('front-1', 'released'), off('side', 'released'))).toBe(
    'somebody else who held the enable let go. Release, and press again',
  );
  expect(allOff(off('front-1', 'released'), off('side', 'not-repeated'))).toBe(
    'the laser output of front 1 stays off: the enable was released; the laser output of side stays off: the enable is not held',
  );
});

test('a fade, a message that was sent, and where a tracker is', () => {
  expect([0, 6, 0.25].map(words.fadeInWords)).toEqual(['at once', 'in 6 s', 'in 0.3 s']);

  const action = { kind: 'action', of: 'cue', name: 'storm', on: 'enter' } as const;
  const sent = { ...action, receiver: 'snd', address: '/harbour', args: [1, 'on'] };
  expect(words.actionSentInWords(sent, LABELS)).toBe(
    'sound is sent /harbour 1 on: cue the storm entered',
  );
  expect(words.actionSentInWords({ ...sent, of: 'condition', on: 'leave' }, LABELS)).toBe(
    'sound is sent /harbour 1 on: condition storm left',
  );

  expect(words.whereaboutsInWords({ unheard: true }, 'Ines')).toBe(
    ', but nothing has come from it in the last 5 s',
  );
  expect(words.whereaboutsInWords({}, 'Ines')).toBe('');
  expect(words.whereaboutsInWords({ distanceM: 2.04 }, 'Ines')).toBe(
    ', 2.0 m from where Ines was last tracked',
  );
});

test('who is off stage, by which exit, and who is heard again', () => {
  const said = (event: Omit<Of<'off-stage'>, 'kind' | 'performers'>, performers = ['ines']) =>
    words.offStageInWords({ kind: 'off-stage', performers, ...event }, LABELS);
  const command = { cause: 'command', by: 'anna' } as const;
  expect(said({ state: 'away', exit: 'left' })).toBe('Ines is off stage (by The Left Wing)');
  expect(said({ state: 'away', exit: 'trap' })).toBe('Ines is off stage (by the trap)');
  expect(said({ state: 'away', ...command }, ['ines', 'gull'])).toBe(
    'Ines and the Gull are off stage (asked by anna)',
  );
  expect(said({ state: 'away', cause: 'restored' })).toBe('Ines is off stage, as before');
  expect(said({ state: 'leaving', ...command })).toBe(
    'Ines is sent off (asked by anna): off stage, even while still heard there',
  );
  expect(said({ state: 'on' })).toBe('Ines is heard on the stage again');
  expect(said({ state: 'on', ...command })).toBe('Ines is on stage (asked by anna)');
  expect(words.exitInWords('theatre door')).toBe('the theatre door');
});

test('what an operator asked', () => {
  const said = (action: Omit<OperatorAction, 'cause'>) =>
    words.actionInWords(
      { cause: 'command', ...action } as OperatorAction,
      LABELS.performer,
      LABELS.cue,
    );
  const ines = { performer: 'ines' };
  expect(said({ kind: 'assign', tracker: '7', ...ines } as OperatorAction)).toBe(
    'assign tracker 7 to Ines',
  );
  const asked: [Omit<OperatorAction, 'cause'> & Record<string, unknown>, string][] = [
    [{ kind: 'unassign', tracker: '7' }, 'unassign tracker 7'],
    [{ kind: 'stop', performer: undefined }, 'stop everybody'],
    [{ kind: 'resume', ...ines }, 'resume Ines'],
    [{ kind: 'off', ...ines }, 'off Ines'],
    [{ kind: 'on', performer: undefined }, 'on everybody'],
    [{ kind: 'cue', to: 'next' }, 'go to the next cue'],
    [{ kind: 'cue', to: 'back' }, 'go back a cue'],
    [{ kind: 'cue', to: { name: 'storm' } }, 'go to cue the storm'],
    [{ kind: 'highlight', fixture: undefined }, 'end the highlight'],
    [{ kind: 'highlight', fixture: 'front-1' }, 'highlight front-1'],
    [{ kind: 'pin', fixture: 'front-1', performer: undefined }, 'let front-1 go'],
    [{ kind: 'pin', fixture: 'front-1', ...ines }, 'pin front-1 to Ines'],
    [{ kind: 'mapping', mapping: 'stove', off: true }, 'mapping stove off'],
    [{ kind: 'mapping', mapping: 'stove', off: false }, 'mapping stove on'],
    [{ kind: 'entered', condition: 'close' }, 'condition close was entered before'],
    [{ kind: 'safe-look', held: true }, 'all light is at the safe look'],
    [{ kind: 'safe-look', held: false }, 'the engine has the light'],
    [{ kind: 'hold', hazard: 'strobe', held: true }, 'hold the enable of strobe'],
    [{ kind: 'hold', hazard: 'strobe', held: false }, 'release strobe'],
  ];
  for (const [action, text] of asked) expect(said(action)).toBe(text);
  const toCue = { kind: 'cue', to: { name: 'storm' }, cause: 'command' } as const;
  expect(words.actionInWords(toCue, LABELS.performer)).toBe('go to cue storm');
});

test('every drop is a thing, and says by what it was told apart', () => {
  const all = DROP_REASONS.map(reason => dropInWords(reason, 1));
  for (const text of all) {
    expect(text).toMatch(
      /^1 (datagram|bundle|message|position|order|tracker report|battery charge) [a-z].{10}/,
    );
  }
  expect(new Set(all).size).toBe(DROP_REASONS.length);
  expect(dropInWords('not-osc', 3)).toBe('3 datagrams of something other than OSC');
  // What is so of one is so of several.
  for (const reason of DROP_REASONS)
    expect(dropsNamed(reason)).not.toMatch(/^\S+s (that )?(is|was) /);
  expect(dropsNamed('no-route')).toBe('messages with an address that no route of the show has');
});
