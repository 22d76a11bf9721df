import { fixtureInWords, gatesInWords, lightInWords } from '../live/light-words.js';
import { pairInWords, saidByPart } from '../live/pair-words.js';
import {
  batteryOf,
  beamOf,
  causeInWords,
  forText,
  intensityOf,
  levelOf,
  nameOf,
  outputsInWords,
  type Person,
  peopleOf,
  stateInWords,
  sureInWords,
  urgencyOf,
} from '../live/reading.js';
import type { LiveSnapshot } from '../live/schema.js';
import type { LiveStage } from '../live/stage-schema.js';
import { DOUBT_WORDS, TRACKING_SILENT, verdictOf } from '../live/verdict.js';
import { PERFORMER_ROWS } from '../safety/watchdog-table.js';
import {
  type Line,
  type Paint,
  paintLine,
  toWidth,
  widthOf,
  widthOfLine,
  wrapLine,
} from './line.js';
import { styleOf } from './phases.js';
import { stageMap } from './stage-map.js';

/** What the live view shows, and how much room there is. */
export interface ViewInput {
  readonly stage: LiveStage | undefined;
  readonly snapshot: LiveSnapshot | undefined;
  /** The last few things that happened, oldest first. */
  readonly news: readonly string[];
  /** What is wrong with the picture itself: it is old, say. */
  readonly notice?: string | undefined;
  /** The last line: what the keys do. */
  readonly hint: string;
  /** Of the terminal; 0 where it doesn't know. */
  readonly columns: number;
  readonly rows: number;
  readonly style: Paint;
}

/** A terminal that doesn't know its size is taken for the smallest usual one. */
const USUAL = { columns: 80, rows: 24 };
const MAP = { columns: 43, rows: 22 };
const BAR_CELLS = { usual: 14, narrow: 8 };
/** From here on a bar has its usual length. */
const WIDE_COLUMNS = 99;
const GUTTER = '   ';
const MOST_FIXTURES = 16;
const LEAST_NEWS = 3;
/** What is wrong may take so many lines more than it has, of a screen that has them. */
const MOST_EXTRA = 4;
/** Under the first letter of what a line says, behind its first word. */
const INDENT = 6;
/** Behind the time of day. */
const NEWS_INDENT = 10;
/** Of a name; a longer one is shortened. */
const NAME = { least: 12, most: 32 };
const STATE_CELLS = 9;
const LONGEST_CAUSE = Math.max(
  ...['wears no tracker', ...PERFORMER_ROWS.map(({ title }) => title)].map(widthOf),
);
/** Behind a name: the state, since when ("1:02:30"), and why. */
const AFTER_NAME = 1 + STATE_CELLS + 1 + 7 + 2 + LONGEST_CAUSE;
/** From here on a battery is named. */
const LOW_BATTERY = 0.25;

/**
 * The stage from above, the performers, the zones and the lights, as lines of text: at most `rows` less
 * one of at most `columns` less one cells, so that the cursor has a place that scrolls nothing. Where
 * room is short, what people must know comes first, and of the performers those who are lost.
 */
export function liveView(input: ViewInput): string[] {
  const columns = Math.max(0, (input.columns || USUAL.columns) - 1);
  const rows = Math.max(0, (input.rows || USUAL.rows) - 1);
  const { stage, snapshot } = input;
  const lines =
    stage === undefined || snapshot === undefined
      ? waitingLines(input, columns, rows)
      : stageLines(input, stage, snapshot, columns, rows);
  return lines.map(line => paintLine(line, columns, input.style));
}

function waitingLines({ notice, news, hint }: ViewInput, columns: number, rows: number): Line[] {
  const said: Line = [['yellow', notice ?? 'waiting for the daemon']];
  const head: Line[] = [...wrapLine(said, columns, 0), []];
  const room = Math.max(0, rows - head.length - 1);
  return [...head, ...newsLines(news, room, columns), [['dim', hint] as const]].slice(0, rows);
}

function stageLines(
  input: ViewInput,
  stage: LiveStage,
  snapshot: LiveSnapshot,
  columns: number,
  rows: number,
): Line[] {
  const { news, notice, hint } = input;
  const people = peopleOf(snapshot);
  const barCells = columns >= WIDE_COLUMNS ? BAR_CELLS.usual : BAR_CELLS.narrow;
  let left = rows;
  const give = (wanted: number): number => {
    const given = Math.max(0, Math.min(wanted, left));
    left -= given;
    return given;
  };
  // Of an old picture that is what must be known first.
  const warnings = notice === undefined ? [] : wrapLine([['red', notice]], columns, 0);
  const heads = headLines(snapshot, columns);
  const lights = wrapLine(lightLine(stage, snapshot), columns, INDENT);
  const seconds = wrapLine(secondLine(snapshot), columns, INDENT);
  // In the order of what is missed most: a line of each, and then all of it.
  const first = [warnings, heads].map(lines => give(Math.min(1, lines.length)));
  const performers = give(people.length);
  const next = [seconds, lights].map(() => give(1));
  const hints = give(1);
  const someNews = give(Math.min(1, news.length));
  let extra = MOST_EXTRA;
  const rest = (lines: readonly Line[]): number => {
    const given = give(Math.min(extra, lines.length - 1));
    extra -= given;
    return given;
  };
  const top = {
    warnings: (first[0] ?? 0) + (warnings.length > 0 ? rest(warnings) : 0),
    heads: (first[1] ?? 0) + rest(heads),
    lights: (next[1] ?? 0) + rest(lights),
    seconds: (next[0] ?? 0) + rest(seconds),
  };
  const zones = give(stage.zones.length);
  const fixtures = give(Math.min(MOST_FIXTURES, stage.fixtures.length));
  const fixtureRows = fixtureLines(stage, snapshot, {
    ...{ rows: fixtures, spare: left, columns, barCells },
  });
  give(fixtureRows.length - fixtures);
  const leastNews = someNews + give(Math.min(LEAST_NEWS, news.length) - someNews);
  const gapAboveFixtures = give(1);
  const gapAboveNews = give(1);
  const gapAboveZones = give(zones > 0 ? 1 : 0);

  const sideRows = performers + gapAboveZones + zones;
  const nameCells = nameCellsOf(people, columns);
  const map = stageMap(stage, snapshot, {
    columns: Math.min(MAP.columns, columns - nameCells - AFTER_NAME - GUTTER.length),
    rows: Math.min(MAP.rows, sideRows + left),
  });
  give(map.length - sideRows);
  const mapColumns = widthOfLine(map[0] ?? []);
  const sideColumns = mapColumns > 0 ? columns - mapColumns - GUTTER.length : columns;
  const cells = { name: nameCells, all: sideColumns };
  const side: Line[] = [
    ...listed(performerLines(people, snapshot, performers, cells), performers),
    ...gap(gapAboveZones),
    ...listed(zoneLines(stage, snapshot, barCells), zones),
  ];
  return [
    ...warnings.slice(0, top.warnings),
    ...heads.slice(0, top.heads),
    ...lights.slice(0, top.lights),
    ...seconds.slice(0, top.seconds),
    ...besideEachOther(map, mapColumns, side),
    ...gap(gapAboveFixtures),
    ...fixtureRows,
    ...gap(gapAboveNews),
    ...newsLines(news, leastNews + left, columns),
    ...(hints > 0 ? [[['dim', hint]] as const] : []),
  ];
}

/** As wide as the longest name, where what stands behind it has room. */
function nameCellsOf(people: readonly Person[], columns: number): number {
  const longest = Math.max(NAME.least, ...people.map(({ label }) => widthOf(label)));
  return Math.max(NAME.least, Math.min(longest, NAME.most, columns - AFTER_NAME));
}

const LEVEL_STYLES = { well: 'green', look: 'yellow', act: 'red' } as const;
const LEVEL_WORDS = { well: '', look: 'LOOK: ', act: 'ACT: ' } as const;

/** Is everything all right? The show and its cue where there is room beside it. */
function headLines(snapshot: LiveSnapshot, columns: number): Line[] {
  const { status } = snapshot;
  const { level, line } = verdictOf(snapshot);
  const said: Line = [[LEVEL_STYLES[level], `${LEVEL_WORDS[level]}${line}`]];
  const show = [
    ...(status.rehearsal ? ['REHEARSAL'] : []),
    status.show,
    ...(status.cue ? [`cue ${status.cue.label}`] : []),
  ].join(', ');
  const room = columns - widthOfLine(said) - GUTTER.length;
  // Half a name helps nobody, and what is wrong does.
  if (room < Math.min(8, widthOf(show))) return wrapLine(said, columns, INDENT);
  return [[...said, GUTTER, ['bold', toWidth(show, Math.min(room, widthOf(show)))]]];
}

/** What the light does about it. */
function lightLine(stage: LiveStage, snapshot: LiveSnapshot): Line {
  return [['dim', 'light '], lightInWords(stage, snapshot)];
}

/** Tracking, outputs, engine; and whatever else is wrong for as long as it is. */
function secondLine(snapshot: LiveSnapshot): Line {
  const { status } = snapshot;
  const { engine, feed } = status;
  const outputs = outputsInWords(snapshot);
  const { others, line } = verdictOf(snapshot);
  const said = saidByPart(status.pair);
  // Not what the first line says.
  const positions = `${feed.positionsPerS} positions/s`;
  const silent = line === TRACKING_SILENT ? positions : 'tracking silent';
  return [
    feed.silent ? ['red', silent] : positions,
    ...(feed.droppedPerS > 0 ? ([', ', ['yellow', `${feed.droppedPerS}/s dropped`]] as const) : []),
    GUTTER,
    outputs.isWell ? outputs.text : ['red', outputs.text],
    ...(status.pair === undefined ? [] : pairInWords(status.pair)).flatMap(text => [GUTTER, text]),
    ...(engine.pid === undefined ? ([GUTTER, ['red', 'engine gone']] as const) : []),
    ...others.filter(text => !said.has(text)).flatMap(text => [GUTTER, ['yellow', text] as const]),
  ];
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

interface PerformerCells {
  readonly name: number;
  readonly all: number;
}

function performerLines(
  people: readonly Person[],
  snapshot: LiveSnapshot,
  room: number,
  cells: PerformerCells,
): Line[] {
  const all = [...people];
  if (all.length > room) all.sort((a, b) => urgencyOf(a.status) - urgencyOf(b.status));
  return all.map(one => performerLine(one, snapshot, cells));
}

function performerLine(person: Person, snapshot: LiveSnapshot, cells: PerformerCells): Line {
  const { label, status, seen } = person;
  const { state, since } = status;
  const cause = causeInWords(status);
  const line: Line = [
    ['bold', toWidth(label, cells.name)],
    ' ',
    [styleOf(state), stateInWords(status).padEnd(STATE_CELLS)],
  ];
  const more: Piece[] = [];
  // Part of a number would be another number: what has no room is left out whole.
  const add = (piece: Piece) => {
    const wanted = widthOf(typeof piece === 'string' ? piece : piece[1]);
    if (widthOfLine([...line, ...more]) + wanted <= cells.all) more.push(piece);
  };
  // Since when and why, before all else.
  if (state !== 'live') add(` ${forText(since, snapshot)}`);
  if (cause !== undefined) add(`  ${cause}`);
  if (status.doubt !== undefined) add(`: ${DOUBT_WORDS[status.doubt]}`);
  const battery = batteryOf(snapshot.engine, status.name);
  if (battery !== undefined && battery <= LOW_BATTERY) {
    add(['red', ` battery ${Math.round(battery * 100)} %`]);
  }
  const sure = sureInWords(person);
  if (sure !== undefined) add(` ${sure.padStart(10)}`);
  const place = seen?.place;
  if (place !== undefined && state !== 'not heard' && state !== 'off stage') {
    add(`${place.x.toFixed(1).padStart(6)} ${place.y.toFixed(1).padStart(5)} m`);
    // Of somebody who isn't believed it would only count how long ago that was.
    const isFollowed = state === 'live' || state === 'returning';
    if (isFollowed && seen?.aheadS !== undefined) {
      add(['dim', `, ${seen.aheadS.toFixed(2)} s ahead`]);
    }
  }
  return [...line, ...more];
}

type Piece = Line[number];

function zoneLines(stage: LiveStage, { engine }: LiveSnapshot, barCells: number): Line[] {
  const labels = cellsFor(stage.zones, 14);
  return stage.zones.map(({ name, label }, index) => {
    const who = (engine?.performers ?? [])
      .filter(({ zones }) => zones.includes(name))
      .map(one => nameOf(stage, one.name));
    return [
      `${toWidth(label, labels)} ${bar(engine?.zones[index]?.presence ?? 0, barCells)}`,
      ...(who.length === 0 ? [] : [' ', ['cyan', who.join(', ')] as const]),
    ];
  });
}

function cellsFor(all: readonly { readonly label: string }[], most: number): number {
  return Math.min(most, Math.max(0, ...all.map(({ label }) => widthOf(label))));
}

interface FixtureRoom {
  readonly rows: number;
  /** Rows that nothing else needs, for reasons that take more than one. */
  readonly spare: number;
  readonly columns: number;
  readonly barCells: number;
}

/** Where there is no room for all, those first of which something is wrong. */
function fixtureLines(stage: LiveStage, snapshot: LiveSnapshot, room: FixtureRoom): Line[] {
  const labels = cellsFor(stage.fixtures, 24);
  const all = stage.fixtures.map((_, index) => index);
  const isWrong = (index: number) => {
    const { dark, safeFor, reachable } = snapshot.engine?.fixtures[index] ?? {};
    return dark === 'lost' || dark === 'keep-out' || safeFor !== undefined || reachable === false;
  };
  if (all.length > room.rows) all.sort((a, b) => Number(isWrong(b)) - Number(isWrong(a)));
  const lines = all.map(index => fixtureLine(stage, snapshot, index, { labels, ...room }));
  const indent = labels + 1 + levelCells(room.barCells) + 2;
  let { spare } = room;
  return listed(lines, room.rows).flatMap(line => {
    const wrapped = wrapLine(line, room.columns, indent);
    if (wrapped.length - 1 > spare) return [line];
    spare -= wrapped.length - 1;
    return wrapped;
  });
}

function fixtureLine(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  index: number,
  { labels, barCells }: { readonly labels: number; readonly barCells: number },
): Line {
  const fixture = stage.fixtures[index];
  if (fixture === undefined) return [];
  const channel = intensityOf(fixture);
  const level =
    channel === undefined ? undefined : levelOf(stage, snapshot, { fixture: index, channel });
  const { text: said, isDark } = fixtureInWords(stage, snapshot, index);
  const text = level === undefined && said === '' ? gatesInWords(stage, snapshot, index) : said;
  const line: Piece[] = [`${toWidth(fixture.label, labels)} ${levelText(level, barCells)}`];
  if (text === '') return line;
  line.push('  ', isDark ? ['dim', text] : text);
  const beam = beamOf(stage, snapshot, index);
  if (isDark || beam === undefined || !fixture.isHead) return line;
  return [...line, `   beam at ${beam.x.toFixed(1)} ${beam.y.toFixed(1)} m`];
}

function levelText(level: number | undefined, barCells: number): string {
  // As wide as a level, so that what comes after stands in one column.
  if (level === undefined) return ' '.repeat(levelCells(barCells));
  return `${bar(level / 100, barCells)} ${level.toFixed(0).padStart(3)} %`;
}

const levelCells = (barCells: number) => barCells + 6;

/** The newest, as many as have room, each whole. */
function newsLines(news: readonly string[], room: number, columns: number): Line[] {
  const lines: Line[] = [];
  for (const text of [...news].reverse()) {
    const one = wrapLine([['dim', text]], columns, NEWS_INDENT);
    if (lines.length + one.length > room) {
      // One that is longer than the room is better than none.
      if (lines.length === 0) lines.push(...one.slice(0, room));
      break;
    }
    lines.unshift(...one);
  }
  return lines;
}

function gap(count: number): Line[] {
  return count > 0 ? [[]] : [];
}

function bar(share: number, cells: number): string {
  const filled = Math.round(Math.min(1, Math.max(0, share)) * cells);
  return '█'.repeat(filled) + '░'.repeat(cells - filled);
}
