import { expect, it } from 'vitest';
import { isContradicted, saidOf, sentOf } from '../../../src/panel/page/answers.js';

it('names what was pressed while no answer has come', () => {
  const texts = [
    ['stop', 'everybody'],
    ['resume', 'mara'],
    ['cue', 'next', 'evening'],
    ['cue', 'storm'],
    ['mapping', 'off', 'The stove'],
    ['assign', '12', 'mara'],
  ].map(words => sentOf(words).text);
  expect(texts).toEqual([
    'Stop sent, no answer yet.',
    'Resume mara sent, no answer yet.',
    'Go sent, no answer yet.',
    'Cue storm sent, no answer yet.',
    'Mapping The stove off sent, no answer yet.',
    'Tracker 12 to mara sent, no answer yet.',
  ]);
});

it('shows a warning as no plain success', () => {
  const kindOf = (ok: boolean, text: string) => saidOf({ ok, text }).kind;
  expect(kindOf(true, 'Mara wears 12, but nothing has come from it in the last 5 s.')).toBe(
    'warned',
  );
  expect(kindOf(true, 'Everybody is stopped.')).toBe('ok');
  expect(kindOf(false, 'It holds now, but could not be saved.')).toBe('refused');
});

it('drops an answer that the headline contradicts', () => {
  const stopped = saidOf({ ok: true, text: 'Stopped.' }, ['stop', 'everybody']);
  expect(isContradicted(stopped, true, 9)).toBe(false);
  expect(isContradicted(stopped, false, 9)).toBe(true);
  // A picture that was on its way when it was answered says nothing against it.
  const answered = saidOf({ ok: true, text: 'Stopped.', newest: 9 }, ['stop', 'everybody']);
  expect([9, 10].map(sequence => isContradicted(answered, false, sequence))).toEqual([false, true]);
  expect(isContradicted(sentOf(['stop', 'everybody']), false, 9)).toBe(false);
  const failed = saidOf({ ok: false, text: 'Stop is no longer sent.' }, ['stop', 'everybody']);
  expect([isContradicted(failed, false, 9), isContradicted(failed, true, 9)]).toEqual([
    false,
    true,
  ]);
});
