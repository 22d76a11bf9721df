/** Tables for four bytes at a time: `TABLES[k][byte]` is the CRC of the byte with k zeros after it. */
const TABLES = [0, 1, 2, 3].map(() => new Int32Array(256)) as [
  Int32Array,
  Int32Array,
  Int32Array,
  Int32Array,
];
const [T0, T1, T2, T3] = TABLES;
for (let byte = 0; byte < 256; byte++) {
  let crc = byte;
  for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  T0[byte] = crc;
}
for (let byte = 0; byte < 256; byte++) {
  for (let k = 1; k < 4; k++) {
    const before = (TABLES[k - 1] as Int32Array)[byte] as number;
    (TABLES[k] as Int32Array)[byte] = (T0[before & 0xff] as number) ^ (before >>> 8);
  }
}

/**
 * CRC-32 of IEEE 802.3, as in zlib, PNG and gzip (reflected, polynomial 0x04C11DB7): that of the nine
 * characters "123456789" is 0xCBF43926. Four bytes at a time (slicing: Kounavis and Berry, Intel 2005;
 * from memory), as it is the dearest part of a recording.
 */
export function crc32(bytes: Uint8Array, from = 0, to = bytes.length): number {
  let crc = -1;
  let i = from;
  for (const past = to - 3; i < past; i += 4) {
    crc ^=
      (bytes[i] as number) |
      ((bytes[i + 1] as number) << 8) |
      ((bytes[i + 2] as number) << 16) |
      ((bytes[i + 3] as number) << 24);
    crc =
      (T3[crc & 0xff] as number) ^
      (T2[(crc >>> 8) & 0xff] as number) ^
      (T1[(crc >>> 16) & 0xff] as number) ^
      (T0[crc >>> 24] as number);
  }
  for (; i < to; i++) crc = (T0[(crc ^ (bytes[i] as number)) & 0xff] as number) ^ (crc >>> 8);
  return ~crc >>> 0;
}
