// What the supervisor adds to each beat of the large house: its own fall to safe, and the limits on what leaves.
import { createShowLevels } from '../dist/daemon/levels/show-levels.js';
import { stepFallback } from '../dist/safety/fallback.js';
import { stepOutputLimiter } from '../dist/safety/output-limiter.js';
import { parseShow } from '../dist/show/parse.js';
import { HOUSE, houseShow } from './house.mjs';

const BEATS = 8000;
const WARM_UP = 2000;

export function benchOutputLimiter() {
  const parsed = parseShow(houseShow(), 'house.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems[0].message);
  const { plan, fallback, limiter, out } = createShowLevels(parsed.show);
  const frame = Uint8Array.from(out);
  const slots = plan.fixtures.flatMap(one => one.channels.flatMap(channel => channel.slots));
  const beatS = 1 / HOUSE.outputHz;
  const took = { fallback: new Float64Array(BEATS), limiter: new Float64Array(BEATS) };
  for (let beat = 0; beat < BEATS; beat++) {
    // A third of all slots change in each beat, some steps up or down, as fades do.
    for (const slot of slots) {
      if ((slot + beat) % 3 === 0) frame[slot] = (frame[slot] + ((slot * 7 + beat) % 5) - 2) & 255;
    }
    const before = performance.now();
    stepFallback(fallback, plan, frame, true, beatS, out);
    const between = performance.now();
    stepOutputLimiter(limiter, out, beatS, 1000 + beat * beatS);
    took.fallback[beat] = between - before;
    took.limiter[beat] = performance.now() - between;
  }
  console.log(`\nsupervisor's beat, ${limiter.count} channels, microseconds (median, 99 %)`);
  for (const [name, all] of Object.entries(took)) {
    const sorted = [...all.subarray(WARM_UP)].sort((a, b) => a - b);
    const at = share => (1000 * sorted[Math.floor(share * sorted.length)]).toFixed(1).padStart(8);
    console.log(`${name.padEnd(10)}${at(0.5)}${at(0.99)}`);
  }
}
