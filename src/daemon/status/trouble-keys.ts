/** The messages of an input begin with its name. */
export function inputOf(message: string): string {
  return /^input "[^"]*"/.exec(message)?.[0] ?? 'input';
}

/** Of somebody else who sends on our universes. */
export function sourceOf({
  protocol,
  name,
  address,
}: {
  protocol: string;
  name: string;
  address: string;
}) {
  return `source ${protocol} ${address} ${name}`;
}
