/** An IPv4 network: the address with its host bits, and the mask, as whole numbers. */
export interface Network {
  readonly address: number;
  readonly mask: number;
}

/** Dotted to a whole number; undefined where it is no IPv4 address. */
export function ipv4(text: string): number | undefined {
  const parts = text.split('.');
  if (parts.length !== 4) return undefined;
  let value = 0;
  for (const part of parts) {
    if (!/^\d{1,3}$/.test(part) || Number(part) > 255) return undefined;
    value = value * 256 + Number(part);
  }
  return value;
}

export function dotted(address: number): string {
  return [24, 16, 8, 0].map(shift => (address >>> shift) & 0xff).join('.');
}

/** Whether the address lies in the network. */
export function isIn({ address, mask }: Network, other: number): boolean {
  return (address & mask) >>> 0 === (other & mask) >>> 0;
}

/** Whether two networks have an address in common: one then holds the other. */
export function overlap(a: Network, b: Network): boolean {
  const mask = (a.mask & b.mask) >>> 0;
  return (a.address & mask) >>> 0 === (b.address & mask) >>> 0;
}

/** Set bits of a mask: 24 for 255.255.255.0. */
export function prefixLength(mask: number): number {
  let bits = 0;
  for (let left = mask >>> 0; left !== 0; left = (left << 1) >>> 0) bits++;
  return bits;
}

/** `10.0.0.0/24` */
export function networkText({ address, mask }: Network): string {
  return `${dotted((address & mask) >>> 0)}/${prefixLength(mask)}`;
}
