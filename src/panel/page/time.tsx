import { useState } from 'preact/hooks';
import { timesInWords } from '../../live/events.js';
import type { Moment } from '../../live/moments.js';
import type { LiveEvent, LiveSnapshot } from '../../live/schema.js';
import type { Connection } from './connection.js';

const SHOWN_S = 600;
const [WIDTH, HEIGHT] = [600, 60];

/** The last ten minutes: confidence, delay and input as strips, and what happened. */
export function Time({ connection, snapshot }: { connection: Connection; snapshot: LiveSnapshot }) {
  const { moments, events } = connection;
  const nowS = snapshot.atS;
  const rates = moments.map(one => one.positionsPerS);
  const { positionsPerS } = snapshot.status.feed;
  // A moment is kept once a second: what is said of now is newer.
  const most = Math.max(10, positionsPerS, ...rates);
  const delays = moments.flatMap(one => (one.delayS === null ? [] : [one.delayS]));
  const longest = Math.max(0.1, ...delays);
  const delay = delays.at(-1);
  return (
    <>
      <div class="strips">
        <Strip
          title="Positions per second"
          now={`${positionsPerS}`}
          scale={`0 to ${most}`}
          points={pointsOf(moments, nowS, one => one.positionsPerS / most)}
        />
        <Strip
          title="Predicted ahead of the last report"
          now={delay === undefined ? 'nobody is followed' : `${delay.toFixed(2)} s`}
          scale={`0 to ${longest.toFixed(2)} s`}
          points={pointsOf(moments, nowS, one =>
            one.delayS === null ? undefined : one.delayS / longest,
          )}
        />
        {snapshot.status.performers.map(({ name, label }) => {
          const value = moments.at(-1)?.confidence[name];
          return (
            <Strip
              key={name}
              title={`Confidence in ${label}`}
              now={typeof value === 'number' ? `${Math.round(value * 100)} %` : 'no engine'}
              scale="0 to 100 %"
              points={pointsOf(moments, nowS, one => one.confidence[name] ?? undefined)}
            />
          );
        })}
      </div>
      <p class="axis" aria-hidden="true">
        <span>10 minutes ago</span>
        <span>now</span>
      </p>
      <Events events={events} />
    </>
  );
}

function Strip({
  title,
  now,
  scale,
  points,
}: {
  title: string;
  now: string;
  scale: string;
  points: readonly string[];
}) {
  return (
    <figure class="strip">
      <figcaption>
        {title}: <strong>{now}</strong> <small>{scale.replaceAll(' ', '\u00a0')}</small>
      </figcaption>
      <svg
        viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
        preserveAspectRatio="none"
        role="img"
        aria-label={`${title}, ten minutes; now ${now}`}
      >
        {points.map(line => (
          <polyline key={line.slice(0, 16)} points={line} />
        ))}
      </svg>
    </figure>
  );
}

/** A line for each stretch in which there is something to draw. */
function pointsOf(
  moments: readonly Moment[],
  nowS: number,
  share: (moment: Moment) => number | undefined,
): string[] {
  const lines: string[][] = [[]];
  let lastS = 0;
  for (const moment of moments) {
    const value = share(moment);
    // A gap in time is a gap in the line.
    if (value === undefined || moment.atS - lastS > 5) lines.push([]);
    lastS = moment.atS;
    if (value === undefined) continue;
    const x = WIDTH * (1 - (nowS - moment.atS) / SHOWN_S);
    const y = HEIGHT - 2 - Math.min(1, Math.max(0, value)) * (HEIGHT - 4);
    lines.at(-1)?.push(`${x.toFixed(1)},${y.toFixed(1)}`);
  }
  return lines.filter(line => line.length > 1).map(line => line.join(' '));
}

const SHOWN_EVENTS = 12;
const clockOf = (unixS: number) => new Date(unixS * 1e3).toTimeString().slice(0, 8);
const WEIGHTS = { debug: '', info: '', warn: 'look', error: 'act' } as const;

function Events({ events }: { events: readonly LiveEvent[] }) {
  const [all, setAll] = useState(false);
  const shown = [...events].reverse().slice(0, all ? events.length : SHOWN_EVENTS);
  return (
    <>
      <h3>What happened</h3>
      {events.length === 0 && <p>Nothing in the last ten minutes.</p>}
      <ol class="events">
        {shown.map((event, index) => (
          <li key={`${event.atS} ${index}`} class={WEIGHTS[event.level]}>
            <time>{clockOf(event.atS)}</time>
            <span>
              {event.level === 'error' && <strong>Error: </strong>}
              {event.level === 'warn' && <strong>Warning: </strong>}
              {event.text}
              {event.times !== undefined && <b> ({timesInWords(event, clockOf)})</b>}
            </span>
          </li>
        ))}
      </ol>
      {events.length > SHOWN_EVENTS && (
        <button type="button" onClick={() => setAll(!all)}>
          {all ? 'Show only the newest' : `Show all ${events.length} of the last ten minutes`}
        </button>
      )}
    </>
  );
}
