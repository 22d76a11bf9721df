import type { OscArgument } from '../protocols/osc/library.js';
import { signalValueOf } from '../protocols/osc/signal-value.js';
import type { Show } from '../show/model/model.js';
import { type Check, pass, warn } from './check.js';
import type { FeedFact } from './facts.js';
import type { FeedRecord } from './feed.js';

/** The numbers by OSC that a show takes from one of its inputs. */
function numbersOf({ signals: { signals } }: Show, input: number) {
  return signals.flatMap(({ name, source }) =>
    source.kind === 'osc' && source.input === input ? [{ name, source }] : [],
  );
}

/** Notes the numbers of a show as they come in by an input. @param input index of it */
export function numberTaker(
  show: Show,
  input: number,
  { numbers }: FeedRecord,
): (address: string, args: readonly OscArgument[], timeS: number) => boolean {
  const all = numbersOf(show, input);
  return (address, args, timeS) => {
    let isOne = false;
    for (const { name, source } of all) {
      if (source.address !== address) continue;
      isOne = true;
      const given = args[source.argument];
      const value = given === undefined ? undefined : signalValueOf(given);
      let heard = numbers.get(name);
      if (heard === undefined) {
        heard = { count: 0, firstS: timeS, lastS: timeS, longestGapS: 0, value: 0, without: 0 };
        numbers.set(name, heard);
      }
      if (value === undefined || !Number.isFinite(value)) {
        heard.without += 1;
        continue;
      }
      if (heard.count > 0) heard.longestGapS = Math.max(heard.longestGapS, timeS - heard.lastS);
      else heard.firstS = timeS;
      heard.count += 1;
      heard.lastS = timeS;
      heard.value = value;
    }
    return isOne;
  };
}

/** Whether each number by OSC comes, and often enough to be known. */
export function checkNumbers(show: Show, { input, problem, record }: FeedFact, seconds: number) {
  if (problem !== undefined) return [];
  const index = show.inputs.findIndex(({ name }) => name === input);
  return numbersOf(show, index).map(({ name, source }): Check => {
    const { address, argument, timeoutS } = source;
    const what = `signal ${name}`;
    const heard = record.numbers.get(name);
    if (heard === undefined || (heard.count === 0 && heard.without === 0)) {
      return warn(
        'feed',
        what,
        `nothing came at ${address} in ${seconds} s: until it does, whatever depends on it stays at its safe values.`,
        'Is its sender running, and sending to this address and port? A sender that sends only changes needs `timeout: never`.',
      );
    }
    if (heard.without > 0) {
      return warn(
        'feed',
        what,
        `${heard.without} of ${heard.count + heard.without} messages at ${address} had no number as argument ${argument + 1}.`,
        'Compare `argument` with what its sender sends.',
      );
    }
    const spanS = heard.lastS - heard.firstS;
    const often =
      heard.count < 2 || spanS <= 0 ? 'heard once' : `${round((heard.count - 1) / spanS)} a second`;
    const found = `${often}, ${round(heard.value)} at the end.`;
    const silentS = Math.max(
      heard.longestGapS,
      record.endedS === undefined ? 0 : record.endedS - heard.lastS,
    );
    if (silentS > timeoutS) {
      return warn(
        'feed',
        what,
        `${found} It was silent for ${silentS.toFixed(1)} s, longer than its \`timeout\` (${timeoutS} s): the light would have gone to safe.`,
        'Have its sender repeat it; or write `timeout: never`, if it sends only changes.',
      );
    }
    return pass('feed', what, found);
  });
}

function round(value: number): string {
  return String(Number(value.toPrecision(3)));
}
