/**
 * What stages remember between two ticks, as a row of numbers: a model takes the real stages to any state and back.
 */
export interface Memory {
  save(): Float64Array;
  load(state: Float64Array): void;
}

interface Place {
  readonly length: number;
  read(to: Float64Array, at: number): void;
  write(from: Float64Array, at: number): void;
}

type Held = Record<string, unknown>;

/**
 * @param roots all numbers, flags, words and arrays of numbers in them, down to the last
 * @param skip keys that are no memory: plans, and what each tick makes anew
 */
export function memoryOf(roots: readonly object[], skip: readonly string[]): Memory {
  const places: Place[] = [];
  const words: unknown[] = [undefined];
  const seen = new Set<object>();
  const walk = (one: object): void => {
    if (seen.has(one)) return;
    seen.add(one);
    for (const [key, value] of Object.entries(one)) {
      if (skip.includes(key)) continue;
      if (value instanceof Float64Array || value instanceof Uint8Array) places.push(row(value));
      else if (value instanceof Map || value instanceof Set) continue;
      else if (typeof value === 'object' && value !== null) walk(value);
      else places.push(single(one as Held, key, words));
    }
  };
  for (const root of roots) walk(root);
  const length = places.reduce((sum, one) => sum + one.length, 0);
  return {
    save() {
      const state = new Float64Array(length);
      let at = 0;
      for (const one of places) {
        one.read(state, at);
        at += one.length;
      }
      return state;
    },
    load(state) {
      let at = 0;
      for (const one of places) {
        one.write(state, at);
        at += one.length;
      }
    },
  };
}

function row(array: Float64Array | Uint8Array): Place {
  return {
    length: array.length,
    read: (to, at) => to.set(array, at),
    write: (from, at) => array.set(from.subarray(at, at + array.length)),
  };
}

/** A word is its place in the list of all that there were. */
function single(one: Held, key: string, words: unknown[]): Place {
  const isNumber = typeof one[key] === 'number';
  return {
    length: 1,
    read(to, at) {
      const value = one[key];
      if (isNumber) to[at] = value as number;
      else {
        if (!words.includes(value)) words.push(value);
        to[at] = words.indexOf(value);
      }
    },
    write(from, at) {
      one[key] = isNumber ? from[at] : words[from[at] as number];
    },
  };
}
