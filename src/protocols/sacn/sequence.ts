/** Section 6.7.2: packets up to this many behind are late, further behind the source has started anew. */
const LATE_WINDOW = 20;

/** Section 6.2.5: one byte that wraps from 255 to 0. */
export function nextSequence(sequence: number): number {
  return (sequence + 1) & 0xff;
}

/**
 * Whether a receiver takes packet `next` after `last` (E1.31 section 6.7.2): it discards when the signed
 * 8-bit difference is above -20 and at most 0. Kept apart for each kind of packet, source and universe.
 */
export function acceptsSequence(last: number, next: number): boolean {
  const difference = ((next - last) << 24) >> 24;
  return difference <= -LATE_WINDOW || difference > 0;
}
