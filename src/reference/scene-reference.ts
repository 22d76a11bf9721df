import { sceneJsonSchema } from '../rehearsal/scenes/scene-file.js';
import { section } from './show-reference.js';

/** The reference page of the scene file, from its schema. */
export function sceneReference(): string {
  const lines = [
    '# Scene file reference',
    '',
    '<!-- Generated from src/rehearsal/scenes/scene-schema.ts by `npm run docs:generate`; do not edit. -->',
    '',
    'What `lampwright rehearse SHOW SCENE` plays: YAML; metres and seconds, in the stage frame of the show. An',
    'unknown key is an error. Whatever has a default may be left out. Editors complete the file with',
    '[scene.schema.json](scene.schema.json): begin it with `# yaml-language-server: $schema=schemas/scene.schema.json`.',
    'How to write one: [rehearse without a stage](../guides/rehearse.md).',
    '',
  ];
  section(lines, 'The file', sceneJsonSchema(), 2);
  return `${lines.join('\n').trimEnd()}\n`;
}
