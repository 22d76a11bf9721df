import { INK } from '../drawing/ink.js';
import { beamOnFloor } from '../show/beam-place.js';
import type { Show } from '../show/model.js';
import { escaped } from '../stage/markup.js';
import { type Vec3, vec3 } from '../stage/vector.js';
import { heightOf, type VolumeOptions } from '../stage/volume.js';

const WIDTH = 760;
const MARGIN = 28;
/** Corners of a circle. */
const RAYS = 24;
const LIGHT = '#c9a227';

/**
 * The rig from above and from the side of stage left: heads, their beams in the safe look down to the floor, and what no
 * lit beam may touch. Undefined where no head has a place.
 */
export function rigPicture(show: Show): string | undefined {
  const heads = show.fixtures.filter(({ head }) => head !== undefined);
  if (heads.length === 0) return undefined;
  const { min, max } = show.bounds;
  const places = [
    min,
    max,
    ...heads.map(({ head }) => head?.position ?? min),
    ...show.keepOuts.flatMap(({ volume }) => cornersOf(volume)),
  ];
  const [x0, x1] = [Math.min(...places.map(p => p.x)) - 1, Math.max(...places.map(p => p.x)) + 1];
  const [y0, y1] = [Math.min(...places.map(p => p.y)) - 1, Math.max(...places.map(p => p.y)) + 1];
  const [z0, z1] = [Math.min(0, ...places.map(p => p.z)), Math.max(...places.map(p => p.z)) + 1];
  const perM = (WIDTH - 2 * MARGIN) / Math.max(x1 - x0, y1 - y0);
  const sideTop = 2 * MARGIN + (y1 - y0) * perM;
  const above = ({ x, y }: Vec3) =>
    `${(MARGIN + (x - x0) * perM).toFixed(1)},${(MARGIN + (y1 - y) * perM).toFixed(1)}`;
  const aside = ({ y, z }: Vec3) =>
    `${(MARGIN + (y - y0) * perM).toFixed(1)},${(sideTop + (z1 - z) * perM).toFixed(1)}`;
  const height = sideTop + (z1 - z0) * perM + MARGIN;
  const polygon = (points: readonly string[], style: string, title: string) =>
    `<polygon points="${points.join(' ')}" ${style}><title>${escaped(title)}</title></polygon>`;
  const stage = (view: (p: Vec3) => string, corners: readonly Vec3[]) =>
    polygon(corners.map(view), `fill="none" stroke="${INK.text}" stroke-width="1.5"`, 'stage');
  const out = `fill="${INK.weak}" fill-opacity="0.15" stroke="${INK.weak}" stroke-dasharray="4 3"`;
  const lit = `fill="${LIGHT}" fill-opacity="0.12" stroke="${LIGHT}" stroke-width="0.8"`;
  const parts = [
    stage(above, [min, vec3(max.x, min.y, 0), max, vec3(min.x, max.y, 0)]),
    stage(aside, [vec3(0, min.y, 0), vec3(0, max.y, 0)]),
    ...show.keepOuts.flatMap(({ label, volume }) => [
      polygon(cornersOf(volume).map(above), out, label),
      polygon(hull(sidesOf(volume, z1).map(aside)), out, label),
      labelAt(above(middleOf(cornersOf(volume))), label),
    ]),
    ...heads.flatMap(plan => {
      const rim = beamOnFloor(plan, plan.safe);
      const from = plan.head?.position ?? min;
      return [
        polygon(hull([from, ...rim].map(above)), lit, plan.label),
        polygon(hull([from, ...rim].map(aside)), lit, plan.label),
      ];
    }),
    ...heads.flatMap(({ head, label }) => {
      const at = head?.position ?? min;
      return [above(at), aside(at)].map(place => {
        const [cx, cy] = place.split(',');
        return `<circle cx="${cx}" cy="${cy}" r="4.5" fill="${INK.text}"><title>${escaped(label)}</title></circle>`;
      });
    }),
  ];
  return `<svg viewBox="0 0 ${WIDTH} ${height.toFixed(1)}" role="img" aria-label="the rig from above and from the side" font-family="inherit" fill="${INK.text}">${parts.join('')}</svg>`;
}

export const RIG_KEY = [
  [LIGHT, 'beam in the safe look, down to the floor'],
  [INK.weak, 'no lit beam goes there'],
  [INK.text, 'head'],
] as const;

/** On the plan, at its lower height. */
function cornersOf(volume: VolumeOptions): Vec3[] {
  if (volume.kind === 'ball') {
    const { centre, radiusM } = volume;
    return circle(centre.x, centre.y, radiusM, centre.z);
  }
  const { shape } = volume.area;
  const { fromM } = heightOf(volume.area);
  return shape.kind === 'circle'
    ? circle(shape.centre.x, shape.centre.y, shape.radiusM, fromM)
    : shape.points.map(([x, y]) => vec3(x, y, fromM));
}

/** @param most where one without an end is cut off */
function sidesOf(volume: VolumeOptions, most: number): Vec3[] {
  if (volume.kind === 'ball') {
    const { centre, radiusM } = volume;
    // Upright, in the plane of the picture.
    return circle(centre.y, centre.z, radiusM, 0).map(({ x, y }) => vec3(centre.x, x, y));
  }
  const { toM } = heightOf(volume.area);
  return cornersOf(volume).flatMap(one => [one, vec3(one.x, one.y, Math.min(toM, most))]);
}

function circle(x: number, y: number, radius: number, z: number): Vec3[] {
  return Array.from({ length: RAYS }, (_, i) => {
    const angle = (2 * Math.PI * i) / RAYS;
    return vec3(x + radius * Math.cos(angle), y + radius * Math.sin(angle), z);
  });
}

function middleOf(points: readonly Vec3[]): Vec3 {
  const sum = points.reduce((all, p) => vec3(all.x + p.x, all.y + p.y, 0), vec3(0, 0, 0));
  return vec3(sum.x / points.length, sum.y / points.length, 0);
}

function labelAt(place: string, label: string): string {
  const [x, y] = place.split(',');
  return `<text x="${x}" y="${y}" text-anchor="middle" font-size="12" fill="${INK.quiet}" stroke="#fff" stroke-width="3" paint-order="stroke">${escaped(label)}</text>`;
}

/** Convex hull of points "x,y" by Andrew's monotone chain (1979). */
function hull(places: readonly string[]): string[] {
  const points = places
    .map(place => place.split(',').map(Number) as [number, number])
    .sort(([ax, ay], [bx, by]) => ax - bx || ay - by);
  const half = (all: readonly (readonly [number, number])[]) => {
    const chain: (readonly [number, number])[] = [];
    for (const p of all) {
      while (chain.length > 1 && turn(chain.at(-2), chain.at(-1), p) <= 0) chain.pop();
      chain.push(p);
    }
    return chain.slice(0, -1);
  };
  return [...half(points), ...half([...points].reverse())].map(([x, y]) => `${x},${y}`);
}

type Point = readonly [number, number];

function turn([ax, ay]: Point = [0, 0], [bx, by]: Point = [0, 0], [cx, cy]: Point = [0, 0]) {
  return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
}
