export interface Target {
  readonly name: string;
  readonly corpus: readonly Buffer[];
  read(bytes: Buffer): void;
}
export function targetsOf(library: object): readonly Target[];
