const TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
  let crc = byte;
  for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  return crc;
});

/**
 * CRC-32 of IEEE 802.3, as in zlib, PNG and gzip (reflected, polynomial 0x04C11DB7): that of the nine
 * characters "123456789" is 0xCBF43926.
 */
export function crc32(bytes: Uint8Array, from = 0, to = bytes.length): number {
  let crc = 0xffffffff;
  for (let i = from; i < to; i++) {
    crc = (TABLE[(crc ^ (bytes[i] as number)) & 0xff] as number) ^ (crc >>> 8);
  }
  return (crc ^ 0xffffffff) >>> 0;
}
