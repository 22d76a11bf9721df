// How long `lampwright import` takes for the plot of a large house. Build first: npm run build.
// node bench/import.mjs [FIXTURES] [KINDS]
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { strToU8, zipSync } from 'fflate';

const fixtures = Number(process.argv[2] ?? 500);
const kinds = Number(process.argv[3] ?? 20);

const channel = (attribute, offset, from, to) =>
  `<DMXChannel DMXBreak="1" Offset="${offset}" Geometry="Head"><LogicalChannel Attribute="${attribute}"><ChannelFunction Name="${attribute} 1" Attribute="${attribute}" DMXFrom="0/1" Default="0/1" PhysicalFrom="${from}" PhysicalTo="${to}">${Array.from(
    { length: 20 },
    (_, i) => `<ChannelSet Name="Set ${i}" DMXFrom="${i * 12}/1"/>`,
  ).join('')}</ChannelFunction></LogicalChannel></DMXChannel>`;
const COLOURS = ['R', 'G', 'B', 'W', 'C', 'M', 'Y'];
const mode = name =>
  `<DMXMode Name="${name}" Geometry="Base"><DMXChannels>${channel('Pan', '1,2', -270, 270)}${channel('Tilt', '3,4', -135, 135)}${channel('Dimmer', '5,6', 0, 1)}${channel('Zoom', '7,8', 8, 42)}${COLOURS.map(
    (c, i) => channel(`ColorAdd_${c}`, `${9 + 2 * i},${10 + 2 * i}`, 0, 1),
  ).join('')}</DMXChannels></DMXMode>`;
const I = '{1,0,0,0}{0,1,0,0}{0,0,1,-0.2}{0,0,0,1}';
const gdtf = kind =>
  zipSync({
    'description.xml': strToU8(
      `<GDTF DataVersion="1.2"><FixtureType Name="Kind ${kind}"><Geometries><Geometry Name="Base" Position="${I}"><Axis Name="Yoke" Position="${I}"><Axis Name="Head" Position="${I}"><Beam Name="Beam" Position="${I}"/></Axis></Axis></Geometry></Geometries><DMXModes>${['Basic', 'Fine', 'Wide', 'All'].map(mode).join('')}</DMXModes></FixtureType></GDTF>`,
    ),
    'models/3ds/mesh.3ds': Uint8Array.from({ length: 200_000 }, (_, i) => (i * i * 31) % 251),
  });
const scene = Array.from({ length: fixtures }, (_, i) => {
  const [universe, slot] = [1 + Math.floor(i / 16), 1 + (i % 16) * 32];
  return `<Fixture name="Head ${i}" uuid="${i}"><Matrix>{0.866025,0.5,0}{-0.5,0.866025,0}{0,0,1}{${i * 100},${i % 7},6000}</Matrix><GDTFSpec>Kind ${i % kinds}.gdtf</GDTFSpec><GDTFMode>Fine</GDTFMode><Addresses><Address break="0">${universe}.${slot}</Address></Addresses><FixtureID>${i}</FixtureID></Fixture>`;
}).join('\n');
const plot = zipSync({
  'GeneralSceneDescription.xml': strToU8(
    `<GeneralSceneDescription verMajor="1" verMinor="6"><Scene><Layers><Layer name="l" uuid="l"><ChildList>${scene}</ChildList></Layer></Layers></Scene></GeneralSceneDescription>`,
  ),
  ...Object.fromEntries(
    Array.from({ length: kinds }, (_, kind) => [`Kind ${kind}.gdtf`, gdtf(kind)]),
  ),
});

const folder = mkdtempSync(join(tmpdir(), 'lampwright-import-'));
const file = join(folder, 'plot.mvr');
writeFileSync(file, plot);
console.log(
  `${fixtures} fixtures of ${kinds} kinds, ${(statSync(file).size / 2 ** 20).toFixed(1)} MiB`,
);
for (let run = 0; run < 3; run++) {
  const from = performance.now();
  execFileSync(
    process.execPath,
    ['dist/main.js', 'import', file, '--out', join(folder, 'rig'), '--replace'],
    {
      stdio: ['ignore', 'ignore', 'ignore'],
    },
  );
  console.log(`  the whole command: ${((performance.now() - from) / 1000).toFixed(2)} s`);
}
if (!process.env.KEEP) rmSync(folder, { recursive: true });
