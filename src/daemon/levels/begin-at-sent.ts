import { createSafeFade, type SafeFade } from '../../safety/fade-to-safe.js';
import { type FallbackFixture, readRaw } from '../../safety/fallback.js';

/** As live, whatever it shows; but a head that points where it should need not go dark before it comes up. */
export function beginAtSent(safeFade: SafeFade, fixture: FallbackFixture, out: Uint8Array): void {
  const safe = fixture.moves ? shareOfSafe(fixture, out) : undefined;
  const where = safe === undefined ? { stage: 'live', live: 1, safe: 0 } : { stage: 'safe', safe };
  Object.assign(safeFade, createSafeFade(), where);
}

/** How much of its safe intensity a head shows that is at its safe values else; undefined where it is not. */
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
