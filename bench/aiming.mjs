// What leading a head costs in a tick, beside the bare inverse kinematics, and how exact both are.
import { compileMotion } from '../dist/fixtures/head-motion.js';
import { aimAt, beamDirection, compileHead, panTilt } from '../dist/fixtures/kinematics.js';
import { chooseWay, createPointing, followTarget, placeHead } from '../dist/fixtures/pointing.js';
import { seededRandom } from '../dist/rehearsal/sensors/random.js';
import { rotationFromTurns } from '../dist/stage/rotation.js';

const HEADS = 500;
const TICKS = 1000;
const DT_S = 1 / 40;
const MILLION = 1_000_000;

export function benchAiming() {
  const random = seededRandom(1);
  const heads = Array.from({ length: HEADS }, (_, i) => {
    const head = compileHead({
      position: { x: 10 * random(), y: 8 * random(), z: 5 + random() },
      rotation: rotationFromTurns(0, 0, 6 * random()),
      panRange: [-1.5 * Math.PI, 1.5 * Math.PI],
      tiltRange: [-0.75 * Math.PI, 0.75 * Math.PI],
    });
    const pointing = createPointing(head, compileMotion(head));
    placeHead(pointing, 0, 0);
    chooseWay(pointing, ...walk(0, i));
    return { head, pointing, out: panTilt() };
  });
  const bare = () =>
    run(heads, ({ head, out }, [x, y, z]) => aimAt(head, x, y, z, out.pan, out.tilt, out));
  const led = () => run(heads, ({ pointing }, at) => followTarget(pointing, ...at, DT_S, false));
  bare();
  led();
  console.log('\naiming, ns a head and tick (500 heads at 40 Hz: 20 000 a second)');
  console.log(`  inverse kinematics alone   ${bare().toFixed(0)}`);
  console.log(`  led within its limits      ${led().toFixed(0)}`);
  const { worst, seconds } = forwardAfterInverse();
  console.log(
    `  forward after inverse      ${worst.toExponential(1)} degrees at worst, of a million poses and points (${seconds.toFixed(1)} s)`,
  );
}

/** Somebody who goes to and fro on an ellipse about the middle of the stage, and their velocity. */
function walk(t, who) {
  const a = Math.sin(0.4 * t + who) + who;
  const rate = 0.4 * Math.cos(0.4 * t + who);
  return [
    5 + 3 * Math.cos(a),
    4 + 2.5 * Math.sin(a),
    1.3,
    -3 * rate * Math.sin(a),
    2.5 * rate * Math.cos(a),
    0,
  ];
}

function run(heads, aim) {
  const begin = process.hrtime.bigint();
  for (let tick = 0; tick < TICKS; tick++) {
    for (let i = 0; i < HEADS; i++) aim(heads[i], walk(tick * DT_S, i));
  }
  return Number(process.hrtime.bigint() - begin) / TICKS / HEADS;
}

function forwardAfterInverse() {
  const random = seededRandom(20260113);
  const [out, beam] = [panTilt(), { x: 0, y: 0, z: 0 }];
  const metres = () => 40 * random() - 20;
  const any = () => (2 * random() - 1) * Math.PI;
  const begin = performance.now();
  let worst = 0;
  for (let i = 0; i < MILLION; i++) {
    const head = compileHead({
      position: { x: metres(), y: metres(), z: metres() },
      rotation: rotationFromTurns(any(), any(), any()),
      panRange: [-1.5 * Math.PI, 1.5 * Math.PI],
      tiltRange: [-Math.PI, Math.PI],
    });
    const point = { x: metres(), y: metres(), z: metres() };
    aimAt(head, point.x, point.y, point.z, any(), any(), out);
    beamDirection(head, out.pan, out.tilt, beam);
    const { position: p } = head;
    const [x, y, z] = [point.x - p.x, point.y - p.y, point.z - p.z];
    const cross = Math.hypot(
      beam.y * z - beam.z * y,
      beam.z * x - beam.x * z,
      beam.x * y - beam.y * x,
    );
    const off = Math.atan2(cross, beam.x * x + beam.y * y + beam.z * z);
    worst = Math.max(worst, (off * 180) / Math.PI);
  }
  return { worst, seconds: (performance.now() - begin) / 1e3 };
}
