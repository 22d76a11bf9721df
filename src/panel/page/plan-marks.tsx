import { beamOf, intensityOf, isNotSent, type Person, shownValue } from '../../live/reading.js';
import type { LiveSnapshot } from '../../live/schema.js';
import type { LiveStage, Outline } from '../../live/stage-schema.js';
import { SHAPES } from './marks.js';
import type { Frame, Label } from './plan-frame.js';

const DARK_PERCENT = 1;
/** Half the size of a performer's mark, of a head's, and of the least pool of light. */
export const bodyPx = 9;
export const HEAD_PX = 6;
const POOL_PX = 7;

export function Shape({
  outline,
  frame: { left, top, perPx },
  fill,
  dashPx,
}: {
  outline: Outline;
  frame: Frame;
  fill?: string;
  dashPx?: number;
}) {
  const more = {
    'stroke-width': 1.5 * perPx,
    ...(fill && { fill }),
    ...(dashPx && { 'stroke-dasharray': `${dashPx * perPx}` }),
  };
  if (outline.kind === 'circle') {
    const [x, y] = outline.centre;
    return <circle cx={left(x)} cy={top(y)} r={outline.radiusM} {...more} />;
  }
  return (
    <polygon points={outline.points.map(([x, y]) => `${left(x)},${top(y)}`).join(' ')} {...more} />
  );
}

/** @param at its middle */
export function Name({
  text,
  size,
  at,
}: {
  text: string;
  size: number;
  at: { readonly x: number; readonly y: number };
}) {
  return (
    <text
      class="name-on-plan"
      x={at.x}
      y={at.y + 0.35 * size}
      font-size={size}
      stroke-width={size / 4}
    >
      {text}
    </text>
  );
}

const within = (value: number, least: number, most: number) =>
  Math.min(most, Math.max(least, value));

/** Heads, and where their light is: at the height of whom they follow, else on the floor. */
export function Beams({
  stage,
  snapshot,
  frame,
}: {
  stage: LiveStage;
  snapshot: LiveSnapshot;
  frame: Frame;
}) {
  const { left, top, perPx, edge } = frame;
  const whole = 1.6 * HEAD_PX * perPx;
  const size = HEAD_PX * perPx;
  return (
    <g class="heads">
      {stage.fixtures.map((fixture, index) => {
        if (!fixture.isHead || fixture.at === undefined) return null;
        const [x, y] = fixture.at;
        const channel = intensityOf(fixture);
        const level =
          channel === undefined ? 100 : shownValue(stage, snapshot, { fixture: index, channel });
        const beam = beamOf(stage, snapshot, index);
        const [headX, headY] = [
          left(within(x, edge.minX + whole, edge.maxX - whole)),
          top(within(y, edge.minY + whole, edge.maxY - whole)),
        ];
        const isUnknown = isNotSent(fixture, snapshot);
        const isLit = beam !== undefined && level >= DARK_PERCENT;
        return (
          <g key={fixture.name} class={isUnknown ? 'head unknown' : isLit ? 'head lit' : 'head'}>
            {isLit && (
              <g opacity={0.35 + (0.65 * level) / 100}>
                <path
                  class="ray"
                  d={`M${left(x)} ${top(y)}L${left(beam.x)} ${top(beam.y)}`}
                  stroke-width={1.5 * perPx}
                  stroke-dasharray={`${5 * perPx}`}
                />
                <circle
                  class="pool"
                  cx={left(beam.x)}
                  cy={top(beam.y)}
                  r={Math.max(POOL_PX * perPx, (beam.diameterM ?? 0.6) / 2)}
                  stroke-width={1.5 * perPx}
                />
              </g>
            )}
            <rect
              x={headX - size}
              y={headY - size}
              width={2 * size}
              height={2 * size}
              stroke-width={1.5 * perPx}
              stroke-dasharray={isUnknown ? `${3 * perPx}` : undefined}
              transform={`rotate(45 ${headX} ${headY})`}
            />
          </g>
        );
      })}
    </g>
  );
}

/** Who is off stage, or not heard, is nowhere on the plan. */
export function isDrawn({ status: { state }, seen }: Person): boolean {
  return seen?.place !== undefined && state !== 'not heard' && state !== 'off stage';
}

export function tagOf({ label, status: { state } }: Person): string {
  return state === 'live' ? label : `${label}: ${state}`;
}

export function Performer({
  person,
  trail,
  frame: { left, top, perPx, edge },
  tag,
  size,
}: {
  person: Person;
  trail: readonly { x: number; y: number }[] | undefined;
  frame: Frame;
  tag: Label | undefined;
  size: number;
}) {
  const { status, seen } = person;
  const place = seen?.place;
  if (place === undefined || !isDrawn(person)) return null;
  const [x, y] = [left(place.x), top(place.y)];
  const region = seen?.region;
  // Beyond this they may be anywhere, and a ring about the plan says nothing.
  const mostM = Math.min(edge.maxX - edge.minX, edge.maxY - edge.minY) / 2;
  // The shapes are 16 by 16, their disc has a radius of 6.
  const perShape = (bodyPx * perPx) / 6;
  return (
    <g class={`performer ${status.state.replace(' ', '-')}`}>
      {trail !== undefined && trail.length > 1 && (
        <polyline
          class="trail"
          points={trail.map(one => `${left(one.x)},${top(one.y)}`).join(' ')}
          stroke-width={3 * perPx}
        />
      )}
      {region !== undefined && Math.max(region.alongM, region.acrossM) < mostM && (
        <ellipse
          class="region"
          cx={x}
          cy={y}
          rx={region.alongM}
          ry={region.acrossM}
          stroke-width={1.5 * perPx}
          stroke-dasharray={status.state === 'live' ? undefined : `${4 * perPx}`}
          transform={`rotate(${-region.headingDeg} ${x} ${y})`}
        />
      )}
      {/* The same shapes as in People. */}
      <path
        class="body"
        d={SHAPES[status.state]}
        fill-rule="evenodd"
        transform={`translate(${x} ${y}) scale(${perShape}) translate(-8 -8)`}
        stroke-width={(1.5 * perPx) / perShape}
      />
      {tag !== undefined && (
        <text
          class="tag"
          x={tag.x}
          y={tag.y + 0.35 * size}
          font-size={size}
          stroke-width={size / 4}
        >
          {tagOf(person)}
        </text>
      )}
    </g>
  );
}
