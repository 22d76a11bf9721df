/** NTP counts from 1900-01-01, Unix from 1970-01-01: 70 years with 17 leap days. */
const UNIX_EPOCH_IN_NTP_S = 2_208_988_800;
/** Seconds wrap after 32 bits, first on 2036-02-07T06:28:16Z. */
const NTP_ERA_S = 2 ** 32;
/** RFC 4330 section 3: top bit set means 1968 to 2036, clear means 2036 to 2104. */
const ERA_PIVOT_S = 2 ** 31;
const FRACTIONS_PER_S = 2 ** 32;

/** Unix seconds (steps of about 0.24 us at today's dates), or the special tag "immediately". */
export type OscTimeTag = number | 'immediately';

/**
 * An OSC 1.0 time tag (NTP 32.32) as Unix seconds.
 * 63 zero bits and a one mean "immediately" (OSC 1.0). All zero is no time either: NTP reserves it for
 * "unknown" (RFC 5905 section 6), and senders without a clock use it, so it reads as "immediately".
 */
export function timeTagFromNtp(seconds: number, fraction: number): OscTimeTag {
  if (seconds === 0 && fraction <= 1) return 'immediately';
  const era = seconds < ERA_PIVOT_S ? NTP_ERA_S : 0;
  return seconds + era - UNIX_EPOCH_IN_NTP_S + fraction / FRACTIONS_PER_S;
}

/** The inverse of {@link timeTagFromNtp}, for Unix times from 1968 to 2104. */
export function timeTagToNtp(tag: OscTimeTag): [seconds: number, fraction: number] {
  if (tag === 'immediately') return [0, 1];
  const whole = Math.floor(tag);
  const fraction = Math.round((tag - whole) * FRACTIONS_PER_S);
  const carry = fraction === FRACTIONS_PER_S ? 1 : 0;
  const seconds = (whole + carry + UNIX_EPOCH_IN_NTP_S) % NTP_ERA_S;
  return [seconds, carry === 1 ? 0 : fraction];
}

/** OSC 1.0: the tag of an enclosed bundle must not be earlier than that of the enclosing one. */
export function isEarlier(inner: OscTimeTag, outer: OscTimeTag): boolean {
  if (outer === 'immediately') return false;
  return inner === 'immediately' || inner < outer;
}
