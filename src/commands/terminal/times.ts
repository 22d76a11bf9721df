/** Time of day on this machine's clock, 19:30:05. */
export function clock(unixS: number): string {
  const date = new Date(unixS * 1e3);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}`;
}

/** 20:14:03.4 */
export function clockToTenths(unixS: number): string {
  const tenths = Math.round(unixS * 10);
  return `${clock(Math.floor(tenths / 10))}.${tenths % 10}`;
}

/** 2026-11-25 */
export function day(unixS: number): string {
  const date = new Date(unixS * 1e3);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}

/** 2026-11-25 19:30:05 */
export function dayAndClock(unixS: number): string {
  return `${day(unixS)} ${clock(unixS)}`;
}

/** 1:02:03, 2:03, or 2.5 s. */
export function duration(seconds: number): string {
  if (seconds < 60) return `${seconds.toFixed(1)} s`;
  const whole = Math.round(seconds);
  const two = (n: number) => String(n).padStart(2, '0');
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  return hours > 0
    ? `${hours}:${two(minutes)}:${two(whole % 60)}`
    : `${minutes}:${two(whole % 60)}`;
}

const TIME_OF_DAY = /^([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d(?:\.\d+)?))?$/;

export function isTimeOfDay(text: string): boolean {
  return TIME_OF_DAY.test(text);
}

/** A time of day that is farther than this after a recording's beginning is taken to be before it instead, seconds. */
const RATHER_BEFORE_S = 18 * 3600;

/** The moment (Unix seconds) of a time of day in a recording: after its beginning, unless that is `RATHER_BEFORE_S` later. */
export function timeOfDayIn(text: string, beganUnixS: number): number {
  const unixS = nextTimeOfDay(text, beganUnixS);
  return unixS - beganUnixS > RATHER_BEFORE_S ? unixS - 86_400 : unixS;
}

/** The next moment (Unix seconds) at which this machine's clock shows a time of day; a show may pass midnight. */
export function nextTimeOfDay(text: string, fromUnixS: number): number {
  const [, hours, minutes, seconds] = TIME_OF_DAY.exec(text) ?? [];
  const date = new Date(fromUnixS * 1e3);
  date.setHours(Number(hours), Number(minutes), 0, Math.round(1e3 * Number(seconds ?? 0)));
  const unixS = date.getTime() / 1e3;
  // A minute of grace: in a recording that began at 19:30:05, 19:30 doesn't mean tomorrow.
  return unixS < fromUnixS - 60 ? unixS + 86_400 : unixS;
}
