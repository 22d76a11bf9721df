import type { DeskLevels } from '../../engine/values/inputs.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { nameMeant } from '../../show/problems/names.js';
import { listed } from '../../show/problems/problem.js';
import { checkRising, type Find } from './scene-orders.js';
import type { SceneFile } from './scene-schema.js';

/** What a desk sends on one of its universes from a moment of the scene on. */
export interface SceneDeskMark {
  readonly atS: number;
  /** Index of the universe among those that the show hears. */
  readonly input: number;
  /** Slots from 0 that change, each with its level. */
  readonly slots: readonly (readonly [slot: number, level: number])[];
  readonly gone: boolean;
}

/** All marks of a scene in order of time. */
export function deskMarksOf(file: SceneFile, show: Show, find: Find): SceneDeskMark[] {
  return Object.entries(file.desk)
    .flatMap(([name, marks]) => {
      const path = ['desk', name];
      const input = show.desk.findIndex(one => one.name === name);
      if (input < 0) {
        const names = show.desk.map(one => one.name);
        const has = names.length === 0 ? 'It hears none.' : `It hears ${listed(names)}.`;
        const message = `the show hears no desk universe "${name}".${nameMeant(name, show.desk)} ${has}`;
        find('unknown-name', path, message);
      }
      checkRising(marks, path, find);
      return marks.map(
        ({ at, slots, gone }): SceneDeskMark => ({
          atS: at,
          input,
          slots: Object.entries(slots).map(([slot, level]) => [Number(slot) - 1, level]),
          gone,
        }),
      );
    })
    .sort((a, b) => a.atS - b.atS);
}

/** The desk of a scene: each slot keeps its level until a mark changes it. */
export class SceneDesk {
  readonly #levels: Uint8Array[] = [];
  #next = 0;

  constructor(private readonly marks: readonly SceneDeskMark[]) {}

  /** What has become audible since the last call, up to a moment of the scene, in order of time. */
  until(sceneS: number): DeskLevels[] {
    const heard: DeskLevels[] = [];
    for (let mark = this.marks[this.#next]; mark !== undefined; mark = this.marks[this.#next]) {
      if (mark.atS > sceneS) break;
      this.#next += 1;
      const levels = this.#levels[mark.input]?.slice() ?? new Uint8Array(SLOTS_PER_UNIVERSE);
      for (const [slot, level] of mark.slots) levels[slot] = level;
      this.#levels[mark.input] = levels;
      heard.push({ input: mark.input, levels, heard: !mark.gone });
    }
    return heard;
  }
}
