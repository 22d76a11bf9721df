/** Whether an output sends to the multicast groups of its universes, alone or beside addresses. */
export function isMulticast({ to }: { readonly to: 'multicast' | readonly string[] }): boolean {
  return to === 'multicast' || to.includes('multicast');
}

/** Whether an IPv4 address is that of a multicast group. */
export function isGroup(address: string): boolean {
  const first = Number(address.split('.')[0]);
  return first >= 224 && first < 240;
}

/** The addresses that it sends to beside. */
export function addressesOf({
  to,
}: {
  readonly to: 'multicast' | readonly string[];
}): readonly string[] {
  return to === 'multicast' ? [] : to.filter(one => one !== 'multicast');
}
