import { advice, NO_ADVICE, RIGGING_CAUTION, shoulderAdvice } from '../../planning/advice.js';
import {
  DEFAULT_HEIGHT_M,
  type PlanOptions,
  RANGING_KINDS,
  type RangingKind,
  type WearerOptions,
  WORN_BELOW_TOP_M,
} from '../../planning/options.js';
import { planPage } from '../../planning/page.js';
import { drawPlan } from '../../planning/picture.js';
import {
  CASES,
  type Case,
  casesOf,
  type Plan,
  planAnchors,
  type Spread,
} from '../../planning/plan.js';
import { percent, RULES } from '../../planning/rules.js';
import type { PerformerPlan, Show } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { numberOption } from '../terminal/option-values.js';
import { refuse } from '../terminal/refuse.js';
import { print, styled } from '../terminal/terminal.js';
import { writeText } from '../terminal/text-files.js';

const misuse = misuseOf('plan');

export const PLAN_HELP = `usage: lampwright plan SHOW [--error M] [--by KIND] [--step M] [--json] [--html FILE]
                       [--plot FILE.svg] [--force]

Rates the show's anchor layout: how well each place can be measured (dilution of precision), how
many anchors a tracker sees with bodies in the way, the error to expect, the worst places, the rules of
common practice, and which anchor to add or move first.

  --error M         error of one range (standard deviation), metres, instead of the show's
  --by KIND         ${RANGING_KINDS.join(' or ')}, instead of the show's
  --step M          grid spacing of the map, metres (0.25)
  --json            everything, with the maps row by row from downstage right; null where there is no value
  --html FILE       maps, worst places and advice as one page, to read and to print
  --plot FILE.svg   the maps alone, as one picture

${RIGGING_CAUTION}

examples:
  lampwright plan config/salt-lantern.show.yaml
  lampwright plan config/salt-lantern.show.yaml --html anchors.html
  lampwright plan my.show.yaml --by time-difference --error 0.1 --json | jq .worst

exit codes: 0 ok, 1 the show has errors, or somewhere a tracker sees fewer than 3 anchors even with nobody
in the way, 2 bad usage, no such file, or no anchors`;

const MOST_PLACES = 200_000;
const WORST_PRINTED = 5;

export async function plan(args: Arguments): Promise<number> {
  const file = args.positionals[0] ?? '';
  const faults: string[] = [];
  const errorM = numberOption(args.values.error, 'error', undefined, 0.001, 10, faults);
  const stepM = numberOption(args.values.step, 'step', 0.25, 0.02, 10, faults);
  const by = args.values.by;
  if (by !== undefined && !isKind(by)) {
    faults.push(`--by is ${RANGING_KINDS.join(' or ')}, not "${by}".`);
  }
  if (faults.length > 0) return misuse(...faults);
  const loaded = loadShow(file);
  if (!loaded.ok) return refuse(loaded.problems);
  const { show } = loaded;
  if (show.anchors.length === 0) {
    return misuse(
      `${file} has no anchors; add them as\n\n` +
        'anchors:\n  left-wing: { position: [10.9, 2.6, 3.8] }   # stage frame, metres\n',
    );
  }
  const shown = planOptions(show, stepM);
  const options: PlanOptions = {
    ...shown,
    ranging: {
      by: isKind(by) ? by : shown.ranging.by,
      errorM: errorM ?? shown.ranging.errorM,
    },
  };
  const { min, max } = options.bounds;
  const places = ((max.x - min.x) * (max.y - min.y)) / stepM ** 2;
  if (places > MOST_PLACES) {
    return misuse(
      `--step ${stepM} makes ${Math.round(places)} places of this stage; at most ${MOST_PLACES}.`,
    );
  }
  const result = planAnchors(options);
  for (const [file, draw] of [
    [args.values.plot, drawPlan],
    [args.values.html, planPage],
  ] as const) {
    if (typeof file !== 'string') continue;
    const why = writeText(file, draw(show.name, options, result));
    if (why !== undefined) return misuse(`can't write to ${file}: ${why}.`);
  }
  print(
    args.values.json === true
      ? json(show, options, result)
      : table(show, options, result).join('\n'),
  );
  return result.rules.some(({ state }) => state === 'fail') ? EXIT.failed : EXIT.ok;
}

/** The parts of a show that a plan needs. */
export function planOptions(show: Show, stepM: number): PlanOptions {
  const wearers = show.performers.map(wearerOf);
  return {
    bounds: show.bounds,
    anchors: show.anchors,
    obstacles: show.obstacles,
    ranging: show.ranging,
    // A zone that moves with somebody has no fixed place.
    zones: show.zones.filter(({ around }) => around === undefined),
    stepM,
    lights: [...show.fixtures, ...show.unpatched].flatMap(({ name, position }) =>
      position === undefined ? [] : [{ name, position }],
    ),
    wearers:
      wearers.length > 0
        ? wearers
        : [{ heightM: DEFAULT_HEIGHT_M, wornAtM: DEFAULT_HEIGHT_M - WORN_BELOW_TOP_M }],
  };
}

/** Two trackers count as a pair that sees round the body if they are apart on it, or if no offset is given. */
function wearerOf({ label, heightM, wornAtM, trackers }: PerformerPlan): WearerOptions {
  const places = trackers.map(({ fit }) => fit);
  const isSaid = places.some(
    ({ forwardM, leftM, upM }) => forwardM !== 0 || leftM !== 0 || upM !== 0,
  );
  const isApart = places.some(a =>
    places.some(b => Math.hypot(a.forwardM - b.forwardM, a.leftM - b.leftM) >= APART_ON_BODY_M),
  );
  return { label, heightM, wornAtM, isPair: trackers.length > 1 && (isApart || !isSaid) };
}

/** Trackers nearer to each other than this are on the same side of the body, metres. */
const APART_ON_BODY_M = 0.1;

function isKind(value: unknown): value is RangingKind {
  return RANGING_KINDS.some(kind => kind === value);
}

/** Width of a cell of the table: `no position` and two spaces. */
const CELL = 13;

const CASE_WORDS: Record<Case, string> = {
  clear: 'nobody in the way',
  ownLikely: "the wearer's body, median",
  ownWorst: "the wearer's body, worst way round",
  besideLikely: 'and another beside, median',
  besideWorst: 'and another beside, worst',
};

function table(show: Show, options: PlanOptions, result: Plan): string[] {
  const { survey, summary, worn, worst, rules, suggestions } = result;
  const { grid } = survey;
  const { ranging } = options;
  const kind = ranging.by === 'range' ? 'ranges' : 'time differences';
  const head = (title: string, columns: readonly string[]) =>
    styled('bold', title.padEnd(44)) + columns.map(text => text.padStart(CELL)).join('');
  const row = (title: string, cells: readonly string[]) =>
    `  ${title.padEnd(42)}${cells.map(text => text.padStart(CELL)).join('')}`;
  const spread = (value: Spread, unit: string) =>
    [value.best, value.median, value.p95, value.worst].map(one => number(one, unit));
  const spreadHead = ['best', 'median', '95 %', 'worst'];
  return [
    `${styled('bold', show.name)}: ${options.anchors.length} anchors, ${grid.columns} x ${grid.rows} places every ${grid.stepM} m,`,
    `${kind} with an error of ${ranging.errorM} m; trackers at ${grid.heightM.toFixed(2)} m${whose(result)}`,
    '',
    head('dilution of precision', spreadHead),
    row('horizontal, ranges', spread(summary.dilution.range.horizontal, '')),
    row('vertical, ranges', spread(summary.dilution.range.vertical, '')),
    row('horizontal, time differences', spread(summary.dilution['time-difference'].horizontal, '')),
    row('vertical, time differences', spread(summary.dilution['time-difference'].vertical, '')),
    '',
    head('expected error across the floor (rms)', spreadHead),
    ...CASES.map(one => row(CASE_WORDS[one], spread(summary.errorM[one], ' m'))),
    '',
    head('anchors in view', ['fewest', '3 or more', '4 or more']),
    ...CASES.map(one => {
      const { fewest, three, four } = summary.inView[one];
      return row(CASE_WORDS[one], [String(fewest), percent(three), percent(four)]);
    }),
    '',
    ...(worn.length < 2
      ? []
      : [
          head('facing the worst way, by wearer', ['tracker at', 'median', '95 %', 'position on']),
          ...worn.map(({ wearer, labels, errorM, positionShare }) =>
            row(`${enumerated(labels, 3)}${wearer.isPair ? ' (pair)' : ''}`, [
              `${wearer.wornAtM.toFixed(2)} m`,
              number(errorM.median, ' m'),
              number(errorM.p95, ' m'),
              percent(positionShare),
            ]),
          ),
          '',
        ]),
    head('worst places', ['error', 'in view', 'by body', 'beside']),
    ...worst
      .slice(0, WORST_PRINTED)
      .map(({ words, x, y, errorM, inView }) =>
        row(`${words} (${x.toFixed(1)}, ${y.toFixed(1)})`, [
          number(errorM, ' m'),
          ...inView.map(String),
        ]),
      ),
    '',
    styled('bold', 'rules of common practice (no standard; a plan that breaks one can be right)'),
    ...rules.map(({ rule, state, found }) => `  ${mark(state)}  ${RULES[rule]}\n        ${found}`),
    '',
    styled('bold', 'what would help most'),
    ...(suggestions.length === 0
      ? [`  ${NO_ADVICE}`]
      : suggestions.map(one => `  ${advice(one, options.bounds).join('\n      ')}`)),
    ...shoulderAdvice(options.wearers).map(text => `  ${text}`),
    '',
    RIGGING_CAUTION,
  ];
}

/** Whose trackers the table is about, if not all wear theirs alike. */
function whose({ wearer, worn }: Plan): string {
  const group = worn.find(one => one.wearer === wearer);
  if (group === undefined || group.labels.length === 0) return '';
  const pair = wearer.isPair ? ' (a pair, front and back)' : '';
  return worn.length < 2 ? pair : `${pair}, ${enumerated(group.labels, 3)}: the hardest to see`;
}

function mark(state: 'ok' | 'warn' | 'fail'): string {
  const colour = { ok: 'green', warn: 'yellow', fail: 'red' } as const;
  return styled(colour[state], state.padEnd(4));
}

function number(value: number, unit: string): string {
  return Number.isFinite(value) ? `${value.toFixed(2)}${unit}` : 'no position';
}

function json(show: Show, options: PlanOptions, result: Plan): string {
  const { survey, summary, worst, rules, suggestions } = result;
  const list = (map: Float64Array | Uint8Array) =>
    // JSON has no infinity: JSON.stringify makes it null.
    Array.from(map, (value, i) => (survey.open[i] === 1 ? Math.round(value * 1e4) / 1e4 : null));
  const pair = (by: RangingKind) => ({
    horizontal: list(survey.dilution[by].horizontal),
    vertical: list(survey.dilution[by].vertical),
  });
  const lists = (shaded: Record<Case, Float64Array | Uint8Array>) =>
    Object.fromEntries(CASES.map(one => [one, list(shaded[one])]));
  return JSON.stringify({
    show: show.name,
    ranging: options.ranging,
    summary,
    wearer: result.wearer,
    worn: result.worn,
    worst,
    rules: rules.map(one => ({ ...one, says: RULES[one.rule], commonPractice: true })),
    suggestions,
    map: {
      ...survey.grid,
      dilution: { range: pair('range'), 'time-difference': pair('time-difference') },
      inView: lists(casesOf(survey.inView)),
      errorM: lists(casesOf(survey.errorM)),
    },
  });
}
