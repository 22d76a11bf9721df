/**
 * The DMX values of GDTF (DIN SPEC 15800): `value/bytes`, and `value/bytes` with an `s`. Brought to a
 * wider channel, the first is mirrored (its bytes are repeated: 255/1 is 65535 in 16 bits, full stays
 * full) and the second shifted (255/1s is 65280). Brought to a narrower one, both lose their low bytes.
 */
export interface DmxValue {
  readonly value: number;
  readonly bytes: number;
  readonly shifted: boolean;
}

const MAX_BYTES = 4;

/** @returns undefined for what is none, and for `None` */
export function dmxValue(text: string | undefined): DmxValue | undefined {
  const plain = text?.trim() ?? '';
  // The standard's own example has a channel that begins at "0/255": 0 is 0 in any width.
  if (/^0+\/\d{1,3}s?$/.test(plain)) return { value: 0, bytes: 1, shifted: false };
  const match = /^(\d{1,10})\/([1-9])(s?)$/.exec(plain);
  if (match === null) return undefined;
  const [value, bytes] = [Number(match[1]), Number(match[2])];
  if (bytes > MAX_BYTES || value >= 256 ** bytes) return undefined;
  return { value, bytes, shifted: match[3] === 's' };
}

/** The raw value in a channel of so many bytes. */
export function rawIn({ value, bytes, shifted }: DmxValue, channelBytes: number): number {
  let raw = 0;
  for (let i = 0; i < channelBytes; i++) {
    // Byte i from the top; behind the last comes the first again, or nothing.
    const from = shifted && i >= bytes ? undefined : i % bytes;
    const byte = from === undefined ? 0 : Math.floor(value / 256 ** (bytes - 1 - from)) % 256;
    raw = raw * 256 + byte;
  }
  return raw;
}
