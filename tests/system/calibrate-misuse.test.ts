import { describe, expect, it } from 'vitest';
import { lampwright, SALT_LANTERN } from './support.js';

const POINTS = 'config/examples/salt-lantern.points.csv';
const MARKERS = 'config/examples/salt-lantern.markers.csv';
const AIMS = 'config/examples/salt-lantern.aims.csv';

/** Each only starts and says no, so that several may at a time. */
describe('calibrate stage', () => {
  it.concurrent.each([
    [['calibrate'], 'say what to calibrate'],
    [['calibrate', 'stag', SALT_LANTERN], 'say "stage" or "fixture", not "stag"'],
    [['calibrate', 'stage'], 'the path of a show file is missing'],
    [['calibrate', 'stage', SALT_LANTERN], 'give either --points or --markers'],
    [['calibrate', 'stage', SALT_LANTERN, '--points', 'no.csv'], "no.csv can't be read"],
    [['calibrate', 'stage', SALT_LANTERN, '--points', MARKERS], 'column tx, ty, tz is missing'],
    [
      ['calibrate', 'stage', SALT_LANTERN, '--points', POINTS, '--input', 'trackin'],
      'Did you mean "tracking"?',
    ],
    [
      ['calibrate', 'stage', SALT_LANTERN, '--points', POINTS, '--tolerance', 'none'],
      '--tolerance is a number from 0.01 to 5',
    ],
  ])('%j is misuse', async (args, says) => {
    const { code, stderr } = await lampwright(args);
    expect(code).toBe(2);
    expect(stderr).toContain(says);
  });
});

describe('calibrate fixture', () => {
  it.concurrent.each([
    [[SALT_LANTERN], 'give one of --samples, --ask and --live'],
    [[SALT_LANTERN, '--live'], '--live is for one fixture'],
    [[SALT_LANTERN, '--samples', AIMS, '--tracker', '4'], '--tracker goes with --live'],
    [[SALT_LANTERN, '--samples', AIMS, '--save', 'a'], '--save goes with --ask and --live'],
    [[SALT_LANTERN, 'head-right', '--live', '--address', '1.5'], '--address is a whole number'],
    [[SALT_LANTERN, '--ask'], '--ask is for one fixture; name it'],
    [[SALT_LANTERN, 'head-rihgt', '--samples', AIMS], 'Did you mean "head-right"?'],
    [[SALT_LANTERN, 'stove-glow', '--samples', AIMS], 'has no Pan and Tilt'],
    [[SALT_LANTERN, '--samples', AIMS, '--leave-out', '2'], 'line 2 has no sample'],
    [[SALT_LANTERN, '--samples', AIMS, '--leave-out', 'x'], '--leave-out takes line numbers'],
    [[SALT_LANTERN, '--samples', AIMS, '--level'], 'has no option --level'],
    [[SALT_LANTERN, '--samples', POINTS], 'column "name", "tx", "ty", "tz", "use" isn\'t known'],
    [['no.show.yaml', '--samples', AIMS], 'there is no such file'],
  ])('%j is misuse', async (args, says) => {
    const { code, stderr } = await lampwright(['calibrate', 'fixture', ...args]);
    expect(stderr).toContain(says);
    expect(code).toBe(2);
  });
});
