import { fixtureInWords, gatesInWords, lightInWords } from '../live/light-words.js';
import {
  batteryOf,
  causeInWords,
  forText,
  intensityOf,
  nameOf,
  outputsInWords,
  type Person,
  peopleOf,
  shownValue,
  urgencyOf,
} from '../live/reading.js';
import type { LiveSnapshot } from '../live/schema.js';
import type { LiveStage } from '../live/stage-schema.js';
import { verdictOf } from '../live/verdict.js';
import { type Line, type Paint, paintLine, toWidth, widthOf, widthOfLine } from './line.js';
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
const BAR_CELLS = 14;
/** What stands beside the map: a performer's name, state, confidence, and place or cause. */
const SIDE_COLUMNS = 49;
const GUTTER = '   ';
const MOST_FIXTURES = 16;
const LEAST_NEWS = 3;
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
      ? waitingLines(input, rows)
      : stageLines(input, stage, snapshot, columns, rows);
  return lines.map(line => paintLine(line, columns, input.style));
}

function waitingLines({ notice, news, hint }: ViewInput, rows: number): Line[] {
  const head: Line[] = [[['yellow', notice ?? 'waiting for the daemon']], []];
  const room = Math.max(0, rows - head.length - 1);
  return [...head, ...newsLines(news, room), [['dim', hint] as const]].slice(0, rows);
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
  const second = secondLine(snapshot);
  let left = rows;
  const give = (wanted: number): number => {
    const given = Math.max(0, Math.min(wanted, left));
    left -= given;
    return given;
  };
  // In the order of what is missed most.
  const warning = give(notice === undefined ? 0 : 1);
  const head = give(1);
  const performers = give(people.length);
  const below = give(1);
  const light = give(1);
  const hints = give(1);
  const leastNews = give(Math.min(LEAST_NEWS, news.length));
  const zones = give(stage.zones.length);
  const fixtures = give(Math.min(MOST_FIXTURES, stage.fixtures.length));
  const gapAboveFixtures = give(1);
  const gapAboveNews = give(1);
  const gapAboveZones = give(zones > 0 ? 1 : 0);

  const sideRows = performers + gapAboveZones + zones;
  const map = stageMap(stage, snapshot, {
    columns: Math.min(MAP.columns, columns - SIDE_COLUMNS - GUTTER.length),
    rows: Math.min(MAP.rows, sideRows + left),
  });
  give(map.length - sideRows);
  const mapColumns = widthOfLine(map[0] ?? []);
  const sideColumns = mapColumns > 0 ? columns - mapColumns - GUTTER.length : columns;
  const side: Line[] = [
    ...listed(performerLines(people, snapshot, performers, sideColumns), performers),
    ...gap(gapAboveZones),
    ...listed(zoneLines(stage, snapshot), zones),
  ];
  return [
    // Of an old picture that is what must be known first.
    ...(warning > 0 ? [[['red', notice ?? '']] as const] : []),
    ...(head > 0 ? [headLine(snapshot, columns)] : []),
    ...(light > 0 ? [lightLine(stage, snapshot)] : []),
    ...(below > 0 ? [second] : []),
    ...besideEachOther(map, mapColumns, side),
    ...gap(gapAboveFixtures),
    ...listed(fixtureLines(stage, snapshot), fixtures),
    ...gap(gapAboveNews),
    ...newsLines(news, leastNews + give(news.length - leastNews)),
    ...(hints > 0 ? [[['dim', hint]] as const] : []),
  ];
}

const LEVEL_STYLES = { well: 'green', look: 'yellow', act: 'red' } as const;
const LEVEL_WORDS = { well: '', look: 'LOOK: ', act: 'ACT: ' } as const;

/** Is everything all right? The show and its cue where there is room beside it. */
function headLine(snapshot: LiveSnapshot, columns: number): Line {
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
  if (room < Math.min(8, widthOf(show))) return said;
  return [...said, GUTTER, ['bold', toWidth(show, Math.min(room, widthOf(show)))]];
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
  const { others } = verdictOf(snapshot);
  return [
    feed.silent ? ['red', 'tracking silent'] : `${feed.positionsPerS} positions/s`,
    ...(feed.droppedPerS > 0 ? ([', ', ['yellow', `${feed.droppedPerS}/s dropped`]] as const) : []),
    GUTTER,
    outputs.isWell ? outputs.text : ['red', outputs.text],
    ...(engine.pid === undefined ? ([GUTTER, ['red', 'engine gone']] as const) : []),
    ...others.flatMap(text => [GUTTER, ['yellow', text] as const]),
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

function performerLines(
  people: readonly Person[],
  snapshot: LiveSnapshot,
  room: number,
  columns: number,
): Line[] {
  const all = [...people];
  if (all.length > room) all.sort((a, b) => urgencyOf(a.status) - urgencyOf(b.status));
  return all.map(one => performerLine(one, snapshot, columns));
}

function performerLine(
  { label, status, seen }: Person,
  snapshot: LiveSnapshot,
  columns: number,
): Line {
  const { state, since } = status;
  const confidence = seen?.confidence.value ?? 0;
  const cause = causeInWords(status);
  const line: Line = [
    ['bold', toWidth(label, 12)],
    ' ',
    [styleOf(state), state.padEnd(9)],
    // Who is not there is not doubted.
    state === 'off stage' ? '' : `${` ${Math.round(confidence * 100)}`.padStart(5)} % sure`,
  ];
  const more: Piece[] = [];
  // Part of a number would be another number: what has no room is left out whole.
  const add = (piece: Piece) => {
    const wanted = widthOf(typeof piece === 'string' ? piece : piece[1]);
    if (widthOfLine([...line, ...more]) + wanted <= columns) more.push(piece);
  };
  if (state !== 'live') add(` ${forText(since, snapshot)}`);
  if (cause !== undefined) add(`  ${cause}`);
  const battery = batteryOf(snapshot.engine, status.name);
  if (battery !== undefined && battery <= LOW_BATTERY) {
    add(['red', ` battery ${Math.round(battery * 100)} %`]);
  }
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

function zoneLines(stage: LiveStage, { engine }: LiveSnapshot): Line[] {
  return stage.zones.map(({ name, label }, index) => {
    const who = (engine?.performers ?? [])
      .filter(({ zones }) => zones.includes(name))
      .map(one => nameOf(stage, one.name));
    return [
      `${toWidth(label, 14)} ${bar(engine?.zones[index]?.presence ?? 0)} `,
      ['cyan', who.join(', ')],
    ];
  });
}

function fixtureLines(stage: LiveStage, snapshot: LiveSnapshot): Line[] {
  return stage.fixtures.map((fixture, index): Line => {
    const channel = intensityOf(fixture);
    const level =
      channel === undefined ? undefined : shownValue(stage, snapshot, { fixture: index, channel });
    const { text: said, isDark } = fixtureInWords(stage, snapshot, index);
    const text = level === undefined && said === '' ? gatesInWords(snapshot, fixture.name) : said;
    const line: Piece[] = [`${toWidth(fixture.label, 17)} ${levelText(level)}`];
    if (text === '') return line;
    line.push('  ', isDark ? ['dim', text] : text);
    const { beam, beamOn = beam } = snapshot.engine?.fixtures[index] ?? {};
    if (isDark || beamOn === undefined || !fixture.isHead) return line;
    return [...line, `   beam at ${beamOn.x.toFixed(1)} ${beamOn.y.toFixed(1)} m`];
  });
}

function levelText(level: number | undefined): string {
  // As wide as a level, so that what comes after stands in one column.
  if (level === undefined) return ' '.repeat(BAR_CELLS + 6);
  return `${bar(level / 100)} ${level.toFixed(0).padStart(3)} %`;
}

function newsLines(news: readonly string[], room: number): Line[] {
  return room === 0 ? [] : news.slice(-room).map(text => [['dim', text]] as const);
}

function gap(count: number): Line[] {
  return count > 0 ? [[]] : [];
}

function bar(share: number): string {
  const filled = Math.round(Math.min(1, Math.max(0, share)) * BAR_CELLS);
  return '█'.repeat(filled) + '░'.repeat(BAR_CELLS - filled);
}
