import { getHeapSpaceStatistics } from 'node:v8';

/** Node option with which `collectYoung` can do what it says. */
export const MAY_COLLECT = '--expose-gc';

/** Bytes of what was made of late, and is looked through at once when the collector comes. */
export function youngBytes(): number {
  return (
    getHeapSpaceStatistics().find(({ space_name }) => space_name === 'new_space')
      ?.space_used_size ?? 0
  );
}

/** Has the collector look through it now. It takes as long as it takes to copy what is still in use. */
export function collectYoung(): void {
  globalThis.gc?.({ type: 'minor' });
}
