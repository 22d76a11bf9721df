import type { PerformerSnapshot, Snapshot } from '../engine/snapshot.js';
import type { FallbackPhase } from '../safety/fallback.js';
import type { Show } from '../show/model.js';
import { compileArea, signedDistanceM } from '../stage/area.js';

/** What the live view shows, and how much room there is. */
export interface ViewInput {
  readonly show: Show;
  readonly snapshot: Snapshot | undefined;
  readonly lights: FallbackPhase;
  readonly enginePid: number | undefined;
  /** The last few things that happened, oldest first. */
  readonly news: readonly string[];
  readonly columns: number;
  readonly rows: number;
  /** Colours a piece of text; the identity where there is no colour. */
  readonly style: (
    style: 'bold' | 'dim' | 'green' | 'yellow' | 'red' | 'cyan',
    text: string,
  ) => string;
}

/** Columns of the map on a wide terminal, and on one of the usual 80. */
const WIDE_MAP = 41;
const NARROW_MAP = 25;
const WIDE_FROM_COLUMNS = 100;
/** Lines of the view beside the map and the fixtures: head, edges, gaps, foot. */
const OTHER_LINES = 9;
const BAR_CELLS = 14;
/** A larger house is for the status page, not for a terminal. */
const MOST_FIXTURES = 16;

/** The stage from above, the performers, the zones and the lights, as lines of text. */
export function liveView(input: ViewInput): string[] {
  const { show, snapshot, style } = input;
  const head = [
    `${style('bold', show.name)}   lights ${phaseText(input)}   engine ${input.enginePid ?? 'gone'}`,
    '',
  ];
  if (snapshot === undefined) return [...head, 'waiting for the engine', '', ...input.news];
  const map = stageMap(input, snapshot);
  const side = [...performerLines(input, snapshot), '', ...zoneLines(input, snapshot)];
  const width = mapColumns(input) + 3;
  const middle = Array.from({ length: Math.max(map.length, side.length) }, (_, i) => {
    const left = map[i] ?? { text: '', length: 0 };
    return `${left.text}${' '.repeat(Math.max(1, width - left.length))}${side[i] ?? ''}`;
  });
  const lines = [...head, ...middle, '', ...fixtureLines(input, snapshot), ''];
  const room = Math.max(0, input.rows - lines.length - 2);
  return [
    ...lines,
    ...input.news
      .slice(input.news.length - Math.min(room, input.news.length))
      .map(text => style('dim', text)),
    style('dim', 'Ctrl-C fades to the safe look and leaves'),
  ];
}

function mapColumns({ columns }: ViewInput): number {
  return columns >= WIDE_FROM_COLUMNS ? WIDE_MAP : NARROW_MAP;
}

function phaseText({ lights, style }: ViewInput): string {
  if (lights === 'live') return style('green', lights);
  return style(lights === 'losing' ? 'red' : 'yellow', lights);
}

/** Upstage at the top, stage left at the right: as the designer sees it from the house. */
function stageMap(input: ViewInput, snapshot: Snapshot): { text: string; length: number }[] {
  const { show, style } = input;
  const wide = mapColumns(input);
  const { min, max } = show.bounds;
  const width = max.x - min.x;
  const depth = max.y - min.y;
  // A character is about twice as high as it is wide.
  const fitting = input.rows - Math.min(show.fixtures.length, MOST_FIXTURES) - OTHER_LINES;
  const rows = Math.max(5, Math.min(20, fitting, Math.round((wide * depth) / width / 2)));
  const cell = (value: number, from: number, size: number, count: number) =>
    Math.min(count - 1, Math.max(0, Math.floor(((value - from) / size) * count)));
  const areas = show.zones.map(zone => ({ zone, area: compileArea(zone.area) }));
  const occupied = new Set(snapshot.zones.filter(zone => zone.presence > 0).map(zone => zone.name));
  const lines: { text: string; length: number }[] = [];
  const marks = new Map<string, { letter: string; performer: PerformerSnapshot }>();
  snapshot.performers.forEach((performer, index) => {
    if (performer.phase === 'waiting') return;
    const column = cell(performer.x, min.x, width, wide);
    const row = rows - 1 - cell(performer.y, min.y, depth, rows);
    const letter = (show.performers[index]?.label ?? performer.name).replace(/^The /, '')[0] ?? '?';
    marks.set(`${row}/${column}`, { letter, performer });
  });
  lines.push({
    text: style('dim', `${'upstage'.padStart((wide + 9) / 2)}`),
    length: (wide + 9) / 2,
  });
  for (let row = 0; row < rows; row++) {
    let text = style('dim', '|');
    for (let column = 0; column < wide; column++) {
      const mark = marks.get(`${row}/${column}`);
      if (mark !== undefined) {
        text += style(mark.performer.phase === 'live' ? 'green' : 'red', mark.letter);
        continue;
      }
      const x = min.x + ((column + 0.5) / wide) * width;
      const y = min.y + ((rows - row - 0.5) / rows) * depth;
      const inside = areas.find(({ area }) => signedDistanceM(area, x, y, Math.max(0, min.z)) <= 0);
      if (inside === undefined) text += ' ';
      else text += occupied.has(inside.zone.name) ? style('yellow', '▒') : style('dim', '·');
    }
    lines.push({ text: text + style('dim', '|'), length: wide + 2 });
  }
  lines.push({
    text: style('dim', `${'audience'.padStart((wide + 9) / 2)}`),
    length: (wide + 9) / 2,
  });
  return lines;
}

function performerLines({ show, style }: ViewInput, snapshot: Snapshot): string[] {
  return snapshot.performers.map((performer, index) => {
    const label = (show.performers[index]?.label ?? performer.name).slice(0, 12).padEnd(13);
    const state = performer.phase.padEnd(10);
    const coloured = performer.phase === 'live' ? style('green', state) : style('yellow', state);
    const percent = `${Math.round(performer.confidence.value * 100)} %`.padStart(5);
    const place =
      performer.phase === 'waiting'
        ? ''
        : `${performer.x.toFixed(1).padStart(6)} ${performer.y.toFixed(1).padStart(5)} m`;
    return `${style('bold', label)}${coloured}${percent} sure${place}  ${performer.cause ?? ''}`;
  });
}

function zoneLines({ show, style }: ViewInput, snapshot: Snapshot): string[] {
  return snapshot.zones.map((zone, index) => {
    const label = (show.zones[index]?.label ?? zone.name).slice(0, 14).padEnd(15);
    const who = snapshot.performers
      .filter(one => one.zones.includes(zone.name))
      .map(one => one.name);
    return `${label}${bar(zone.presence)} ${style('cyan', who.join(', '))}`;
  });
}

function fixtureLines({ show }: ViewInput, snapshot: Snapshot): string[] {
  return snapshot.fixtures.slice(0, MOST_FIXTURES).map((fixture, index) => {
    const label = (show.fixtures[index]?.label ?? fixture.name).slice(0, 18).padEnd(19);
    const { Dimmer, Pan, Tilt } = fixture.values;
    const level =
      Dimmer === undefined ? '' : `${bar(Dimmer / 100)} ${Dimmer.toFixed(0).padStart(3)} %`;
    const aim =
      Pan === undefined || Tilt === undefined
        ? ''
        : `   pan ${Pan.toFixed(1).padStart(7)}  tilt ${Tilt.toFixed(1).padStart(7)} degrees`;
    return `${label}${level}${aim}`;
  });
}

function bar(share: number): string {
  const filled = Math.round(Math.min(1, Math.max(0, share)) * BAR_CELLS);
  return '█'.repeat(filled) + '░'.repeat(BAR_CELLS - filled);
}
