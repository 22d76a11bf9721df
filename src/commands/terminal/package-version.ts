import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { packageFolder } from './package-folder.js';

export function packageVersion(): string {
  const file = join(packageFolder(), 'package.json');
  return (JSON.parse(readFileSync(file, 'utf8')) as { version: string }).version;
}
