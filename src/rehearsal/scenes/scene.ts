/** A performer's way through a scene, and what their tracker does, as functions of time. */
export interface ScenePart {
  readonly performer: string;
  readonly tracker: string;
  /** Seconds from the start of the scene and where they are then, metres in the stage frame. */
  readonly marks: readonly (readonly [atS: number, x: number, y: number])[];
  /** Height of the tracker over the floor, metres. */
  readonly heightM: number;
  /** When the tracker is silent, from and to, seconds. */
  readonly silences: readonly (readonly [fromS: number, toS: number])[];
}

export interface Scene {
  readonly name: string;
  /** The scene repeats after this time, seconds. */
  readonly lengthS: number;
  readonly parts: readonly ScenePart[];
}

export interface ScenePosition {
  x: number;
  y: number;
  z: number;
}

/**
 * Where somebody is at a time (stage frame, metres): from mark to mark, starting and stopping gently, and
 * standing between two marks at the same place.
 * @returns false where the tracker is silent
 */
export function scenePosition(
  scene: Scene,
  part: ScenePart,
  atS: number,
  out: ScenePosition,
): boolean {
  const t = ((atS % scene.lengthS) + scene.lengthS) % scene.lengthS;
  let previous = part.marks[0];
  for (const mark of part.marks) {
    if (previous === undefined || mark[0] > t) break;
    previous = mark;
  }
  const next = part.marks.find(mark => mark[0] > t) ?? previous;
  if (previous === undefined || next === undefined) return false;
  const span = next[0] - previous[0];
  const share = span > 0 ? Math.min(1, Math.max(0, (t - previous[0]) / span)) : 0;
  const eased = share * share * (3 - 2 * share);
  out.x = previous[1] + eased * (next[1] - previous[1]);
  out.y = previous[2] + eased * (next[2] - previous[2]);
  out.z = part.heightM;
  return !part.silences.some(([fromS, toS]) => t >= fromS && t < toS);
}
