import { Floor, SHAPES } from '../drawing/floor.js';
import { INK } from '../drawing/ink.js';
import { aroundStage, drawKeepOut, KEEP_OUT, onPlan } from '../drawing/surroundings.js';
import type { Show } from '../show/model/model.js';

/** Broken lines of each kind, and their inks; told beside the plan. */
export const AREAS = {
  zone: { ink: INK.zone, dash: '5 4' },
  exit: { ink: INK.exit, fill: INK.exit, dash: '2 3' },
  keepOut: KEEP_OUT,
} as const;

const AROUND_M = 0.8;

/** Stage, zones, exits and keep-outs of a show, and room for all that hangs; marks are for the caller. */
export function showFloor(show: Show, isSmall = false): Floor {
  const places = [
    ...[...show.fixtures, ...show.unpatched].flatMap(({ position }) =>
      position === undefined ? [] : [position],
    ),
    ...(isSmall ? [] : show.anchors.map(({ position }) => position)),
    ...aroundStage(show.bounds, [
      ...show.exits.map(({ area }) => area),
      ...show.keepOuts.map(({ volume }) => onPlan(volume)),
    ]),
  ];
  const floor = new Floor({
    bounds: show.bounds,
    places,
    isSmall,
    aroundM: isSmall ? 0.4 : AROUND_M,
  });
  for (const { volume, label } of show.keepOuts) drawKeepOut(floor, volume, nameOf(label));
  for (const { area, label } of show.exits) floor.area(area, AREAS.exit, nameOf(label));
  for (const { area, label, around } of show.zones) {
    // One that moves with somebody has no place.
    if (around === undefined) floor.area(area, AREAS.zone, nameOf(label));
  }
  floor.stage();
  return floor;

  function nameOf(label: string): string | undefined {
    return isSmall ? undefined : label;
  }
}

/**
 * The rig from above: what hangs or stands where, and how high.
 * @param numbers by the names of fixtures, those of the patch
 */
export function rigPlan(show: Show, numbers: ReadonlyMap<string, string>): Floor {
  const floor = showFloor(show);
  for (const { name, label, position, head } of show.fixtures) {
    if (position === undefined) continue;
    const isHead = head !== undefined;
    const number = numbers.get(name);
    floor.mark({
      ...(number === undefined ? {} : { number }),
      ...{ at: position, shape: isHead ? SHAPES.head : SHAPES.fixed, half: isHead ? 7 : 6 },
      lines: [label, `${position.z.toFixed(1)} m`],
      title: `${label}, ${position.z.toFixed(1)} m up`,
    });
  }
  for (const { label, position } of show.unpatched) {
    if (position === undefined) continue;
    const mark = { at: position, shape: SHAPES.unpatched, half: 6 };
    floor.mark({ ...mark, lines: [label], title: `${label}, not patched` });
  }
  for (const { name, position } of show.anchors) {
    floor.mark({
      ...{ at: position, shape: SHAPES.anchor, half: 7, lines: [name] },
      title: `anchor ${name}, ${position.z.toFixed(1)} m up`,
    });
  }
  return floor;
}

/** What the marks of the plan mean: those that are on it. */
export function planKey(show: Show): string {
  const placed = show.fixtures.filter(({ position }) => position !== undefined);
  const marks = [
    placed.some(({ head }) => head !== undefined) ? 'rings: moving heads' : '',
    placed.some(({ head }) => head === undefined) ? 'squares: other fixtures' : '',
    show.unpatched.some(({ position }) => position !== undefined)
      ? 'empty diamonds: not patched'
      : '',
    show.anchors.length > 0 ? 'triangles: anchors of the tracking system' : '',
    show.zones.some(({ around }) => around === undefined) ? 'broken lines: zones' : '',
    show.exits.length > 0 ? 'dotted lines: exits' : '',
    show.keepOuts.length > 0 ? 'red: no lit beam enters' : '',
  ].filter(words => words !== '');
  const text = marks.join('; ');
  return text === ''
    ? ''
    : `${text.charAt(0).toUpperCase()}${text.slice(1)}. Heights are above the stage.`;
}
