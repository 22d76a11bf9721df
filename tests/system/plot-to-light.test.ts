import { execFileSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Matrix4, Vector3 } from 'three';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { fixtureXml, headGdtf, layerXml, plot } from '../interchange/make.js';
import { Daemon, SacnReceiver, Trackers, until } from './support.js';

/**
 * The way of a technician: a plot is imported, its parts are put into a show together with a profile of
 * the library, and the show runs. The aim is checked by `three` with the plot's own numbers.
 */
let folder: string;
let daemon: Daemon;
let sacn: SacnReceiver;
let trackers: Trackers;

// Hung at (2, 1, 5), turned by 30 degrees about z: u, v, w and o, as rows.
const [C, S] = [Math.cos(Math.PI / 6), Math.sin(Math.PI / 6)];
const MATRIX = `{${C},${S},0}{${-S},${C},0}{0,0,1}{2000,1000,5000}`;
const HUNG = new Matrix4().makeRotationZ(Math.PI / 6).setPosition(2, 1, 5);
const HEAD = 100;
const STRIP = 200;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-plot-'));
  writeFileSync(
    join(folder, 'plot.mvr'),
    plot(layerXml(fixtureXml({ matrix: MATRIX, address: String(HEAD + 1) })), headGdtf()),
  );
  const args = ['dist/main.js', 'import', join(folder, 'plot.mvr'), '--out', folder];
  execFileSync(process.execPath, args, { stdio: 'ignore' });
  cpSync('config/profiles/rgb.profile.yaml', join(folder, 'profiles/rgb.profile.yaml'));
  const parts = readFileSync(join(folder, 'plot.patch.yaml'), 'utf8')
    .replace('profiles:\n', 'profiles:\n  strip: { file: profiles/rgb.profile.yaml }\n')
    .replace(
      'fixtures:\n',
      `fixtures:\n  cyc: { profile: strip, mode: colours, universe: 1, address: ${STRIP + 1}, base: { ColorAdd_B: 0 }, safe: { Dimmer: 20 } }\n`,
    );
  writeFileSync(
    join(folder, 'a.show.yaml'),
    `lampwright: 1
name: From a plot
stage: { x: [0, 6], y: [0, 6] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] } }
zones: { stove: { circle: { centre: [3, 4], radius: 1 } } }
${parts}
mappings:
  - { zone: stove, fixtures: [cyc], set: { Dimmer: 80 }, fade: { in: 0.1, out: 0.1 } }
  - { follow: ines, fixtures: [spot], set: { Dimmer: 60 }, fade: { in: 0.1, out: 0.1 } }
outputs: { wire: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`,
  );
  sacn = await SacnReceiver.open(1);
  trackers = new Trackers();
  daemon = Daemon.run(join(folder, 'a.show.yaml'));
});

afterEach(async () => {
  trackers.close();
  await daemon.stop();
  sacn.close();
  rmSync(folder, { recursive: true });
});

/** How far the beam of the imported head passes from a point, metres, from the slots and the plot alone. */
function beamMisses(x: number, y: number, z: number): number {
  const slots = sacn.last;
  const word = (coarse: number, fine: number) =>
    ((slots[HEAD + coarse] ?? 0) * 256 + (slots[HEAD + fine] ?? 0)) / 65535;
  // Pan at slots 1 and 3 from -270 to 270, tilt at 2 and 4 from 135 to -135 degrees, as its GDTF says.
  const pan = ((-270 + 540 * word(0, 2)) * Math.PI) / 180;
  const tilt = ((135 - 270 * word(1, 3)) * Math.PI) / 180;
  const moved = HUNG.clone()
    .multiply(new Matrix4().makeTranslation(0, 0, -0.12))
    .multiply(new Matrix4().makeRotationZ(pan))
    .multiply(new Matrix4().makeTranslation(0, 0, -0.25))
    .multiply(new Matrix4().makeRotationX(tilt));
  const from = new Vector3().applyMatrix4(moved);
  const along = new Vector3(0, 0, -1).transformDirection(moved);
  const to = new Vector3(x, y, z).sub(from);
  return to.dot(along) < 0 ? Number.POSITIVE_INFINITY : to.cross(along).length();
}

const strip = () => [...sacn.last.subarray(STRIP, STRIP + 3)];

it('a plot becomes light, and a lost performer takes colours and head to safe', async () => {
  await until('the safe look', () => strip().join() === '51,51,0');
  // Held at what the GDTF file gives it, though no mapping knows it.
  expect(sacn.last[HEAD + 8]).toBe(77);
  trackers.place(1, 3, 4, 1.5);
  await until('the strip is at 80 per cent of its colours', () => strip().join() === '204,204,0');
  await until('the head is lit', () => sacn.last[HEAD + 4] === 153);
  await until('and aims', () => beamMisses(3, 4, 1.5) < 0.02);
  trackers.place(1, 1, 2, 1.5);
  await until('it follows', () => beamMisses(1, 2, 1.5) < 0.05, 20);

  daemon.signalEngine('SIGKILL');
  await until('all is safe', () => strip().join() === '51,51,0' && sacn.last[HEAD + 4] === 0);
  expect(sacn.last[HEAD + 8]).toBe(77);
});
