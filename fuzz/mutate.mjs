/** Xorshift (Marsaglia, 2003, the 13, 17, 5 triple): fast, seeded, good enough to break things. */
export function randomInts(seed) {
  let state = seed | 0 || 1;
  return below => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) % below;
  };
}

/** Values at which parsers break: ends of ranges, signs, lengths, NaN and infinity of a float. */
const STRANGE = [0x00, 0x01, 0x7f, 0x80, 0xff, 0x2f, 0x2c, 0x5b, 0x5d, 0x23, 0x24];
const STRANGE_WORDS = [
  0, 1, 0x7f800000, 0x7fc00000, 0xffffffff, 0x80000000, 0x00010000, 0x72657266,
];

/**
 * Writes a malformed relative of one of some good packets into `out`.
 * @returns how long it is
 */
export function mutate(random, corpus, out) {
  const base = corpus[random(corpus.length)];
  let length = Math.min(base.length, out.length);
  base.copy(out, 0, 0, length);
  for (let changes = 1 + random(4); changes > 0; changes--) {
    const at = length === 0 ? 0 : random(length);
    switch (random(9)) {
      case 0:
        out[at] = random(256);
        break;
      case 1:
        out[at] ^= 1 << random(8);
        break;
      case 2:
        out[at] = STRANGE[random(STRANGE.length)];
        break;
      case 3:
        length = random(length + 1);
        break;
      case 4: {
        const more = Math.min(out.length - length, random(64));
        for (let i = 0; i < more; i++) out[length + i] = random(256);
        length += more;
        break;
      }
      case 5: {
        const other = corpus[random(corpus.length)];
        const from = random(other.length + 1);
        const end = Math.min(out.length, at + other.length - from);
        other.copy(out, at, from, from + end - at);
        length = Math.max(length, end);
        break;
      }
      case 6:
        if (at + 4 <= length) out.writeUInt32BE(STRANGE_WORDS[random(STRANGE_WORDS.length)], at);
        break;
      case 7: {
        // A part of it twice.
        const size = Math.min(1 + random(32), length - at, out.length - length);
        if (size > 0) out.copy(out, length, at, at + size);
        length += Math.max(0, size);
        break;
      }
      default:
        for (let i = at; i < Math.min(length, at + 8); i++) out[i] = random(256);
    }
  }
  return length;
}
