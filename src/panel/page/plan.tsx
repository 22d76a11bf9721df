import { useEffect, useRef, useState } from 'preact/hooks';
import { type Person, peopleOf, stateInWords } from '../../live/reading.js';
import type { LiveSnapshot } from '../../live/schema.js';
import type { LiveStage, Outline } from '../../live/stage-schema.js';
import type { Connection } from './connection.js';
import {
  boxOf,
  type Frame,
  frameOf,
  inside,
  type Label,
  labelAt,
  placeTag,
  placeZoneName,
  WORDS_PX,
} from './plan-frame.js';
import { Beams, bodyPx, HEAD_PX, isDrawn, Name, Performer, Shape, tagOf } from './plan-marks.js';

interface Drawn {
  readonly stage: LiveStage;
  readonly snapshot: LiveSnapshot;
  readonly trails: Connection['trails'];
  readonly withAnchors: boolean;
}

/** The stage from above, to scale: upstage at the top, stage left at the right, as one sees it from the house. */
export function Plan({ stage, snapshot, trails, withAnchors }: Drawn) {
  const around = useRef<HTMLDivElement>(null);
  const sides = useRef(new Map<string, number>());
  const [room, setRoom] = useState({ width: 360, height: 420 });
  useEffect(() => {
    const { current } = around;
    if (current === null) return;
    const measure = () => {
      const { clientWidth: width } = current;
      // As much of the window as leaves the headline and Stop their room; of a phone, all that is below.
      const height = Math.max(260, innerHeight * (innerWidth < 760 ? 0.5 : 0.56));
      if (width > 0) setRoom({ width, height });
    };
    const observer = new ResizeObserver(measure);
    observer.observe(current);
    addEventListener('resize', measure);
    measure();
    return () => {
      observer.disconnect();
      removeEventListener('resize', measure);
    };
  }, []);
  const frame = frameOf(stage, room);
  const { edge, perPx, left, top } = frame;
  const px = (pixels: number) => pixels * perPx;
  // Letters keep their size on the screen, whatever the stage measures.
  const small = room.width < 520 ? 12 : 14;
  const people = peopleOf(snapshot);
  const drawn = { width: edge.maxX - edge.minX, height: edge.maxY - edge.minY };
  const words = px(WORDS_PX);
  const [wide, high] = [drawn.width + 2 * words, drawn.height + 2 * words];
  const {
    x: [minX, maxX],
    y: [minY, maxY],
  } = stage.bounds;
  const [middleX, middleY] = [left((minX + maxX) / 2), top((minY + maxY) / 2)];
  const scaleM = [1, 2, 5, 10, 20, 50].find(one => one / (maxX - minX) >= 0.1) ?? 50;
  const marks = marksOf(stage, people, frame);
  const zones = stage.zones.map((zone, index) => {
    const whom = snapshot.engine?.performers.find(({ name }) => name === zone.around)?.place;
    const outline = movedBy(zone.outline, zone.around === undefined ? undefined : whom);
    const isOccupied = (snapshot.engine?.zones[index]?.presence ?? 0) > 0;
    const text = isOccupied ? `${zone.label} ●` : zone.label;
    const key = `zone ${zone.name}`;
    const before = sides.current.get(key) ?? 0;
    const [side, at] = placeZoneName(outline, { text, size: px(small) }, marks, before, frame);
    sides.current.set(key, side);
    return { name: zone.name, outline, isOccupied, text, at };
  });
  const keepOuts = stage.keepOuts.map(one => {
    return { ...one, at: middleOf(one.outline, frame, one.label, px(small)) };
  });
  const tags = tagsOf(people, frame, px(small + 1), sides.current, [
    ...zones.map(one => one.at),
    ...keepOuts.map(one => one.at),
  ]);
  return (
    <div class="plan-room" ref={around}>
      <svg
        class="plan"
        viewBox={`${-words} ${-words} ${wide} ${high}`}
        width={wide / perPx}
        height={high / perPx}
        role="img"
        aria-label={planInWords(stage, people)}
      >
        <defs>
          <pattern id="hatch" width={px(10)} height={px(10)} patternUnits="userSpaceOnUse">
            <path d={`M0 ${px(10)}L${px(10)} 0`} class="hatch" stroke-width={px(1.2)} />
          </pattern>
          <clipPath id="edge">
            <rect {...drawn} />
          </clipPath>
        </defs>
        <rect class="around" {...drawn} />
        <rect
          class="floor"
          x={left(minX)}
          y={top(maxY)}
          width={maxX - minX}
          height={maxY - minY}
          stroke-width={px(1.5)}
        />
        <g class="words" font-size={px(small + 1)}>
          <text x={middleX} y={-px(8)}>
            upstage
          </text>
          <text x={middleX} y={drawn.height + px(18)}>
            audience
          </text>
          <text transform={`translate(${-px(9)} ${middleY}) rotate(-90)`}>stage right</text>
          <text transform={`translate(${drawn.width + px(9)} ${middleY}) rotate(90)`}>
            stage left
          </text>
        </g>
        <g class="scale" font-size={px(small)} stroke-width={px(1.5)}>
          <path d={`M0 ${drawn.height + px(9)}v${px(6)}v${-px(3)}h${scaleM}v${-px(3)}v${px(6)}`} />
          <text x={scaleM + px(6)} y={drawn.height + px(17)}>
            {scaleM} m
          </text>
        </g>
        <g clip-path="url(#edge)">
          {keepOuts.map(one => (
            <g key={one.name} class="keep-out">
              <Shape outline={one.outline} frame={frame} fill="url(#hatch)" />
            </g>
          ))}
          {stage.exits.map(one => (
            <g key={one.name} class="exit">
              <Shape outline={one.outline} frame={frame} dashPx={5} />
            </g>
          ))}
          {zones.map(({ name, outline, isOccupied }) => (
            <g key={name} class={isOccupied ? 'zone occupied' : 'zone'}>
              <Shape outline={outline} frame={frame} />
            </g>
          ))}
          {withAnchors &&
            stage.anchors.map(({ name, at: [x, y] }) => (
              <g key={name} class="anchor">
                <path
                  d={`M${left(x) - px(5)} ${top(y)}h${px(10)}M${left(x)} ${top(y) - px(5)}v${px(10)}`}
                  stroke-width={px(1.5)}
                />
                <Name
                  text={name}
                  size={px(11)}
                  at={inside(labelAt(left(x), top(y) - px(10), name, px(11)), frame)}
                />
              </g>
            ))}
          <Beams stage={stage} snapshot={snapshot} frame={frame} />
          {keepOuts.map(one => (
            <g key={one.name} class="keep-out">
              <Name text={one.label} size={px(small)} at={one.at} />
            </g>
          ))}
          {zones.map(({ name, isOccupied, text, at }) => (
            <g key={name} class={isOccupied ? 'zone occupied' : 'zone'}>
              <Name text={text} size={px(small)} at={at} />
            </g>
          ))}
          {people.map(person => (
            <Performer
              key={person.status.name}
              person={person}
              trail={trails.get(person.status.name)}
              frame={frame}
              tag={tags.get(person.status.name)}
              size={px(small + 1)}
            />
          ))}
        </g>
      </svg>
    </div>
  );
}

/** Where each name stands, by performer. @param sides where they stood before, by performer */
function tagsOf(
  people: readonly Person[],
  frame: Frame,
  size: number,
  sides: Map<string, number>,
  names: readonly Label[],
): Map<string, Label> {
  const { left, top, perPx } = frame;
  const drawn = people.filter(isDrawn);
  const body = 2 * bodyPx * perPx;
  const taken = [...names];
  const tags = new Map<string, Label>();
  for (const { seen } of drawn) {
    const { x, y } = seen?.place ?? { x: 0, y: 0 };
    taken.push({ x: left(x), y: top(y), width: body, height: body });
  }
  for (const person of drawn) {
    const { name } = person.status;
    const { x, y } = person.seen?.place ?? { x: 0, y: 0 };
    const of = { x: left(x), y: top(y), text: tagOf(person), size };
    const [side, label] = placeTag(of, taken, sides.get(name) ?? 0, frame);
    sides.set(name, side);
    tags.set(name, label);
    taken.push(label);
  }
  return tags;
}

/** What no name of a zone should lie on: people, and heads. */
function marksOf(stage: LiveStage, people: readonly Person[], frame: Frame): Label[] {
  const { left, top, perPx } = frame;
  const mark = (x: number, y: number, sizePx: number) => {
    const size = sizePx * perPx;
    return { x: left(x), y: top(y), width: size, height: size };
  };
  const heads = stage.fixtures.flatMap(({ at, isHead }) =>
    isHead && at !== undefined ? [mark(at[0], at[1], 2 * HEAD_PX)] : [],
  );
  const bodies = people
    .filter(isDrawn)
    .flatMap(({ seen }) => (seen?.place ? [mark(seen.place.x, seen.place.y, 2 * bodyPx)] : []));
  return [...heads, ...bodies];
}

/** The middle of what of it is drawn. */
function middleOf(outline: Outline, frame: Frame, text: string, size: number): Label {
  const { left, top, edge } = frame;
  const { minX, maxX, minY, maxY } = boxOf(outline);
  const x = (Math.max(minX, edge.minX) + Math.min(maxX, edge.maxX)) / 2;
  const y = (Math.max(minY, edge.minY) + Math.min(maxY, edge.maxY)) / 2;
  return inside(labelAt(left(x), top(y), text, size), frame);
}

function movedBy(outline: Outline, by: { x: number; y: number } | undefined): Outline {
  if (by === undefined || outline.kind !== 'circle') return outline;
  const [x, y] = outline.centre;
  return { ...outline, centre: [x + by.x, y + by.y] };
}

function planInWords(stage: LiveStage, people: readonly Person[]): string {
  const where = people.map(({ label, status, seen }) => {
    const zones = (seen?.zones ?? []).map(
      zone => stage.zones.find(({ name }) => name === zone)?.label ?? zone,
    );
    return `${label} ${stateInWords(status)}${zones.length > 0 ? ` in ${zones.join(', ')}` : ''}`;
  });
  return `Plan of the stage. ${where.join('; ')}.`;
}
