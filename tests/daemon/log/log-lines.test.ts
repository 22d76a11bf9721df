import { expect, test } from 'vitest';
import type { Entry } from '../../../src/daemon/log/log-entry.js';
import { LogLines } from '../../../src/daemon/log/log-lines.js';
import type { SupervisorEvent } from '../../../src/daemon/supervisor.js';
import { describe as describeEvent } from '../../../src/daemon/words/describe.js';
import type { EngineEvent } from '../../../src/engine/events/events.js';
import { NAMES_AS_LABELS } from '../../../src/show/model/labels.js';

/** The lines for groups of events, each of one tick; while all light is at the safe look or not. */
function linesOf(phase: 'safe' | 'live', ...ticks: (SupervisorEvent | EngineEvent)[][]): string[] {
  const written: Entry[] = [];
  const soon: (() => void)[] = [];
  const lines = new LogLines(
    entry => written.push(entry),
    then => soon.push(then),
  );
  for (const events of ticks) {
    for (const event of events) {
      const isOwn = ['state-restored', 'engine-started', 'lights'].includes(event.kind);
      const own = (isOwn ? event : { kind: 'engine', event }) as SupervisorEvent;
      lines.note(describeEvent(own, NAMES_AS_LABELS, phase));
    }
    for (const then of soon.splice(0)) then();
  }
  return written.filter(({ level }) => level !== 'debug').map(({ text }) => text);
}

const performer = (name: string, to: 'rearming' | 'returning' | 'losing', confidence = 0.9) =>
  ({
    kind: 'performer',
    performer: name,
    from: 'safe',
    to,
    cause: to === 'losing' ? 'feed-silent' : undefined,
    silentForS: 0,
    confidence,
  }) as EngineEvent;
const CUE = { kind: 'cue', cue: 'storm', previous: 'dawn', fadeS: 0, cause: 'restored' } as const;
const OFF = { kind: 'off-stage', performers: ['gull'], state: 'away', cause: 'restored' } as const;

test('what happens to several at once is one line', () => {
  expect(
    linesOf('live', [
      performer('ines', 'losing', 0.5),
      performer('gull', 'losing', 0.6),
      { kind: 'feed', silent: true, performers: ['ines', 'gull'] },
    ]),
  ).toEqual([
    'ines and gull: the light fades to its safe values (tracking silent)',
    'tracking is silent: nobody is heard',
  ]);
  const apart = linesOf('live', [performer('ines', 'rearming')], [performer('gull', 'losing')]);
  expect(apart).toEqual([
    'ines: tracked well, waiting a moment before the light returns',
    'gull: the light fades to its safe values (tracking silent), confidence 0.90',
  ]);
});

test('what holds again is said once: by the daemon, or by an engine that was started again', () => {
  const engine = { kind: 'engine-started', pid: 7 } as const;
  const changes = [{ kind: 'cue', to: { name: 'storm' }, cause: 'restored' }] as const;
  const restored = { kind: 'state-restored', file: 's.json', entries: 1, changes } as const;
  expect(linesOf('safe', [restored], [engine], [OFF, CUE], [engine], [OFF, CUE])).toEqual([
    '1 change made before the restart is in force again (go to cue storm), from s.json',
    'engine started, process 7',
    'engine started, process 7',
    'as before: gull is off stage; cue storm is on',
  ]);
});

test('who would be followed while all light is held has no line: that it comes up has one', () => {
  expect(
    linesOf('safe', [performer('ines', 'rearming')], [performer('ines', 'returning')]),
  ).toEqual(['ines: tracked well, waiting a moment before the light returns']);
});
