import { Floor, SHAPES } from '../../drawing/floor.js';
import { INK } from '../../drawing/ink.js';
import { clipped, outlineOf, type PlanFrame } from '../../drawing/outline.js';
import { aroundStage, drawKeepOut, onPlan } from '../../drawing/surroundings.js';
import { beamOnFloor } from '../../show/model/beam-place.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import type { PlanPoint } from '../../stage/area.js';
import { escaped } from '../../stage/markup.js';
import { type Vec3, vec3 } from '../../stage/vector.js';
import { heightOf, type VolumeOptions } from '../../stage/volume.js';

/** Corners of the polygon that a sphere is drawn as. */
const CORNERS = 48;
const LIGHT = '#c9a227';
const LIT = `fill="${LIGHT}" fill-opacity="0.1" stroke="${LIGHT}" stroke-width="0.8"`;
/** Where the beam of a dark head would be. */
const DARK = `fill="none" stroke="${LIGHT}" stroke-width="0.8" stroke-dasharray="3 3"`;
const OUT = `fill="${INK.weak}" fill-opacity="0.14" stroke="${INK.weak}" stroke-width="1.2"`;

interface Beam {
  readonly label: string;
  readonly from: Vec3;
  readonly rim: readonly Vec3[];
  readonly isLit: boolean;
}

/**
 * The rig from above and from the side: heads, their beams in the safe look down to the floor, and what no lit beam may
 * touch. Empty if no head has a position.
 */
export function rigPictures(show: Show): string[] {
  const beams = show.fixtures.flatMap((plan): Beam[] => {
    const { head, label, safe } = plan;
    if (head === undefined) return [];
    const rim = beamOnFloor(plan, safe);
    return [{ label, from: head.position, rim, isLit: isLitAtSafe(plan) }];
  });
  if (beams.length === 0) return [];
  const floor = fromAbove(show, beams);
  const picture = floor.svg('the rig from above');
  const numbers = floor.numbered.map(escaped).join('; ');
  return [
    picture,
    ...(numbers === '' ? [] : [`<p class="quiet">${numbers}</p>`]),
    fromSide(show, beams, floor.frame),
  ];
}

/** Whether it is lit in the safe look; a fixture without a Dimmer always is. */
function isLitAtSafe({ profile: { channels }, safe }: FixturePlan): boolean {
  const dimmers = channels.flatMap(({ attribute }, c) => (attribute === 'Dimmer' ? [c] : []));
  return dimmers.length === 0 || dimmers.some(c => (safe[c] ?? 0) > 0);
}

function fromAbove({ bounds, keepOuts }: Show, beams: readonly Beam[]): Floor {
  const areas = keepOuts.map(({ volume }) => onPlan(volume));
  const places = [...beams.map(({ from }) => from), ...aroundStage(bounds, areas)];
  const floor = new Floor({ bounds, places, aroundM: 0.8 });
  for (const { volume, label } of keepOuts) drawKeepOut(floor, volume, label);
  floor.stage();
  for (const beam of beams) {
    const { from, rim } = beam;
    if (rim.length === 0) continue;
    const shown = clipped(hull([from, ...rim].map(({ x, y }) => [x, y])), floor.frame);
    floor.draw(polygon(floor.points(shown), ...styleOf(beam)));
  }
  for (const { label, from } of beams) {
    floor.mark({
      ...{ at: from, shape: SHAPES.head, half: 7, lines: [label] },
      title: `${label}, ${from.z.toFixed(1)} m up`,
    });
  }
  return floor;
}

const [LEFT, RIGHT, TOP] = [40, 460, 20];

/** The same part of the stage as the plan shows, seen from stage left, with the audience at the left. */
function fromSide(show: Show, beams: readonly Beam[], { y0, y1 }: PlanFrame): string {
  const { min, max } = show.bounds;
  const perM = (RIGHT - LEFT) / (y1 - y0);
  const z0 = Math.min(0, ...beams.flatMap(({ rim }) => rim.map(({ z }) => z)));
  const z1 = Math.max(max.z, ...beams.map(({ from }) => from.z)) + 0.6;
  const bottom = TOP + (z1 - z0) * perM;
  const frame = { x0: y0, x1: y1, y0: z0, y1: z1 };
  const at = ([y, z]: PlanPoint) =>
    `${(LEFT + (y - y0) * perM).toFixed(1)},${(TOP + (z1 - z) * perM).toFixed(1)}`;
  const shape = (points: readonly Vec3[], style: string, title: string) => {
    const shown = clipped(hull(points.map(({ y, z }) => [y, z])), frame);
    return shown.length < 3 ? '' : polygon(shown.map(at).join(' '), style, title);
  };
  const parts = [
    ...show.keepOuts.map(({ label, volume }) => shape(sidesOf(volume, z1), OUT, label)),
    ...beams.map(beam => shape([beam.from, ...beam.rim], ...styleOf(beam))),
    `<path d="M${at([min.y, 0])}L${at([max.y, 0])}" stroke="${INK.text}" stroke-width="1.6"/>`,
    ...beams.map(({ label, from }) => {
      const [cx, cy] = at([from.y, from.z]).split(',');
      return `<circle cx="${cx}" cy="${cy}" r="4" fill="${INK.text}"><title>${escaped(label)}</title></circle>`;
    }),
    `<rect x="${LEFT}" y="${TOP}" width="${RIGHT - LEFT}" height="${(bottom - TOP).toFixed(1)}" fill="none" stroke="${INK.line}"/>`,
    `<text x="${LEFT}" y="13">audience</text>`,
    `<text x="${(LEFT + RIGHT) / 2}" y="13" text-anchor="middle">from stage left</text>`,
    `<text x="${RIGHT}" y="13" text-anchor="end">upstage</text>`,
  ];
  return `<svg class="floor" viewBox="0 0 ${RIGHT + 20} ${(bottom + 8).toFixed(1)}" role="img" aria-label="the rig from the side" font-family="inherit" font-size="12" fill="${INK.text}">${parts.join('')}</svg>`;
}

/** Style and title of a beam. */
function styleOf({ label, isLit }: Beam): [style: string, title: string] {
  return isLit ? [LIT, label] : [DARK, `${label}, dark in the safe look`];
}

function polygon(points: string, style: string, title: string): string {
  return `<polygon points="${points}" ${style}><title>${escaped(title)}</title></polygon>`;
}

export const RIG_KEY = [
  [LIGHT, 'beam in the safe look, down to the floor; dashed: the head is dark in it'],
  [INK.weak, 'no lit beam goes there'],
] as const;

/** Outline of a volume from the side. @param most where one without an end is cut off, metres */
function sidesOf(volume: VolumeOptions, most: number): Vec3[] {
  if (volume.kind === 'ball') {
    const { centre, radiusM } = volume;
    // Upright, in the plane of the picture.
    return Array.from({ length: CORNERS }, (_, i) => {
      const angle = (2 * Math.PI * i) / CORNERS;
      const [y, z] = [Math.cos(angle), Math.sin(angle)];
      return vec3(centre.x, centre.y + radiusM * y, centre.z + radiusM * z);
    });
  }
  const { fromM, toM } = heightOf(volume.area);
  return outlineOf(volume.area).flatMap(([x, y]) => [
    vec3(x, y, fromM),
    vec3(x, y, Math.min(toM, most)),
  ]);
}

/** Convex hull by Andrew's monotone chain (1979). */
function hull(places: readonly PlanPoint[]): PlanPoint[] {
  const points = [...places].sort(([ax, ay], [bx, by]) => ax - bx || ay - by);
  const half = (all: readonly PlanPoint[]) => {
    const chain: PlanPoint[] = [];
    for (const p of all) {
      while (chain.length > 1 && turn(chain.at(-2), chain.at(-1), p) <= 0) chain.pop();
      chain.push(p);
    }
    return chain.slice(0, -1);
  };
  return [...half(points), ...half([...points].reverse())];
}

function turn(
  [ax, ay]: PlanPoint = [0, 0],
  [bx, by]: PlanPoint = [0, 0],
  [cx, cy]: PlanPoint = [0, 0],
) {
  return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
}
