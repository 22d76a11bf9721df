// Finds the settings of the peers (src/rehearsal/assessing/peers.ts) on the development recordings: every setting of a
// coarse grid, its error as a share of holding and its roughness, geometric means over the recordings, and
// of each way those that no other setting of that way beats in both. Deterministic; some minutes.
import { readdirSync, readFileSync } from 'node:fs';
import { assess } from '../dist/rehearsal/assessing/assess.js';
import { frontOf } from '../dist/rehearsal/assessing/front.js';
import { peerLabel } from '../dist/rehearsal/assessing/peers.js';
import { parseRecording, passagesOf } from '../dist/rehearsal/assessing/recording.js';
import { DEFAULT_TRACKING_OPTIONS } from '../dist/tracking/options.js';

const FOLDER = 'tests/fixtures/data/tracking/';
const HORIZON_S = 0.1;
/** The stamps of the walks lag; see the README beside the recordings. */
const lagOf = file => (file.startsWith('uwb_walk') ? 0.18 : 0);

const settings = [
  { kind: 'hold' },
  ...[0.02, 0.04, 0.06, 0.1, 0.15, 0.2, 0.3, 0.4].map(timeConstantS => ({
    kind: 'exponential',
    timeConstantS,
  })),
  ...[0.5, 1, 2, 4].flatMap(minCutoffHz =>
    [0.25, 0.5, 1, 2, 4].flatMap(beta =>
      [0.5, 1, 2].map(slopeCutoffHz => ({ kind: 'oneEuro', minCutoffHz, beta, slopeCutoffHz })),
    ),
  ),
  ...[0.5, 1, 2, 4, 8].flatMap(memoryS =>
    [0.06, 0.12, 0.25, 0.5, 1, 2, 4].flatMap(accelerationDensity =>
      [0.1, 0.2, 0.3, 0.45, 0.6, 0.9].map(noiseM => ({
        kind: 'dampedVelocity',
        memoryS,
        accelerationDensity,
        noiseM,
      })),
    ),
  ),
];

const files = readdirSync(FOLDER).filter(name => name.endsWith('.csv'));
const logs = { measured: settings.map(() => [0, 0]), truth: settings.map(() => [0, 0]) };
const own = { measured: [0, 0], truth: [0, 0] };
const counts = { measured: 0, truth: 0 };
for (const file of files) {
  const read = parseRecording(readFileSync(FOLDER + file, 'utf8'));
  if (!read.ok) throw new Error(read.faults.join('\n'));
  const timing = { horizonS: HORIZON_S, latencyS: 0, lagS: lagOf(file) };
  const passages = passagesOf(read.value, { seed: 1, runs: 2 });
  const { ours, hold, peers } = assess(
    passages,
    DEFAULT_TRACKING_OPTIONS,
    timing,
    () => {},
    settings,
  );
  const { kind } = read.value;
  counts[kind]++;
  own[kind][0] += Math.log(ours.rmse / hold.rmse);
  own[kind][1] += Math.log(ours.roughness);
  peers.forEach(({ scores }, i) => {
    logs[kind][i][0] += Math.log(scores.rmse / hold.rmse);
    logs[kind][i][1] += Math.log(scores.roughness);
  });
  console.error(file);
}
for (const kind of ['measured', 'truth']) {
  const [error, roughness] = own[kind].map(sum => Math.exp(sum / counts[kind]));
  console.log(`${kind} ${error.toFixed(4)} ${roughness.toFixed(1)} ours`);
  const points = settings.map((setting, i) => ({
    name: peerLabel(setting),
    setting,
    error: Math.exp(logs[kind][i][0] / counts[kind]),
    roughness: Math.exp(logs[kind][i][1] / counts[kind]),
  }));
  for (const way of ['hold', 'exponential', 'oneEuro', 'dampedVelocity']) {
    for (const point of frontOf(points.filter(({ setting }) => setting.kind === way))) {
      console.log(
        `${kind} ${point.error.toFixed(4)} ${point.roughness.toFixed(1)} ${JSON.stringify(point.setting)}`,
      );
    }
  }
}
