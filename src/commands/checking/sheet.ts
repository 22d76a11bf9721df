import { rigPage } from '../../sheets/rig-page.js';
import { type RigCell, type RigProfile, type RigSheet, rigSheet } from '../../sheets/rig-sheet.js';
import { runsText } from '../../sheets/slot-chart.js';
import { enumerated } from '../../stage/enumerated.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { refuse } from '../terminal/refuse.js';
import { print, styled } from '../terminal/terminal.js';
import { writeText } from '../terminal/text-files.js';

export const SHEET_HELP = `usage: lampwright sheet SHOW [--html FILE] [--json]

The rig on paper: where each fixture hangs, the patch by universe with its free slots, what the desk drives,
cues, trackers and the channels of the profiles.

  --html FILE   also writes it as one page to print on A4, with a plan to scale and a chart of the slots
  --json        everything, for programs

examples:
  lampwright sheet config/salt-lantern.show.yaml
  lampwright sheet config/salt-lantern.show.yaml --html rig.html
  lampwright sheet my.show.yaml --json | jq '.universes[] | {universe, used}'

exit codes: 0 ok, 1 the show has errors, 2 bad usage, no such file, or a page that can't be written`;

const misuse = misuseOf('sheet');

export async function sheet(args: Arguments): Promise<number> {
  const loaded = loadShow(args.positionals[0] ?? '');
  if (!loaded.ok) return refuse(loaded.problems);
  const { show } = loaded;
  const rig = rigSheet(show);
  const file = args.values.html;
  if (typeof file === 'string') {
    const why = writeText(file, rigPage(show, rig, new Date().toISOString().slice(0, 10)));
    if (why !== undefined) return misuse(`can't write ${file}: ${why}.`);
  }
  print(args.values.json === true ? JSON.stringify(rig, undefined, 2) : text(rig));
  return EXIT.ok;
}

function text({
  show,
  fixtures,
  unpatched,
  universes,
  cues,
  performers,
  spares,
  desk,
  profiles,
}: RigSheet): string {
  const labels = fixtures.flatMap(({ label, cells }) => [
    label,
    ...cells.map(cell => `  ${cell.label}`),
  ]);
  const width = Math.max(10, ...labels.map(label => label.length)) + 2;
  const places = fixtures.map(({ hangs }) => hangs.length);
  const wide = Math.max(16, ...places) + 2;
  const runs = fixtures.flatMap(one => [one, ...one.cells].map(each => runsText(each.runs).length));
  const slotsWide = Math.max(12, ...runs) + 2;
  const hungWide = Math.max(4, ...fixtures.map(({ hung }) => hung.length)) + 2;
  const row = (
    label: string,
    one: Pick<RigCell, 'runs' | 'hangs' | 'safe'> & { readonly hung?: string },
  ) =>
    `  ${label.padEnd(width)}${runsText(one.runs).padEnd(slotsWide)}${one.hangs.padEnd(wide)}${(one.hung ?? '').padEnd(hungWide)}${one.safe}`.trimEnd();
  const title = (words: string) => ['', styled('bold', words)];
  return [
    styled('bold', `${show}: the rig`),
    ...universes.flatMap(({ universe, outputs, used, free }) => [
      ...title(`universe ${universe}`),
      ...outputs.map(one => `  ${one}`),
      `  ${used} slots used; free: ${free.length === 0 ? 'none' : runsText(free)}`,
      `  ${'fixture'.padEnd(width)}${'slots'.padEnd(slotsWide)}${'x, y, z'.padEnd(wide)}${'hung'.padEnd(hungWide)}in the safe look`,
      ...fixtures
        .filter(one => one.universe === universe)
        .flatMap(one => [
          row(one.label, one),
          ...one.cells.map(cell =>
            row(`  ${cell.label}`, { ...cell, safe: cell.safe === one.safe ? '' : cell.safe }),
          ),
        ]),
    ]),
    ...(unpatched.length === 0
      ? []
      : [
          ...title('not patched'),
          ...unpatched.map(one => `  ${one.label.padEnd(width)}${one.hangs}`),
        ]),
    ...(cues.length === 0
      ? []
      : [
          ...title('cues'),
          ...cues.map(
            ({ label, comes, acts, safe }) =>
              `  ${label}: ${comes}; acts: ${acts}; safe look: ${safe.join('; ') || 'as the fixtures have it'}`,
          ),
        ]),
    ...title('trackers'),
    ...performers.map(({ label, trackers }) => `  ${label.padEnd(width)}${trackers.join(', ')}`),
    ...(spares.length === 0 ? [] : [`  ${'spare'.padEnd(width)}${spares.join(', ')}`]),
    ...profiles.flatMap(profileLines),
    ...(desk.universes.length === 0 ? [] : ['', 'What the desk drives: lampwright desk SHOW']),
  ].join('\n');
}

/** Lines about a profile: its channels, and the fixtures that use it. */
function profileLines({ name, slots, fixtures, channels }: RigProfile): string[] {
  const places = channels.map(one => (one.slots === '' ? 'none' : `slot ${one.slots}`));
  const wide = Math.max(...places.map(place => place.length)) + 2;
  return [
    '',
    styled('bold', `profile ${name}`),
    `  ${slots} ${slots === 1 ? 'slot' : 'slots'}: ${enumerated(fixtures, 12)}`,
    ...channels.map(({ attribute, range, values }, i) =>
      `  ${(places[i] ?? '').padEnd(wide)}${attribute.padEnd(16)}${range.padEnd(18)}${values.join(', ')}`.trimEnd(),
    ),
  ];
}
