import { tickHzOf } from '../../daemon/beats/show-lighting.js';
import { WATCHDOG_TABLE } from '../../safety/watchdog-table.js';
import { cueSheets, valuesOf, valuesText } from '../../sheets/cue-sheets.js';
import { deskChart } from '../../sheets/desk-chart.js';
import { deskSheets, takenBy } from '../../sheets/desk-sheet.js';
import { chartLines, chartOf } from '../../sheets/profile-chart.js';
import { trackingTimes } from '../../sheets/safety-sheet.js';
import { labelsOf } from '../../show/model/labels.js';
import { mappingTitles } from '../../show/model/mapping-words.js';
import { type PerformerPlan, type Show, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { namedConditions, namedSignals } from '../../show/model/own-names.js';
import { outputNames, ownOutputs } from '../../show/model/own-outputs.js';
import { patchText } from '../../show/model/patched-slots.js';
import { safeLook } from '../../show/model/safe-look.js';
import { formatProblem, type Problem } from '../../show/problems/problem.js';
import {
  isProfilePath,
  type LoadedProfile,
  type LoadedShow,
  loadProfile,
  loadShow,
} from '../files/show-file.js';
import { showWarnings } from '../files/show-warnings.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { complainOf, refusalCode } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';

export const CHECK_HELP = `usage: lampwright check SHOW [--outputs NAMES] [--json]

Reads a show file as \`run\` would, with the profile files that it names, lists everything that is wrong with
it, and opens no socket. A warning is something valid that is probably a mistake. A path that ends in
.profile.yaml is checked as a profile on its own.

  --outputs NAMES   as for \`run --outputs\`: says which outputs this machine would send
  --json    the result as JSON: { ok, errors, warnings, show: { performers, zones, colours, fixtures,
            unpatched, universes, horizon, watchdog, safeLook, safeLooks } }

examples:
  lampwright check config/salt-lantern.show.yaml
  lampwright check config/profiles/rgbw.profile.yaml
  lampwright check my.show.yaml --json | jq '.errors[].message'

exit codes: 0 the show is right (there may be warnings), 1 it has errors, 2 bad usage or no such file`;

export async function check(args: Arguments): Promise<number> {
  const file = args.positionals[0] ?? '';
  if (isProfilePath(file)) return checkProfile(file, args.values.json === true);
  const read = loadShow(file);
  const own = read.ok ? ownOutputs(read.show, outputNames(args.values.outputs)) : undefined;
  if (own?.ok === false) return misuseOf('check')(...own.problems);
  const loaded: LoadedShow = read.ok && own?.ok === true ? { ...read, show: own.show } : read;
  const warnings = loaded.ok ? showWarnings(loaded.show, loaded.text, file) : [];
  if (args.values.json === true) print(JSON.stringify(asJson(loaded, warnings), undefined, 2));
  else if (loaded.ok) {
    print(table(file, loaded.show));
    warnOf(warnings);
  } else complainOf(loaded.problems);
  return exitCode(loaded);
}

function warnOf(warnings: readonly Problem[]): void {
  for (const warning of warnings) {
    complain(`${styled('yellow', 'warning', process.stderr)}: ${formatProblem(warning)}`);
  }
  const count = warnings.length;
  if (count > 0)
    complain(`${count} ${count === 1 ? 'warning' : 'warnings'}; the show runs all the same.`);
}

function checkProfile(file: string, asJson: boolean): number {
  const loaded = loadProfile(file);
  if (asJson) {
    const errors = loaded.ok ? [] : loaded.problems;
    const profile = loaded.ok ? loaded.profile : null;
    const chart = loaded.ok ? chartOf(loaded.profile) : [];
    print(JSON.stringify({ ok: loaded.ok, errors, profile, chart }, undefined, 2));
  } else if (!loaded.ok) complainOf(loaded.problems);
  else {
    print(`${styled('green', 'ok')}  ${loaded.profile.label ?? 'a profile'}  (${file})`);
    for (const line of chartLines(chartOf(loaded.profile))) print(line);
  }
  return exitCode(loaded);
}

function exitCode(loaded: LoadedShow | LoadedProfile): number {
  return loaded.ok ? EXIT.ok : refusalCode(loaded.problems);
}

function asJson(loaded: LoadedShow, warnings: readonly Problem[]): unknown {
  if (!loaded.ok) return { ok: false, errors: loaded.problems, warnings, show: null };
  const { show } = loaded;
  return {
    ok: true,
    errors: [],
    warnings,
    show: {
      name: show.name,
      performers: show.performers.map(one => one.name),
      zones: show.zones.map(one => one.name),
      exits: show.exits.map(one => one.name),
      signals: namedSignals(show),
      conditions: namedConditions(show),
      mappings: mappingTitles(show),
      cues: show.cues.map(one => one.name),
      positions: show.positions.map(one => one.name),
      desk: show.desk.map(one => one.name),
      colours: show.colours.map(({ name, xy, luminance, on }) => ({
        name,
        xy: [xy.x, xy.y],
        luminance: luminance ?? null,
        on: on.map(({ fixture, by, values, off, luminance: had }) => ({
          fixture: show.fixtures[fixture]?.name,
          by,
          values,
          off,
          luminance: had,
        })),
      })),
      beams: show.beams.map(({ name, angleDeg, on }) => ({
        name,
        angleDeg,
        on: on.map(({ fixture, ...made }) => ({ fixture: show.fixtures[fixture]?.name, ...made })),
      })),
      targets: show.targets.map(({ name, kind, at, on }) => ({
        name,
        kind,
        at: [at.x, at.y, at.z],
        on: on.map(({ fixture, ...aimed }) => ({
          fixture: show.fixtures[fixture]?.name,
          ...aimed,
        })),
      })),
      fixtures: show.fixtures.map(one => one.name),
      unpatched: show.unpatched.map(one => one.name),
      universes: show.universes,
      horizon: horizonOf(show),
      watchdog: show.watchdog,
      safeLook: safeLookByUniverse(show),
      safeLooks: Object.fromEntries(
        show.cues.map(({ name }, cue) => [name, safeLookByUniverse(show, cue)]),
      ),
    },
  };
}

/** How far ahead the light is predicted: all the latencies and lags that the show declares, seconds. */
function horizonOf(show: Show) {
  return {
    sensorLatencyS: show.tracking.sensorLatencyS,
    tickS: 1 / tickHzOf(show),
    outputLatencyS: show.tracking.outputLatencyS,
    lagS: Object.fromEntries(
      show.fixtures.filter(({ head }) => head).map(({ name, lagS }) => [name, lagS]),
    ),
  };
}

function horizonLine(show: Show): string {
  const { sensorLatencyS, tickS, outputLatencyS, lagS } = horizonOf(show);
  const stamped = show.inputs.some(({ isStamped }) => isStamped)
    ? 'by its stamps'
    : `${sensorLatencyS} s`;
  const lags = Object.entries(lagS).filter(([, lag]) => lag > 0);
  const heads = lags.map(([name, lag]) => `${labelsOf(show).fixture(name)} ${lag} s`).join(', ');
  return (
    `    predicted ahead by sensor ${stamped} + wait up to ${Number(tickS.toFixed(3))} s + output ${outputLatencyS} s` +
    (heads === '' ? '' : ` + lag of ${heads}`)
  );
}

const SHOWN_CONDITIONS = [
  'tracker-silent',
  'confidence-low',
  'out-of-bounds',
  'frozen',
  'engine-late',
] as const;

/** When the watchdog acts and how long its fade takes, for the usual conditions; the safety sheet has the rest. */
function watchdogLine(show: Show): string {
  const { watchdog } = show;
  const tracking = trackingTimes(show);
  const rows = SHOWN_CONDITIONS.flatMap(
    condition => WATCHDOG_TABLE.find(row => row.condition === condition) ?? [],
  );
  const times = rows.map(row => {
    const afterS = row.actsAfterS(watchdog, tracking) ?? 0;
    return `${row.title} ${Number(afterS.toFixed(2))} + ${row.fadeS(watchdog)}`;
  });
  return `    watchdog, s until it acts + fade: ${times.join(', ')}; back after ${watchdog.rearmS} + ${watchdog.returnS}`;
}

/** Slots of the safe look by universe; of the first cue unless another one is given. */
function safeLookByUniverse(show: Show, cue = 0): Record<string, number[]> {
  const levels = safeLook(show, cue);
  return Object.fromEntries(
    show.universes.map((universe, index) => [
      String(universe),
      [...levels.subarray(index * SLOTS_PER_UNIVERSE, (index + 1) * SLOTS_PER_UNIVERSE)],
    ]),
  );
}

/** `1 zone`, `2 zones` */
function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

function wornText({ label, trackers }: PerformerPlan): string {
  const ids = trackers.map(({ id }) => id).join(', ');
  return `${label} (${trackers.length === 1 ? 'tracker' : 'trackers'} ${ids})`;
}

/** Lines about what drives the light, and the cues; none for what the show doesn't have. */
function wordsOf(show: Show): string[] {
  const line = (what: string, names: readonly string[]) =>
    names.length === 0 ? [] : [`    ${counted(names.length, what)}: ${names.join(', ')}`];
  return [
    ...line('signal', namedSignals(show)),
    ...line('condition', namedConditions(show)),
    ...line('mapping', mappingTitles(show)),
    ...line(
      'cue',
      show.cues.map(({ label }) => label),
    ),
  ];
}

function positionsLines({ positions, receivers }: Show): string[] {
  return positions.map(({ name, protocol, receiver, performers, rateHz, aheadS }) => {
    const at = receivers.find(one => one.name === receiver);
    const numbers = performers.map(one => `${one.label} ${one.id}`).join(', ');
    return `    positions ${name}: ${protocol} to ${at?.label} (${at?.address}:${at?.port}), ${rateHz} Hz, ${aheadS} s ahead: ${numbers}`;
  });
}

function deskLines(show: Show): string[] {
  return deskChart(show).universes.map(({ name, protocol, universe, interface: on, ...one }) => {
    const wire =
      protocol === 'sacn' ? `sACN universe ${universe}` : `Art-Net Port-Address ${universe}`;
    const slots = one.slots.length === 0 ? [] : [counted(one.slots.length, 'slot')];
    const ground = one.ground === null ? [] : [`ground of universe ${one.ground}`];
    return `    desk ${name}: ${wire} on ${on}: ${[...slots, ...ground].join(', ') || 'for nothing'}`;
  });
}

/** `    2 colours: amber, dusk`; no line if there are none. */
function labelLine(what: string, all: readonly { readonly label: string }[]): string[] {
  if (all.length === 0) return [];
  return [`    ${counted(all.length, what)}: ${all.map(one => one.label).join(', ')}`];
}

function table(file: string, show: Show): string {
  const labels = labelsOf(show);
  const called = [
    ...show.fixtures.map(({ name }) => labels.fixture(name)),
    ...show.unpatched.map(({ label }) => label),
  ];
  const width = Math.max(20, Math.min(34, Math.max(...called.map(one => one.length)) + 2));
  const lines = [
    `${styled('green', 'ok')}  ${show.name}  (${file})`,
    `    ${counted(show.performers.length, 'performer')}: ${show.performers.map(wornText).join(', ') || 'none'}`,
    `    ${counted(show.zones.length, 'zone')}: ${show.zones.map(z => z.label).join(', ') || 'none'}`,
    ...labelLine('colour', show.colours),
    ...labelLine(
      'point',
      show.targets.filter(({ kind }) => kind === 'point'),
    ),
    ...labelLine('beam', show.beams),
    ...(show.exits.length === 0
      ? []
      : [
          `    ${counted(show.exits.length, 'exit')}: ${show.exits.map(({ name }) => labels.exit(name)).join(', ')}`,
        ]),
    ...wordsOf(show),
    `    ${counted(show.outputs.length, 'output')}: ${
      show.outputs
        .map(
          o =>
            `${o.name} (${o.protocol}, ${counted(o.universes.length, 'universe')}, ${o.rateHz} Hz, from ${o.interface})`,
        )
        .join(', ') || 'none'
    }`,
    ...(show.share === undefined
      ? []
      : [`    sent by other machines: ${show.share.others.map(({ name }) => name).join(', ')}`]),
    ...positionsLines(show),
    ...deskLines(show),
    horizonLine(show),
    watchdogLine(show),
    '',
    `    ${'fixture'.padEnd(width)}${'patch'.padEnd(12)}${'safe look'}`,
  ];
  const desk = deskSheets(show);
  show.fixtures.forEach((fixture, index) => {
    const patch = patchText(show, fixture);
    const safe = valuesText(valuesOf(show, index, fixture.safe));
    const taken = takenBy(desk, fixture.name);
    const fromDesk = taken.length === 0 ? '' : `; while the desk is heard, ${taken.join('; ')}`;
    lines.push(
      `    ${labels.fixture(fixture.name).padEnd(width)}${patch.padEnd(12)}${safe}${fromDesk}`,
    );
  });
  for (const { label } of show.unpatched) {
    lines.push(`    ${label.padEnd(width)}${'unpatched'.padEnd(12)}nothing is sent to it`);
  }
  if (show.cues.length > 0) lines.push('', ...cueLines(show));
  return lines.join('\n');
}

/** More cues than this with nothing to say of them are counted, not listed. */
const MOST_ALIKE = 12;

/** A line for each cue, as its safe look may differ from that of the fixtures. */
function cueLines(show: Show): string[] {
  const sheets = cueSheets(show);
  const alike = sheets.filter(({ safe }) => safe.length === 0);
  const isListed = alike.length <= MOST_ALIKE;
  const lines = (isListed ? sheets : sheets.filter(({ safe }) => safe.length > 0)).map(one =>
    cueLine(show, one),
  );
  if (isListed) return lines;
  const which = alike.length === sheets.length ? 'all' : 'the other';
  return [...lines, `    safe look in ${which} ${alike.length} cues: as above`];
}

function cueLine(show: Show, { label, safe }: ReturnType<typeof cueSheets>[number]): string {
  const fixtures = safe.map(({ fixture, values }) => {
    const own = show.fixtures.find(({ name }) => name === fixture)?.safe ?? [];
    const others = values.filter(({ value }, c) => value !== own[c]);
    return `${labelsOf(show).fixture(fixture)} ${valuesText(others)}`;
  });
  return `    safe look in cue ${label}: ${fixtures.join('; ') || 'as above'}`;
}
