import { type Affine, gdtfMatrix, NOWHERE_ELSE, within } from './affine.js';
import { clipped } from './archive.js';
import type { Remarks } from './outcome.js';
import { attributeOf, childOf, childrenOf, numberOf, type XmlElement } from './xml.js';

/** One part of a fixture's body, placed in the body as it hangs, pan and tilt at 0. */
export interface Part {
  readonly name: string;
  readonly element: XmlElement;
  readonly parent: Part | undefined;
  readonly placed: Affine;
  /** Slots that are added to the offsets of channels on it, one for each way in which it is referred to. */
  readonly shifts: readonly SlotShift[];
}

/** From a GeometryReference: where the slots of this copy of a geometry begin. */
export interface SlotShift {
  readonly dmxBreak: number;
  readonly slots: number;
}

/** More parts than this are a trap: a body of a thousand cells has some thousand. */
const MOST_PARTS = 5000;
const DEEPEST = 64;

/**
 * All the parts under one top-level geometry, references followed, top first.
 * @returns undefined where there is no such geometry
 */
export function partsUnder(
  geometries: XmlElement | undefined,
  rootName: string,
  where: string,
  remarks: Remarks,
): readonly Part[] | undefined {
  const tops = new Map(
    (geometries?.children ?? []).map(element => [attributeOf(element, 'Name') ?? '', element]),
  );
  const root = tops.get(rootName);
  if (root === undefined) return undefined;
  const parts: Part[] = [];
  let tooMany = false;
  const add = (
    element: XmlElement,
    name: string,
    parent: Part | undefined,
    placed: Affine,
    shifts: readonly SlotShift[],
    depth: number,
  ): void => {
    if (parts.length >= MOST_PARTS || depth > DEEPEST) {
      tooMany = true;
      return;
    }
    const part: Part = { name, element, parent, placed, shifts };
    parts.push(part);
    for (const child of element.children) {
      const childName = attributeOf(child, 'Name');
      // Breaks, wires and the like have no place.
      if (childName === undefined || NO_PARTS.has(child.name)) continue;
      const at = placeOf(child, `${where}, geometry "${clipped(childName)}"`, remarks);
      const there = within(placed, at);
      if (child.name !== 'GeometryReference') {
        add(child, childName, part, there, shifts, depth + 1);
        continue;
      }
      const target = tops.get(attributeOf(child, 'Geometry') ?? '');
      if (target === undefined) {
        remarks.leftOut(
          `${where}, geometry "${clipped(childName)}"`,
          'it refers to a geometry that is not there',
        );
        continue;
      }
      const breaks = childrenOf(child, 'Break').map(one => ({
        dmxBreak: numberOf(one, 'DMXBreak') ?? 1,
        slots: (numberOf(one, 'DMXOffset') ?? 1) - 1,
      }));
      add(target, attributeOf(target, 'Name') ?? childName, part, there, breaks, depth + 1);
    }
  };
  add(root, rootName, undefined, placeOf(root, where, remarks), [], 0);
  if (tooMany)
    remarks.leftOut(
      where,
      `its geometry has more than ${MOST_PARTS} parts, or lies too deep; the rest is not looked at`,
    );
  return parts;
}

const NO_PARTS: ReadonlySet<string> = new Set(['Break', 'PinPatch', 'Protocol', 'Protocols']);

function placeOf(element: XmlElement, where: string, remarks: Remarks): Affine {
  const text =
    attributeOf(element, 'Position') ?? attributeOf(childOf(element, 'Position'), 'Matrix');
  if (text === undefined) return NOWHERE_ELSE;
  const matrix = gdtfMatrix(text);
  if (matrix !== undefined) return matrix;
  remarks.error(
    where,
    `its Position "${clipped(text)}" is not 4 rows of 4 finite numbers; taken as none, so calibrate what hangs on it`,
  );
  return NOWHERE_ELSE;
}

/** Whether a part is another, or in it. */
export function isIn(part: Part | undefined, outer: Part): boolean {
  for (let at = part; at !== undefined; at = at.parent) if (at === outer) return true;
  return false;
}
