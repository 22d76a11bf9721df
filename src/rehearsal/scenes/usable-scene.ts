import type { z } from 'zod';
import { type SceneFile, SceneFileSchema } from './scene-schema.js';

type Plain = Record<string, unknown>;

/** Taking out one fault can reveal another; more rounds than this are not worth it. */
const MOST_ROUNDS = 4;

/**
 * Leaves out of a scene what the schema refuses, so that the rest can be checked against the show: a slip
 * in one performer must not hide one in another.
 * @returns undefined where too little is left to say anything
 */
export function usableScene(
  value: unknown,
  issues: readonly z.core.$ZodIssue[],
): SceneFile | undefined {
  if (!isPlain(value)) return undefined;
  const rest = structuredClone(value);
  let open = issues;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    for (const { path, ...issue } of open) {
      const [block, entry] = path.map(String);
      if (issue.code === 'unrecognized_keys' && path.length === 0) {
        for (const key of issue.keys) delete rest[key];
      } else if (block === 'performers') {
        const { performers } = rest;
        if (entry === undefined || !isPlain(performers)) return undefined;
        delete performers[entry];
      } else if (block !== undefined && block in STAND_INS) {
        rest[block] = STAND_INS[block as keyof typeof STAND_INS];
      } else if (block !== undefined) delete rest[block];
      else return undefined;
    }
    const checked = SceneFileSchema.safeParse(rest);
    if (checked.success) return checked.data;
    open = checked.error.issues;
  }
  return undefined;
}

/** Stand-ins for what every scene needs. No check depends on the length, and a short scene is read quickly. */
const STAND_INS = { lampwright: 1, scene: 'a scene', length: 1 } as const;

function isPlain(value: unknown): value is Plain {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
