import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { directivesOf, type UnitFacts } from '../../readiness/unit.js';

/** systemd.unit(5): the first that has it counts. */
const FOLDERS = [
  '/etc/systemd/system',
  '/run/systemd/system',
  '/usr/local/lib/systemd/system',
  '/usr/lib/systemd/system',
  '/lib/systemd/system',
];
const UNIT = 'lampwright@.service';

/** The unit of this machine, with its drop-ins; undefined where there is none. @param shippedPath that of this version */
export function lookAtUnit(shippedPath: string): UnitFacts | undefined {
  const paths = FOLDERS.map(folder => join(folder, UNIT));
  const path = paths.find(one => textOf(one) !== undefined);
  const shipped = textOf(shippedPath);
  if (path === undefined || shipped === undefined) return undefined;
  const dropIns = FOLDERS.flatMap(folder => {
    const own = join(folder, `${UNIT}.d`);
    return list(own)
      .filter(name => name.endsWith('.conf'))
      .map(name => textOf(join(own, name)) ?? '');
  });
  return {
    path,
    shippedPath,
    directives: directivesOf([textOf(path) ?? '', ...dropIns].join('\n')),
    shipped: directivesOf(shipped),
    enabled: list('/etc/systemd/system/multi-user.target.wants').filter(name =>
      /^lampwright@.+\.service$/.test(name),
    ),
  };
}

function textOf(file: string): string | undefined {
  try {
    return readFileSync(file, 'utf8');
  } catch {
    return undefined;
  }
}

function list(folder: string): string[] {
  try {
    return readdirSync(folder).sort();
  } catch {
    return [];
  }
}
