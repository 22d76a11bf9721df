/** Of nodes that were not told of one by one. */
export function unsteadyNodes({ came, went }: { came: number; went: number }): string {
  return `Art-Net nodes come and go: besides those that are listed here ${came} came and ${went} went`;
}
