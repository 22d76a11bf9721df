import type { FixtureSnapshot, PerformerSnapshot, Snapshot } from '../engine/snapshot.js';
import type { FallbackPhase } from '../safety/fallback.js';
import type { Show } from '../show/model.js';
import { type Line, type Paint, paintLine, toWidth, widthOf, widthOfLine } from './line.js';
import { styleOf, URGENCY } from './phases.js';
import { stageMap } from './stage-map.js';

/** What the live view shows, and how much room there is. */
export interface ViewInput {
  readonly show: Show;
  readonly snapshot: Snapshot | undefined;
  readonly lights: FallbackPhase;
  readonly enginePid: number | undefined;
  /** The last few things that happened, oldest first. */
  readonly news: readonly string[];
  /** Of the terminal; 0 where it doesn't know. */
  readonly columns: number;
  readonly rows: number;
  readonly style: Paint;
}

/** A terminal that doesn't know its size is taken for the smallest usual one. */
const USUAL = { columns: 80, rows: 24 };
const MAP = { columns: 43, rows: 22 };
const BAR_CELLS = 14;
/** What stands beside the map: a performer's name, phase, confidence, and place or cause. */
const SIDE_COLUMNS = 49;
const GUTTER = '   ';
const MOST_FIXTURES = 16;
const LEAST_NEWS = 3;
const HINT = 'Ctrl-C fades to the safe look and leaves';

/**
 * The stage from above, the performers, the zones and the lights, as lines of text: at most `rows` less
 * one of at most `columns` less one cells, so that the cursor has a place that scrolls nothing. Where
 * room is short, what people must know comes first, and of the performers those who are lost.
 */
export function liveView(input: ViewInput): string[] {
  const columns = Math.max(0, (input.columns || USUAL.columns) - 1);
  const rows = Math.max(0, (input.rows || USUAL.rows) - 1);
  const lines =
    input.snapshot === undefined
      ? waitingLines(input, columns, rows)
      : stageLines(input, input.snapshot, columns, rows);
  return lines.map(line => paintLine(line, columns, input.style));
}

function waitingLines(input: ViewInput, columns: number, rows: number): Line[] {
  const head: Line[] = [headLine(input, columns), [], ['waiting for the engine'], []];
  return [...head, ...newsLines(input, Math.max(0, rows - head.length))].slice(0, rows);
}

function stageLines(input: ViewInput, snapshot: Snapshot, columns: number, rows: number): Line[] {
  const { show, news } = input;
  let left = rows;
  const give = (wanted: number): number => {
    const given = Math.max(0, Math.min(wanted, left));
    left -= given;
    return given;
  };
  // In the order of what is missed most.
  const head = give(1);
  const performers = give(snapshot.performers.length);
  const hint = give(1);
  const leastNews = give(Math.min(LEAST_NEWS, news.length));
  const zones = give(snapshot.zones.length);
  const fixtures = give(Math.min(MOST_FIXTURES, snapshot.fixtures.length));
  const gapBelowHead = give(1);
  const gapAboveFixtures = give(1);
  const gapAboveNews = give(1);
  const gapAboveZones = give(zones > 0 ? 1 : 0);

  const sideRows = performers + gapAboveZones + zones;
  const map = stageMap(show, snapshot, {
    columns: Math.min(MAP.columns, columns - SIDE_COLUMNS - GUTTER.length),
    rows: Math.min(MAP.rows, sideRows + left),
  });
  give(map.length - sideRows);
  const mapColumns = widthOfLine(map[0] ?? []);
  const sideColumns = mapColumns > 0 ? columns - mapColumns - GUTTER.length : columns;
  const side: Line[] = [
    ...listed(performerLines(show, snapshot, performers, sideColumns), performers),
    ...gap(gapAboveZones),
    ...listed(zoneLines(show, snapshot), zones),
  ];
  return [
    ...(head > 0 ? [headLine(input, columns)] : []),
    ...gap(gapBelowHead),
    ...besideEachOther(map, mapColumns, side),
    ...gap(gapAboveFixtures),
    ...listed(fixtureLines(show, snapshot), fixtures),
    ...gap(gapAboveNews),
    ...newsLines(input, leastNews + give(news.length - leastNews)),
    ...(hint > 0 ? [[['dim', HINT]] as const] : []),
  ];
}

function headLine({ show, snapshot, lights, enginePid }: ViewInput, columns: number): Line {
  const state: Line = [
    'lights ',
    [lights === 'live' ? 'green' : lights === 'losing' ? 'red' : 'yellow', lights],
    '   engine ',
    enginePid === undefined ? ['red', 'gone'] : String(enginePid),
    ...(snapshot?.feedSilent === true ? (['   ', ['red', 'tracking silent']] as const) : []),
  ];
  const room = columns - widthOfLine(state) - GUTTER.length;
  // Half a name helps nobody, and how the lights are does.
  if (room < Math.min(8, widthOf(show.name))) return state;
  return [['bold', toWidth(show.name, Math.min(room, widthOf(show.name)))], GUTTER, ...state];
}

function besideEachOther(map: readonly Line[], columns: number, side: readonly Line[]): Line[] {
  if (map.length === 0) return [...side];
  const blank = ' '.repeat(columns);
  return Array.from({ length: Math.max(map.length, side.length) }, (_, i) => [
    ...(map[i] ?? [blank]),
    GUTTER,
    ...(side[i] ?? []),
  ]);
}

/** Where there is no room for all, the last line tells how many are left out. */
function listed(lines: readonly Line[], room: number): Line[] {
  if (lines.length <= room || room < 2) return lines.slice(0, room);
  const shown = lines.slice(0, room - 1);
  return [...shown, [['dim', `and ${lines.length - shown.length} more`]]];
}

function performerLines(show: Show, snapshot: Snapshot, room: number, columns: number): Line[] {
  const all = snapshot.performers.map((performer, index) => ({
    performer,
    label: show.performers[index]?.label ?? performer.name,
  }));
  if (all.length > room) {
    all.sort((a, b) => URGENCY[a.performer.phase] - URGENCY[b.performer.phase]);
  }
  return all.map(({ performer, label }) => performerLine(performer, label, columns));
}

function performerLine(performer: PerformerSnapshot, label: string, columns: number): Line {
  const { phase, cause, confidence, x, y, horizon } = performer;
  const percent = `${Math.round(confidence.value * 100)} %`.padStart(5);
  const line: Line = [
    ['bold', toWidth(label, 12)],
    ' ',
    [styleOf(phase), phase.padEnd(10)],
    `${percent} sure`,
    cause === undefined ? '' : `  ${cause}`,
  ];
  if (phase === 'waiting') return line;
  const place = `${x.toFixed(1).padStart(6)} ${y.toFixed(1).padStart(5)} m`;
  // Of somebody who isn't believed it would only count how long ago that was.
  const isFollowed = horizon !== undefined && (phase === 'live' || phase === 'returning');
  const ahead = isFollowed ? `, ${horizon.totalS.toFixed(2)} s ahead` : '';
  // Part of a number would be another number.
  const room = columns - widthOfLine(line);
  if (place.length > room) return line;
  return place.length + ahead.length > room ? [...line, place] : [...line, place, ['dim', ahead]];
}

function zoneLines(show: Show, snapshot: Snapshot): Line[] {
  return snapshot.zones.map((zone, index) => {
    const who = show.performers
      .filter((_, performer) => snapshot.performers[performer]?.zones.includes(zone.name))
      .map(one => one.label);
    const label = show.zones[index]?.label ?? zone.name;
    return [`${toWidth(label, 14)} ${bar(zone.presence)} `, ['cyan', who.join(', ')]];
  });
}

function fixtureLines(show: Show, snapshot: Snapshot): Line[] {
  return snapshot.fixtures.map((fixture, index) => [
    `${toWidth(show.fixtures[index]?.label ?? fixture.name, 18)} ${levelText(fixture)}${aimText(fixture)}`,
  ]);
}

function levelText({ values: { Dimmer } }: FixtureSnapshot): string {
  // As wide as a level, so that what comes after stands in one column.
  if (Dimmer === undefined) return ' '.repeat(BAR_CELLS + 6);
  return `${bar(Dimmer / 100)} ${Dimmer.toFixed(0).padStart(3)} %`;
}

function aimText({ values: { Pan, Tilt } }: FixtureSnapshot): string {
  if (Pan === undefined || Tilt === undefined) return '';
  return `   pan ${Pan.toFixed(1).padStart(7)}  tilt ${Tilt.toFixed(1).padStart(7)} degrees`;
}

function newsLines({ news }: ViewInput, room: number): Line[] {
  return room === 0 ? [] : news.slice(-room).map(text => [['dim', text]] as const);
}

function gap(count: number): Line[] {
  return count > 0 ? [[]] : [];
}

function bar(share: number): string {
  const filled = Math.round(Math.min(1, Math.max(0, share)) * BAR_CELLS);
  return '█'.repeat(filled) + '░'.repeat(BAR_CELLS - filled);
}
