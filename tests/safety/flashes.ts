/**
 * WCAG 2.2, success criterion 2.3.1, read word by word and counted the long way, apart from the limiter:
 * "a flash is a pair of opposing changes in relative luminance of 10 % or more of the maximum relative
 * luminance where the relative luminance of the darker image is below 0.80"; "no more than three flashes
 * in any one second period". (w3.org/TR/WCAG22, definition of "general flash".)
 */
export function flashesWithin(levels: readonly number[]): number {
  // Turning points of the light, where a change counts from 10 % on.
  const CHANGE = 0.1 - 1e-9;
  let changes = 0;
  let low = levels[0] ?? 0;
  let high = low;
  let direction = 0;
  for (const level of levels) {
    if (direction >= 0 && level > high) high = level;
    if (direction <= 0 && level < low) low = level;
    if (direction !== 1 && level - low >= CHANGE && low < 0.8) {
      changes += 1;
      direction = 1;
      high = level;
    } else if (direction !== -1 && high - level >= CHANGE && level < 0.8) {
      changes += 1;
      direction = -1;
      low = level;
    }
    if (direction === 1 && level > high) high = level;
    if (direction === -1 && level < low) low = level;
  }
  return Math.floor(changes / 2);
}

/** The most flashes in any second of a series of samples. */
export function mostFlashesInASecond(series: readonly number[], samplesPerSecond: number): number {
  let most = 0;
  for (let from = 0; from === 0 || from + samplesPerSecond < series.length; from++) {
    // A second has one sample more than intervals.
    most = Math.max(most, flashesWithin(series.slice(from, from + samplesPerSecond + 1)));
  }
  return most;
}
