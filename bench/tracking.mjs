// CPU a report of the tracking part alone: observe and one predict, on the recordings of the tests.
import { readFileSync } from 'node:fs';
import { parseRecording } from '../dist/rehearsal/assessing/recording.js';
import { observe } from '../dist/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../dist/tracking/options.js';
import { predict } from '../dist/tracking/predict.js';
import { createEstimate } from '../dist/tracking/sighting.js';
import { createTrack } from '../dist/tracking/track.js';

const FILE = 'tests/fixtures/data/tracking/uwb_trolley_fast_8anchor_cal.csv';
/** Beyond the length of the recording, so that it can be played again and again. */
const SPAN_S = 136;
const REPEATS = 10;

export function benchTracking() {
  const result = parseRecording(readFileSync(FILE, 'utf8'));
  if (!result.ok || result.value.kind !== 'measured') throw new Error(`${FILE} has no reports`);
  const { sightings } = result.value.passage;
  console.log(
    `\nTracking, us of CPU a report (observe and one predict), ${sightings.length} reports`,
  );
  console.log('                      first tenth   last tenth         mean');
  for (const trackers of [1, 2]) {
    report(
      `in order, ${trackers} tracker${trackers > 1 ? 's' : ' '}`,
      trackers,
      inOrder(sightings, trackers),
    );
  }
  report('shuffled by 0.3 s', 1, shuffled(sightings));
}

function inOrder(sightings, trackers) {
  return sightings.map((sighting, i) => ({ ...sighting, tracker: i % trackers }));
}

function shuffled(sightings) {
  return sightings
    .map((sighting, i) => ({ sighting, atS: sighting.timeS + 0.3 * ((i * 0.618034) % 1) }))
    .sort((a, b) => a.atS - b.atS)
    .map(({ sighting }) => sighting);
}

function report(name, trackers, sightings) {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, trackers);
  const estimate = createEstimate();
  const moved = { ...sightings[0] };
  const costs = [];
  // One round to warm up.
  for (let round = -1; round < REPEATS; round++) {
    const before = process.cpuUsage();
    for (const sighting of sightings) {
      Object.assign(moved, sighting);
      moved.timeS += (round + 1) * SPAN_S;
      moved.arrivalS = moved.timeS;
      observe(track, moved);
      predict(track, moved.timeS + 0.1, estimate);
    }
    const { user, system } = process.cpuUsage(before);
    if (round >= 0) costs.push((user + system) / sightings.length);
  }
  const mean = costs.reduce((a, b) => a + b) / costs.length;
  const text = [costs[0], costs.at(-1), mean].map(cost => cost.toFixed(2).padStart(11));
  console.log(`${name.padEnd(22)}${text.join('  ')}`);
}
