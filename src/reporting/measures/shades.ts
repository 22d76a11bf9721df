/** A colour at a moment, for a picture over time. */
export interface Shade {
  readonly step: number;
  /** `#ffe3c2` */
  readonly hex: string;
}

/** Error that a colour in the picture may have, of 255: side by side it can't be told apart. */
const TOLERANCE = 4;

/**
 * Few colours between which all others lie on straight lines (Douglas and Peucker 1973, in sRGB). While the light is
 * out, its last colour holds until it comes up again.
 * @param hexes colour of each step; undefined where it was out
 */
export function shadesOf(hexes: readonly (string | undefined)[]): Shade[] {
  const shades: Shade[] = [];
  let run: Shade[] = [];
  const end = () => {
    const last = shades.at(-1);
    const [first] = run;
    if (first === undefined) return;
    // It changed in the dark: let it jump when the light comes up.
    if (last !== undefined && last.hex !== first.hex) shades.push({ ...last, step: first.step });
    shades.push(...simplified(run));
    run = [];
  };
  for (let step = 0; step < hexes.length; step++) {
    const hex = hexes[step];
    if (hex === undefined) end();
    else run.push({ step, hex });
  }
  end();
  return shades;
}

/** Whether two colours can't be told apart side by side. */
export function isNear(a: string, b: string): boolean {
  return partsOf(a).every((part, i) => Math.abs(part - (partsOf(b)[i] ?? 0)) <= TOLERANCE);
}

function partsOf(hex: string): number[] {
  return [1, 3, 5].map(at => Number.parseInt(hex.slice(at, at + 2), 16));
}

function simplified(run: readonly Shade[]): Shade[] {
  const rgb = run.map(({ hex }) => partsOf(hex));
  const kept = new Set([0, run.length - 1]);
  const spans: [from: number, to: number][] = [[0, run.length - 1]];
  for (let span = spans.pop(); span !== undefined; span = spans.pop()) {
    const [from, to] = span;
    let [worst, at] = [TOLERANCE, -1];
    for (let i = from + 1; i < to; i++) {
      const off = offLine(rgb[from] ?? [], rgb[to] ?? [], rgb[i] ?? [], (i - from) / (to - from));
      if (off > worst) [worst, at] = [off, i];
    }
    if (at < 0) continue;
    kept.add(at);
    spans.push([from, at], [at, to]);
  }
  return run.filter((_, i) => kept.has(i));
}

/** Largest error of the three parts, of 255. */
function offLine(
  from: readonly number[],
  to: readonly number[],
  is: readonly number[],
  share: number,
): number {
  let most = 0;
  for (let part = 0; part < 3; part++) {
    const [a, b] = [from[part] ?? 0, to[part] ?? 0];
    most = Math.max(most, Math.abs((is[part] ?? 0) - a - share * (b - a)));
  }
  return most;
}
