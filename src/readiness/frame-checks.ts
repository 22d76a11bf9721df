import type { MarkerPlace } from '../calibration/markers.js';
import { placed } from '../calibration/rigid.js';
import { averageStanding } from '../calibration/standing.js';
import type { InputPlan, Show } from '../show/model/model.js';
import { distance } from '../stage/vector.js';
import { type Check, fail, pass, warn } from './check.js';
import type { NetworkFacts } from './facts.js';
import type { Heard } from './feed.js';
import { restNoise } from './rest-noise.js';

/** As `calibrate stage` takes a marker for wrong; and twice that leaves no doubt. */
const WARN_M = 0.15;
const FAIL_M = 0.3;
/** A tracker that wandered farther was carried, not left to stand. */
const MOST_DRIFT_M = 0.3;
/** Scatter at rest above so many times what the show declares. */
const NOISE_FACTOR = 2;

/** Trackers on markers against the frame that the show has. */
export function checkFrame(
  show: Show,
  facts: NetworkFacts,
  markers: readonly MarkerPlace[] | undefined,
): Check[] {
  const name = 'stage frame';
  const act =
    'Put a tracker on a floor marker, preferably the check marker, write the markers into a file as for `lampwright calibrate stage`, and pass it with --markers.';
  if (markers === undefined) {
    return [warn('frame', name, 'not checked: no marker was named.', act)];
  }
  const open = facts.feeds.filter(feed => feed.problem === undefined);
  const worn = markers.filter(one => one.tracker !== undefined);
  if (worn.length === 0) {
    return [warn('frame', name, 'not checked: no marker names a tracker.', act)];
  }
  return worn.map(marker => {
    for (const feed of open) {
      const heard = feed.record.trackers.get(marker.tracker ?? '');
      const input = show.inputs.find(one => one.name === feed.input);
      if (heard !== undefined && input !== undefined) {
        return judge(marker, heard, input, facts.seconds);
      }
    }
    return fail(
      'frame',
      marker.name,
      `tracker ${marker.tracker} was not heard.`,
      'Switch it on, put it on the marker, and try again.',
    );
  });
}

function judge(marker: MarkerPlace, heard: Heard, input: InputPlan, seconds: number): Check {
  const { name, tracker } = marker;
  const reports = heard.timesS.map((timeS, i) => ({
    timeS,
    x: heard.places[3 * i] ?? 0,
    y: heard.places[3 * i + 1] ?? 0,
    z: heard.places[3 * i + 2] ?? 0,
  }));
  const result = averageStanding(reports, { seconds, mostDriftM: MOST_DRIFT_M });
  if (!result.ok) {
    return fail(
      'frame',
      name,
      `tracker ${tracker} ${result.fault.kind === 'moved' ? `moved by ${result.fault.driftM.toFixed(2)} m` : 'sent too little'}.`,
      'Leave it standing on the marker, with nobody beside it, for the whole time.',
    );
  }
  const { mean, errorM } = result.standing;
  const offM = distance(placed(input, mean), marker.stage);
  const found = `tracker ${tracker} stands ${offM.toFixed(2)} m from where the tape puts it (the mean is good to ${errorM.toFixed(3)} m).`;
  const act =
    'Is it on the right marker? If so, the anchors or the frame of the server have moved: `lampwright calibrate stage`.';
  if (offM > FAIL_M) return fail('frame', name, found, act);
  return offM > WARN_M ? warn('frame', name, found, act) : pass('frame', name, found);
}

/** How much each tracker scatters at rest, against what the show declares. */
export function checkRest(show: Show, facts: NetworkFacts): Check[] {
  const open = facts.feeds.filter(feed => feed.problem === undefined);
  return show.performers.flatMap(({ label, trackers }) =>
    trackers.flatMap(({ id, fit }) => {
      const heard = open
        .map(({ record }) => record.trackers.get(id))
        .find(one => one !== undefined);
      if (heard === undefined) return [];
      const name = `${label}, tracker ${id} at rest`;
      const rest = restNoise(heard);
      if (rest === undefined) {
        return [
          warn(
            'feed',
            name,
            'never stood still for 3 s, so its noise is not known.',
            'Leave it on a stand, or have the performer stand, while this listens.',
          ),
        ];
      }
      const declaredM = show.tracking.track.horizontal.whiteM * fit.noiseShare;
      const found = `scatters by ${rest.sigmaM.toFixed(3)} m; the show declares ${declaredM.toFixed(3)} m.`;
      if (rest.sigmaM > NOISE_FACTOR * declaredM) {
        return [
          warn(
            'feed',
            name,
            found,
            'Something has changed since `tracking.noise` was set: metal, an anchor, the way it is worn.',
          ),
        ];
      }
      return [pass('feed', name, found)];
    }),
  );
}
