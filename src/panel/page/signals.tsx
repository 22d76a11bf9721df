import { hasOther, pairInWords } from '../../live/pair-words.js';
import { forText } from '../../live/reading.js';
import type { LiveSnapshot } from '../../live/schema.js';
import { LevelMark } from './marks.js';

interface Signal {
  readonly level: 'well' | 'look' | 'act';
  readonly name: string;
  /** What is the matter, or that nothing is. */
  readonly state: string;
  readonly more?: string;
}

/** What comes in and what leaves, in a line each: seen at a glance beside the plan. */
export function Signals({ snapshot }: { snapshot: LiveSnapshot }) {
  return (
    <ul class="signals">
      {[
        trackingOf(snapshot),
        ...outputsOf(snapshot),
        ...pairOf(snapshot),
        ...desksOf(snapshot),
      ].map(({ level, name, state, more }) => (
        <li key={name} class={level}>
          <LevelMark level={level} />
          <span class="what">{name}</span> <strong>{state}</strong>
          {more !== undefined && <span class="more"> {more}</span>}
        </li>
      ))}
    </ul>
  );
}

const HEARD_S = 2;

function trackingOf(snapshot: LiveSnapshot): Signal {
  const { status, engine } = snapshot;
  const { silent, since, positionsPerS, droppedPerS } = status.feed;
  const worn = (engine?.trackers ?? []).filter(({ performer }) => performer !== undefined);
  const heard = worn.filter(one => (one.silentForS ?? Number.POSITIVE_INFINITY) < HEARD_S);
  const name = 'Tracking';
  const who = `${heard.length} of ${worn.length} trackers heard`;
  const isNew = status.performers.every(({ state }) => state === 'not heard');
  if (silent && isNew) return { level: 'look', name, state: 'nothing heard yet' };
  if (silent) return { level: 'act', name, state: `silent for ${forText(since, snapshot)}` };
  const rate = `${positionsPerS} positions/s`;
  if (engine === null) return { level: 'look', name, state: rate };
  if (droppedPerS > 0) {
    return { level: 'look', name, state: `${rate}, ${droppedPerS}/s dropped`, more: who };
  }
  if (heard.length < worn.length) return { level: 'look', name, state: who, more: rate };
  return { level: 'well', name, state: rate, more: who };
}

/** Which part this machine of two plays. */
function pairOf({ status }: LiveSnapshot): Signal[] {
  const { pair } = status;
  if (pair === undefined) return [];
  const isWell = pair.parts.every(({ part, other }) =>
    part === 'leads' ? other !== 'silent' : part === 'waits' && other === 'heard',
  );
  const level = isWell ? 'well' : 'look';
  return pairInWords(pair).map((state, i) => ({
    ...{ level, state },
    name: i === 0 ? 'Two machines' : `Two machines (${i + 1})`,
  }));
}

function outputsOf({ status }: LiveSnapshot): Signal[] {
  return [
    ...status.outputs.map(({ name, protocol, universes, trouble, heldBack }): Signal => {
      const of = universes.length === 1 ? 'universe' : 'universes';
      const what = `${protocol === 'sacn' ? 'sACN' : 'Art-Net'} ${of} ${rangesOf(universes)}`;
      const held = hasOther(status.pair) ? 'left to the other machine' : 'listens first';
      const state = trouble ?? (heldBack === true ? held : 'sends');
      return { level: trouble === undefined ? 'well' : 'act', name, state, more: what };
    }),
    ...status.outputsElsewhere.map((name): Signal => {
      return { level: 'well', name, state: "another machine's" };
    }),
  ];
}

function desksOf(snapshot: LiveSnapshot): Signal[] {
  return snapshot.status.desk.map(({ name, protocol, universe, state, since, trouble }) => {
    const level = trouble !== undefined || state === 'gone' ? 'act' : 'look';
    return {
      level: state === 'heard' && trouble === undefined ? 'well' : level,
      name: `Desk ${name}`,
      state: trouble ?? (state === 'heard' ? state : `${state} for ${forText(since, snapshot)}`),
      more: `${protocol === 'sacn' ? 'sACN' : 'Art-Net'} universe ${universe}`,
    };
  });
}

/** "1 to 16, 20". */
export function rangesOf(numbers: readonly number[]): string {
  const ranges: [first: number, last: number][] = [];
  for (const one of [...numbers].sort((a, b) => a - b)) {
    const range = ranges.at(-1);
    if (range !== undefined && one <= range[1] + 1) range[1] = one;
    else ranges.push([one, one]);
  }
  return ranges.map(([a, b]) => (a === b ? `${a}` : `${a} to ${b}`)).join(', ');
}
