import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { makeFolderNow } from '../daemon/make-folder.js';
import { sceneReference } from '../reference/scene-reference.js';
import { errorReference, safetyReference, showReference } from '../reference/show-reference.js';
import { sceneJsonSchema } from '../rehearsal/scene-file.js';
import { profileJsonSchema, showEditorSchema } from '../show/json-schema.js';
import { messageOf } from '../stage/message-of.js';
import type { Arguments } from './dispatch.js';
import { EXIT } from './exit-codes.js';
import { misuseOf } from './misuse.js';
import { print } from './terminal.js';

export const REFERENCE_HELP = `usage: lampwright reference [--write FOLDER]

Prints the reference of the show file as Markdown. With --write it writes show-file.md,
scene-file.md, show-errors.md, show.schema.json, profile.schema.json and scene.schema.json (for
editors) to a folder.

examples:
  lampwright reference | less
  lampwright reference --write docs/reference

exit codes: 0 ok, 2 bad usage or a folder that can't be written`;

const misuse = misuseOf('reference');

export async function reference(args: Arguments): Promise<number> {
  const folder = args.values.write;
  if (typeof folder !== 'string') {
    print(showReference());
    return EXIT.ok;
  }
  const files = {
    'show-file.md': showReference(),
    'show-errors.md': errorReference(),
    'safety-conditions.md': safetyReference(),
    'show.schema.json': `${JSON.stringify(showEditorSchema(), undefined, 2)}\n`,
    'scene-file.md': sceneReference(),
    'scene.schema.json': `${JSON.stringify(sceneJsonSchema(), undefined, 2)}\n`,
    'profile.schema.json': `${JSON.stringify(profileJsonSchema(), undefined, 2)}\n`,
  };
  try {
    makeFolderNow(folder);
    for (const [name, text] of Object.entries(files)) writeFileSync(join(folder, name), text);
  } catch (error) {
    return misuse(`can't write to ${folder}: ${messageOf(error)}.`);
  }
  return EXIT.ok;
}
