import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { makeFolderNow } from '../../daemon/files/make-folder.js';
import { liveJsonSchema } from '../../live/schema.js';
import { showEditorSchema } from '../../reference/editor-schema.js';
import { manualPage } from '../../reference/manual.js';
import { sceneReference } from '../../reference/scene-reference.js';
import { errorReference, safetyReference, showReference } from '../../reference/show-reference.js';
import { sceneJsonSchema } from '../../rehearsal/scenes/scene-file.js';
import { profileJsonSchema } from '../../show/schema/json-schema.js';
import { messageOf } from '../../stage/message-of.js';
import { type Arguments, type Command, helpText } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { overviewOf } from '../terminal/overview.js';
import { packageVersion } from '../terminal/package-version.js';
import { print } from '../terminal/terminal.js';

export const REFERENCE_HELP = `usage: lampwright reference [--write FOLDER] [--manual FOLDER]

Prints the reference of the show file as Markdown. With --write it writes show-file.md,
scene-file.md, show-errors.md, show.schema.json, profile.schema.json and scene.schema.json (for
editors), and snapshot.schema.json (for programs that read the snapshot stream) to a folder.

  --write FOLDER    write the pages and schemas to this folder
  --schemas FOLDER  write the three schemas for editors to this folder, as \`init\` does; over those of another version
  --manual FOLDER   write a manual page for each command, lampwright-COMMAND.1, to this folder

examples:
  lampwright reference | less
  lampwright reference --schemas opera/schemas
  lampwright reference --manual ~/.local/share/man/man1
  lampwright reference --write docs/reference

exit codes: 0 ok, 2 bad usage or a folder that can't be written`;

const misuse = misuseOf('reference');

export async function reference(
  { values: { write, schemas, manual } }: Arguments,
  commands: Readonly<Record<string, Command>>,
): Promise<number> {
  if (write === undefined && schemas === undefined && manual === undefined) {
    print(showReference());
    return EXIT.ok;
  }
  const faults = [
    ...(typeof write === 'string' ? writeAll(write, pages()) : []),
    ...(typeof schemas === 'string' ? writeAll(schemas, editorSchemas()) : []),
    ...(typeof manual === 'string'
      ? writeAll(manual, manualPages(commands, packageVersion()))
      : []),
  ];
  return faults.length === 0 ? EXIT.ok : misuse(...faults);
}

/** By the names of their files. */
export function editorSchemas() {
  const text = (schema: unknown) => `${JSON.stringify(schema, undefined, 2)}\n`;
  return {
    'show.schema.json': text(showEditorSchema()),
    'scene.schema.json': text(sceneJsonSchema()),
    'profile.schema.json': text(profileJsonSchema()),
  };
}

function pages(): Record<string, string> {
  return {
    'show-file.md': showReference(),
    'show-errors.md': errorReference(),
    'safety-conditions.md': safetyReference(),
    'scene-file.md': sceneReference(),
    'snapshot.schema.json': `${JSON.stringify(liveJsonSchema(), undefined, 2)}\n`,
    ...editorSchemas(),
  };
}

/** @returns a message for each fault */
function writeAll(folder: string, files: Readonly<Record<string, string>>): string[] {
  try {
    makeFolderNow(folder);
    for (const [name, text] of Object.entries(files)) writeFileSync(join(folder, name), text);
    return [];
  } catch (error) {
    return [`can't write to ${folder}: ${messageOf(error)}.`];
  }
}

/** A page for the program as a whole, and one for each of its commands. */
export function manualPages(
  commands: Readonly<Record<string, Command>>,
  version: string,
): Record<string, string> {
  const whole = 'lampwright';
  const single = Object.entries(commands).flatMap(([name, command]) =>
    ['', ...(command.kinds ?? [])]
      .map(kind => ({ kind, help: helpText(command, ...(kind === '' ? [] : [kind])) }))
      // Kinds that share a help share a page.
      .filter(({ kind, help }) => kind === '' || help !== helpText(command))
      .map(({ kind, help }) => ({
        name: [whole, name, ...(kind === '' ? [] : [kind])].join('-'),
        summary: command.summary,
        help,
      })),
  );
  const all = [
    { name: whole, summary: 'light from tracked positions', help: overviewOf(commands) },
    ...single,
  ];
  return Object.fromEntries(
    all.map(({ name, ...page }) => {
      const others = name === whole ? single.map(one => one.name) : [whole];
      return [`${name}.1`, manualPage({ name, ...page, version, seeAlso: others })];
    }),
  );
}
