import { setFlagsFromString } from 'node:v8';
import { runInThisContext } from 'node:vm';

// It stays on: V8 compiles the function when it is called.
setFlagsFromString('--allow-natives-syntax');
const haveSameMap: (a: object, b: object) => boolean = runInThisContext(
  '(a, b) => %HaveSameMap(a, b)',
);

/**
 * How many hidden classes V8 has for these objects. With more than four, code that reads all of them looks each
 * property up anew, each time.
 */
export function shapesOf(objects: readonly object[]): number {
  const found: object[] = [];
  for (const one of objects) if (!found.some(other => haveSameMap(one, other))) found.push(one);
  return found.length;
}
