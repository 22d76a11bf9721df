import { intensityOf, type Person, peopleOf, shownValue } from '../../live/reading.js';
import type { LiveSnapshot } from '../../live/schema.js';
import type { LiveStage, Outline } from '../../live/stage-schema.js';
import type { Connection } from './connection.js';
import { SHAPES } from './marks.js';

const MARGIN_M = 1.1;
/** Share of the stage's size beyond which a head stands at the edge of the plan. */
const FAR = 0.25;
const DARK_PERCENT = 1;

interface Drawn {
  readonly stage: LiveStage;
  readonly snapshot: LiveSnapshot;
  readonly trails: Connection['trails'];
  readonly withAnchors: boolean;
}

/** The stage from above, to scale: upstage at the top, stage left at the right, as one sees it from the house. */
export function Plan({ stage, snapshot, trails, withAnchors }: Drawn) {
  const {
    x: [minX, maxX],
    y: [minY, maxY],
  } = stage.bounds;
  const [width, depth] = [maxX - minX, maxY - minY];
  // Words keep their size on the screen, whatever the stage measures.
  const unit = Math.max(width, depth) / 100;
  const margin = Math.max(MARGIN_M, 3 * unit);
  const edge = edgeOf(stage, margin);
  // The words stand outside of what is drawn: no beam covers them.
  const words = 5 * unit;
  const top = (y: number) => maxY - y;
  const left = (x: number) => x - minX;
  const people = peopleOf(snapshot);
  const drawn = {
    x: left(edge.minX),
    y: top(edge.maxY),
    width: edge.maxX - edge.minX,
    height: edge.maxY - edge.minY,
  };
  const [right, bottom] = [drawn.x + drawn.width, drawn.y + drawn.height];
  const box = [
    drawn.x - words,
    drawn.y - words,
    drawn.width + 2 * words,
    drawn.height + 2 * words,
  ].join(' ');
  const scaleM = [1, 2, 5, 10, 20].find(one => one / width >= 0.1) ?? 20;
  const at = { left, top, unit };
  return (
    <svg class="plan" viewBox={box} role="img" aria-label={planInWords(stage, people)}>
      <defs>
        <pattern id="hatch" width={2 * unit} height={2 * unit} patternUnits="userSpaceOnUse">
          <path d={`M0 ${2 * unit}L${2 * unit} 0`} class="hatch" stroke-width={unit / 4} />
        </pattern>
        <clipPath id="edge">
          <rect {...drawn} />
        </clipPath>
      </defs>
      <rect class="around" {...drawn} />
      <rect class="floor" x={0} y={0} width={width} height={depth} stroke-width={unit / 3} />
      <g class="words" font-size={3.2 * unit}>
        <text x={width / 2} y={drawn.y - 1.4 * unit}>
          upstage
        </text>
        <text x={width / 2} y={bottom + 3.8 * unit}>
          audience
        </text>
        <text transform={`translate(${drawn.x - 1.4 * unit} ${depth / 2}) rotate(-90)`}>
          stage right
        </text>
        <text transform={`translate(${right + 1.4 * unit} ${depth / 2}) rotate(90)`}>
          stage left
        </text>
      </g>
      <g class="scale" font-size={2.6 * unit} stroke-width={unit / 3}>
        <path
          d={`M${drawn.x} ${bottom + 2 * unit}v${1.2 * unit}v${-0.6 * unit}h${scaleM}v${-0.6 * unit}v${1.2 * unit}`}
        />
        <text x={drawn.x + scaleM + 1.2 * unit} y={bottom + 3.5 * unit}>
          {scaleM} m
        </text>
      </g>
      <g clip-path="url(#edge)">
        {stage.keepOuts.map(one => (
          <g key={one.name} class="keep-out">
            <Shape outline={one.outline} at={at} fill="url(#hatch)" />
            <Name text={one.label} outline={one.outline} at={at} isTop />
          </g>
        ))}
        {stage.exits.map(one => (
          <g key={one.name} class="exit">
            <Shape outline={one.outline} at={at} />
          </g>
        ))}
        {stage.zones.map((zone, index) => {
          const around = snapshot.engine?.performers.find(
            ({ name }) => name === zone.around,
          )?.place;
          const outline = movedBy(zone.outline, zone.around === undefined ? undefined : around);
          const presence = snapshot.engine?.zones[index]?.presence ?? 0;
          return (
            <g key={zone.name} class={presence > 0 ? 'zone occupied' : 'zone'}>
              <Shape outline={outline} at={at} />
              <Name
                text={presence > 0 ? `${zone.label} ●` : zone.label}
                outline={outline}
                at={at}
              />
            </g>
          );
        })}
        {withAnchors &&
          stage.anchors.map(({ name, at: [x, y] }) => (
            <g key={name} class="anchor">
              <path
                d={`M${left(x) - unit} ${top(y)}h${2 * unit}M${left(x)} ${top(y) - unit}v${2 * unit}`}
                stroke-width={unit / 3}
              />
              <text x={left(x)} y={top(y) - 1.6 * unit} font-size={2 * unit}>
                {name}
              </text>
            </g>
          ))}
        <Beams stage={stage} snapshot={snapshot} at={at} edge={edge} />
        {people.map(person => (
          <Performer
            key={person.status.name}
            person={person}
            trail={trails.get(person.status.name)}
            at={at}
          />
        ))}
      </g>
    </svg>
  );
}

interface Edge {
  readonly minX: number;
  readonly maxX: number;
  readonly minY: number;
  readonly maxY: number;
}

/** What is drawn: the stage with a margin, and the heads about it. Of those that hang far off, a quarter of the stage. */
function edgeOf({ bounds, fixtures }: LiveStage, margin: number): Edge {
  const {
    x: [minX, maxX],
    y: [minY, maxY],
  } = bounds;
  const farM = margin + FAR * Math.max(maxX - minX, maxY - minY);
  const edge = {
    minX: minX - margin,
    maxX: maxX + margin,
    minY: minY - margin,
    maxY: maxY + margin,
  };
  for (const { isHead, at } of fixtures) {
    if (!isHead || at === undefined) continue;
    const [x, y] = at;
    edge.minX = Math.min(edge.minX, Math.max(x - margin / 2, minX - farM));
    edge.maxX = Math.max(edge.maxX, Math.min(x + margin / 2, maxX + farM));
    edge.minY = Math.min(edge.minY, Math.max(y - margin / 2, minY - farM));
    edge.maxY = Math.max(edge.maxY, Math.min(y + margin / 2, maxY + farM));
  }
  return edge;
}

const within = (value: number, least: number, most: number) =>
  Math.min(most, Math.max(least, value));

interface Place {
  left(x: number): number;
  top(y: number): number;
  readonly unit: number;
}

function Shape({ outline, at, fill }: { outline: Outline; at: Place; fill?: string }) {
  const more = { 'stroke-width': at.unit / 3, ...(fill && { fill }) };
  if (outline.kind === 'circle') {
    const [x, y] = outline.centre;
    return <circle cx={at.left(x)} cy={at.top(y)} r={outline.radiusM} {...more} />;
  }
  return (
    <polygon
      points={outline.points.map(([x, y]) => `${at.left(x)},${at.top(y)}`).join(' ')}
      {...more}
    />
  );
}

function Name({
  text,
  outline,
  at,
  isTop = false,
}: {
  text: string;
  outline: Outline;
  at: Place;
  isTop?: boolean;
}) {
  const [x, low] = lowestOf(outline);
  const y = isTop ? highestOf(outline) - 3.2 * at.unit : low;
  return (
    <text x={at.left(x)} y={at.top(y) - 0.9 * at.unit} font-size={2.5 * at.unit}>
      {text}
    </text>
  );
}

/** The middle of its downstage edge: above it nobody stands on the words. */
function lowestOf(outline: Outline): [number, number] {
  if (outline.kind === 'circle') return [outline.centre[0], outline.centre[1] - outline.radiusM];
  const low = Math.min(...outline.points.map(([, y]) => y));
  const xs = outline.points.map(([x]) => x);
  return [(Math.min(...xs) + Math.max(...xs)) / 2, low];
}

function highestOf(outline: Outline): number {
  return outline.kind === 'circle'
    ? outline.centre[1] + outline.radiusM
    : Math.max(...outline.points.map(([, y]) => y));
}

function movedBy(outline: Outline, by: { x: number; y: number } | undefined): Outline {
  if (by === undefined || outline.kind !== 'circle') return outline;
  const [x, y] = outline.centre;
  return { ...outline, centre: [x + by.x, y + by.y] };
}

function Beams({
  stage,
  snapshot,
  at,
  edge,
}: {
  stage: LiveStage;
  snapshot: LiveSnapshot;
  at: Place;
  edge: Edge;
}) {
  const { left, top, unit } = at;
  return (
    <g class="heads">
      {stage.fixtures.map((fixture, index) => {
        if (!fixture.isHead || fixture.at === undefined) return null;
        const [x, y] = fixture.at;
        const channel = intensityOf(fixture);
        const level =
          channel === undefined ? 100 : shownValue(stage, snapshot, { fixture: index, channel });
        const beam = snapshot.engine?.fixtures[index]?.beam;
        const whole = 1.6 * unit;
        const [headX, headY] = [
          left(within(x, edge.minX + whole, edge.maxX - whole)),
          top(within(y, edge.minY + whole, edge.maxY - whole)),
        ];
        const isLit = beam !== undefined && level >= DARK_PERCENT;
        return (
          <g key={fixture.name} class={isLit ? 'head lit' : 'head'}>
            {isLit && (
              <g opacity={0.35 + (0.65 * level) / 100}>
                <path
                  class="ray"
                  d={`M${left(x)} ${top(y)}L${left(beam.x)} ${top(beam.y)}`}
                  stroke-width={unit / 3}
                />
                <circle
                  class="pool"
                  cx={left(beam.x)}
                  cy={top(beam.y)}
                  r={Math.max(unit, (beam.diameterM ?? 0.6) / 2)}
                  stroke-width={unit / 3}
                />
              </g>
            )}
            <rect
              x={headX - unit}
              y={headY - unit}
              width={2 * unit}
              height={2 * unit}
              stroke-width={unit / 3}
              transform={`rotate(45 ${headX} ${headY})`}
            />
          </g>
        );
      })}
    </g>
  );
}

function Performer({
  person: { label, status, seen },
  trail,
  at: { left, top, unit },
}: {
  person: Person;
  trail: readonly { x: number; y: number }[] | undefined;
  at: Place;
}) {
  const place = seen?.place;
  if (place === undefined || status.state === 'not heard' || status.state === 'off stage')
    return null;
  const [x, y] = [left(place.x), top(place.y)];
  const region = seen?.region;
  const isLive = status.state === 'live';
  // The disc of the shapes has a radius of 6.
  const perShape = (1.9 * unit) / 6;
  return (
    <g class={`performer ${status.state.replace(' ', '-')}`}>
      {trail !== undefined && trail.length > 1 && (
        <polyline
          class="trail"
          points={trail.map(one => `${left(one.x)},${top(one.y)}`).join(' ')}
          stroke-width={unit / 2}
        />
      )}
      {region !== undefined && (
        <ellipse
          class="region"
          cx={x}
          cy={y}
          rx={region.alongM}
          ry={region.acrossM}
          stroke-width={unit / 4}
          transform={`rotate(${-region.headingDeg} ${x} ${y})`}
        />
      )}
      {/* The same shapes as in People. */}
      <path
        class="body"
        d={SHAPES[status.state]}
        transform={`translate(${x} ${y}) scale(${perShape}) translate(-8 -8)`}
        stroke-width={unit / 3 / perShape}
      />
      <text class="tag" x={x} y={y - 3.2 * unit} font-size={3.4 * unit}>
        {isLive ? label : `${label}: ${status.state}`}
      </text>
    </g>
  );
}

function planInWords(stage: LiveStage, people: readonly Person[]): string {
  const where = people.map(({ label, status, seen }) => {
    const zones = (seen?.zones ?? []).map(
      zone => stage.zones.find(({ name }) => name === zone)?.label ?? zone,
    );
    return `${label} ${status.state}${zones.length > 0 ? ` in ${zones.join(', ')}` : ''}`;
  });
  return `Plan of the stage. ${where.join('; ')}.`;
}
