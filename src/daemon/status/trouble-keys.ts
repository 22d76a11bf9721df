/** The messages of an input begin with its name. */
export function inputOf(message: string) {
  return `input ${/^input "([^"]*)"/.exec(message)?.[1] ?? ''}` as const;
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
  return `source ${protocol} ${address} ${name}` as const;
}
