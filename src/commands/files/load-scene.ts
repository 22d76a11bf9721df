import { dirname, resolve } from 'node:path';
import { readText } from '../../daemon/files/read-file.js';
import { parseScene, type SceneResult } from '../../rehearsal/scenes/scene-file.js';
import type { Show } from '../../show/model/model.js';
import { MAX_SHOW_BYTES } from '../../show/parse.js';
import { MAX_TABLE_BYTES } from '../terminal/text-files.js';
import { unreadable } from './show-file.js';

/** Reads a scene, with the tables beside it that it names. */
export function loadScene(file: string, show: Show): SceneResult {
  const own = readText(file, MAX_SHOW_BYTES);
  if (!own.ok) return { ok: false, problems: [unreadable('scene', file, own)] };
  return parseScene(own.text, file, show, path => {
    const read = readText(resolve(dirname(file), path), MAX_TABLE_BYTES);
    return read.ok ? read : { ok: false, why: read.fault };
  });
}
