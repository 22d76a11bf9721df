/** What receivers of sACN and of Art-Net keep of a source: levels that wait for their synchronization, and those that count. */
export interface ReceivedSource {
  /** Monotonic seconds of its last packet of levels. */
  readonly heardS: number;
  readonly slots: Uint8Array;
  readonly waiting: Uint8Array;
  isWaiting: boolean;
  /** It has shown levels: the first may still wait for their synchronization. */
  isShown: boolean;
}

/** Its synchronization has come. @returns whether anything waited for it */
export function showWaiting(source: ReceivedSource): boolean {
  if (!source.isWaiting) return false;
  source.slots.set(source.waiting);
  source.isWaiting = false;
  source.isShown = true;
  return true;
}

/**
 * Lets go of sources that have been silent for so long, all at once: a network that is cut must not show those of a
 * lower priority, or one of two, on the way.
 * @returns whether there were any
 */
export function expireSources(sources: ReceivedSource[], nowS: number, afterS: number): boolean {
  const before = sources.length;
  for (let i = before - 1; i >= 0; i--) {
    const { heardS } = sources[i] as ReceivedSource;
    if (nowS - heardS > afterS) sources.splice(i, 1);
  }
  return sources.length < before;
}
