import { own } from '../../stage/own.js';
/** What somebody probably meant, for the end of a message; each begins with a space, or is '' if there is no guess. */

/** For text where a number is expected. */
export function numberHint(given: unknown): string {
  if (typeof given !== 'string') return '';
  const text = given.trim();
  const decimal = /^(-?\d+),(\d+)$/.exec(text);
  if (decimal !== null) return ` Decimals are written with a point: ${decimal[1]}.${decimal[2]}.`;
  const perCent = /^(-?\d+(?:\.\d+)?) ?%$/.exec(text);
  if (perCent !== null) return ` Write per cent without the sign: ${perCent[1]}.`;
  const part = /^(-?\d+(?:\.\d+)?) ?(cm|mm|ms)$/i.exec(text);
  if (part !== null) return inBaseUnit(Number(part[1]), (part[2] ?? '').toLowerCase());
  const minutes = /^(\d+(?:\.\d+)?) ?(min|mins|minute|minutes|h|hour|hours)$/i.exec(text);
  if (minutes !== null) {
    const seconds = Number(minutes[1]) * (/^h/i.test(minutes[2] ?? '') ? 3600 : 60);
    return ` Times are written in seconds, without their unit: ${Number(seconds.toPrecision(12))}.`;
  }
  const clock = /^(\d+):([0-5]\d)$/.exec(text);
  if (clock !== null) {
    return ` Times are written in seconds: ${60 * Number(clock[1]) + Number(clock[2])}.`;
  }
  const withUnit =
    /^(-?\d+(?:\.\d+)?) ?(?:m|metres?|meters?|s|secs?|seconds?|°|deg|degrees|hz|fps|k|kelvin)$/i.exec(
      text,
    );
  return withUnit === null ? '' : ` Numbers are written without their unit: ${withUnit[1]}.`;
}

/** All lengths of the files are metres, and all times seconds. */
function inBaseUnit(value: number, unit: string): string {
  const base = Number((value / (unit === 'cm' ? 100 : 1000)).toPrecision(12));
  return ` Numbers are written without their unit, in ${unit === 'ms' ? 'seconds' : 'metres'}: ${base}.`;
}

/** For a row of a table with more or fewer values than its head. */
export function rowHint(cells: readonly string[], columns: number): string {
  if (cells.some(cell => cell.includes(';')))
    return ' Write commas between values, not semicolons, and decimals with a point.';
  return cells.length > columns && cells.filter(cell => /^-?\d+$/.test(cell)).length > 1
    ? ' Decimals are written with a point (1.4): a comma parts one value from the next.'
    : '';
}

/** For a key that is a number: half of a decimal in a block of one line, such as `{ radius: 1,4 }`. */
export function keyHint(key: string): string {
  return /^\d+$/.test(key) ? DECIMAL_IN_LIST : '';
}

/** For a list with too many numbers, such as `[2,5, 3]`. */
export const DECIMAL_IN_LIST =
  ' Decimals are written with a point (1.4): a comma parts one entry from the next.';

/** For another kind of value where text is expected. */
export function textHint(given: unknown): string {
  if (Array.isArray(given))
    return ' One only: for several, write the mapping or block once for each.';
  const isTracker =
    typeof given === 'object' && given !== null && Object.keys(given).join() === 'tracker';
  return isTracker ? ` ${BRACES_IN_QUOTES}` : '';
}

/** YAML takes unquoted braces for a block of keys. */
export const BRACES_IN_QUOTES =
  'Put text with { or } in quotes: address: "/tracker/{tracker}/position".';

/** For one word where a list is expected. */
export function listWordHint(given: unknown): string {
  return given === 'multicast'
    ? ' Art-Net levels are never multicast: list the addresses of the nodes, such as [10.0.0.20].'
    : '';
}

/** What GDTF calls it. */
const GDTF_NAMES: Readonly<Record<string, string>> = {
  intensity: 'Dimmer',
  level: 'Dimmer',
  master: 'Dimmer',
  brightness: 'Dimmer',
  red: 'ColorAdd_R',
  green: 'ColorAdd_G',
  blue: 'ColorAdd_B',
  white: 'ColorAdd_W',
  amber: 'ColorAdd_RY',
  uv: 'ColorAdd_UV',
  cyan: 'ColorSub_C',
  magenta: 'ColorSub_M',
  yellow: 'ColorSub_Y',
  color: 'Color1',
  colour: 'Color1',
  shutter: 'Shutter1',
  strobe: 'Shutter1Strobe',
  focus: 'Focus1',
  gobo: 'Gobo1',
  prism: 'Prism1',
  frost: 'Frost1',
  fog: 'Fog1',
  haze: 'Haze1',
  fan: 'Fan1',
};

export function attributeHint(word: string): string {
  const name = own(GDTF_NAMES, word.toLowerCase().replace(/[_ -]?\d*$/, ''));
  return name === undefined ? '' : ` GDTF calls it "${name}".`;
}

/** For a value beyond per cent that could be a byte. */
export function byteHint(value: number, high: number): string {
  // Just above 100 it is a slip.
  if (high !== 100 || value < 128 || value > 255) return '';
  return ` These are per cent, not DMX levels: ${value} of 255 is ${Math.round(value / 2.55)}.`;
}
