import { createSafeFade, type SafeFade } from '../../safety/fade-to-safe.js';
import { type FallbackFixture, readRaw } from '../../safety/fallback.js';

/** Treats it as live, whatever it shows; but a head that already points where it should need not go dark first. */
export function beginAtSent(safeFade: SafeFade, fixture: FallbackFixture, out: Uint8Array): void {
  const safe = fixture.moves ? shareOfSafe(fixture, out) : undefined;
  const where = safe === undefined ? { stage: 'live', live: 1, safe: 0 } : { stage: 'safe', safe };
  Object.assign(safeFade, createSafeFade(), where);
}

/** How much of its safe intensity a head shows whose other values are safe; undefined if they are not. */
function shareOfSafe({ channels, safeIsDark }: FallbackFixture, out: Uint8Array) {
  let share: number | undefined = safeIsDark ? 1 : undefined;
  for (const channel of channels) {
    const raw = readRaw(channel, out);
    const { safeRaw, darkRaw } = channel;
    if (channel.class !== 'intensity' || safeRaw === darkRaw) {
      if (raw !== safeRaw) return undefined;
      continue;
    }
    share ??= (raw - darkRaw) / (safeRaw - darkRaw);
    if (Math.round(darkRaw + share * (safeRaw - darkRaw)) !== raw) return undefined;
  }
  return share !== undefined && share >= 0 && share <= 1 ? share : undefined;
}
