import { enumerated } from '../../stage/enumerated.js';
import type { Show } from '../model/model.js';
import type { ColourPlan, ColourUse } from '../palettes/palette-plans.js';
import type { Finding } from '../problems/problem.js';
import { wholeNames } from './cell-warnings.js';

/** A colour this near in u'v' counts as the one asked for. */
const NEAR = 0.003;
/** A luminance this much lower counts as the one asked for. */
const AS_ASKED = 0.98;

/** Colours that a fixture can't make as asked, and those that are not known for certain. */
export function colourWarnings(show: Show): Finding[] {
  const { colours, fixtures } = show;
  const whoOf = (uses: readonly ColourUse[]): Who => {
    const all = uses.map(({ fixture }) => fixtures[fixture]?.name ?? '');
    const names = wholeNames(show, all).map(name => `"${name}"`);
    const isOne = names.length === 1;
    return { isOne, text: `fixture${isOne ? '' : 's'} ${enumerated(names)}` };
  };
  return [
    ...colours.flatMap(colour => [
      ...kindsOf(show, colour.on).flatMap(uses => offWarning(colour, uses, whoOf(uses))),
      ...kindsOf(show, colour.on).flatMap(uses => dimWarning(colour, uses, whoOf(uses))),
      ...kindsOf(show, colour.on).flatMap(uses => stepsWarning(colour, uses, whoOf(uses))),
    ]),
    ...kindsOf(
      show,
      colours.flatMap(({ on }) => on),
    ).flatMap(uses => statedWarning(show, uses)),
  ];
}

/** One fixture, or several; all cells of one are one. */
interface Who {
  readonly isOne: boolean;
  readonly text: string;
}

/** Those of one profile together, each fixture once; the cells of a profile are alike. */
function kindsOf({ fixtures }: Show, uses: readonly ColourUse[]): ColourUse[][] {
  const kinds = new Map<string, ColourUse[]>();
  for (const use of uses) {
    const { name } = fixtures[use.fixture]?.profileInFile ?? {};
    const kind = kinds.get(name ?? '') ?? [];
    if (kind.every(({ fixture }) => fixture !== use.fixture)) kind.push(use);
    kinds.set(name ?? '', kind);
  }
  return [...kinds.values()];
}

function offWarning({ name }: ColourPlan, uses: readonly ColourUse[], who: Who): Finding[] {
  const [{ off, by, values }] = uses as [ColourUse];
  if (off <= NEAR) return [];
  const far = `${off.toFixed(3)} away in u'v'`;
  const [place] = Object.values(values);
  const its = who.isOne ? 'its' : 'their';
  const what =
    by === 'wheel'
      ? `the nearest colour of ${its} wheel is "${place}", ${far}`
      : `out of reach of ${its} ${by}; the nearest is ${far}`;
  const message = `colour "${name}" on ${who.text}: ${what}.`;
  return [{ code: 'colour-off', message, path: ['palettes', 'colours', name], atKey: true }];
}

function dimWarning(
  { name, luminance: asked }: ColourPlan,
  uses: readonly ColourUse[],
  who: Who,
): Finding[] {
  const [{ luminance: had, by }] = uses as [ColourUse];
  if (asked === undefined || by === 'wheel' || had >= asked * AS_ASKED) return [];
  const message = `colour "${name}" asks for a luminance of ${asked} %, but ${who.text} can give ${Number(had.toFixed(1))} % in it.`;
  return [{ code: 'colour-dim', message, path: ['palettes', 'colours', name, 'luminance'] }];
}

/** Of little light, a step of a slot is a large share. */
function stepsWarning({ name }: ColourPlan, uses: readonly ColourUse[], who: Who): Finding[] {
  const [{ off, brighter }] = (uses as [ColourUse]).map(({ bySteps }) => bySteps) as [
    ColourUse['bySteps'],
  ];
  if (off <= NEAR && Math.abs(brighter) <= 1 - AS_ASKED) return [];
  const light = `${Number((100 * Math.abs(brighter)).toFixed(1))} % ${brighter < 0 ? 'darker' : 'brighter'}`;
  const message = `colour "${name}" on ${who.text}: because of the steps of ${who.isOne ? 'its' : 'their'} slots it is ${off.toFixed(3)} off in u'v', and ${light}. More luminance under a lower Dimmer makes the steps finer, and so do 16 bits.`;
  return [{ code: 'colour-steps', message, path: ['palettes', 'colours', name], atKey: true }];
}

function statedWarning({ fixtures }: Show, uses: readonly ColourUse[]): Finding[] {
  const [{ fixture, isAssumed, by, unknown }] = uses as [ColourUse];
  const { profileInFile: profile, name } = fixtures[fixture] ?? {};
  const path = ['fixtures', name ?? '', 'profile'];
  const dark =
    unknown.length === 0
      ? ''
      : `its ${enumerated(unknown)} ${unknown.length === 1 ? 'stays' : 'stay'} dark in every colour`;
  if (isAssumed) {
    const rest = dark === '' ? '' : `, and ${dark}`;
    const message = `profile "${profile?.name}" doesn't say what colours its ${by} are: those of sRGB are assumed${rest}.`;
    return [{ code: 'colour-assumed', message, path }];
  }
  if (dark === '') return [];
  const message = `profile "${profile?.name}" doesn't say what colours all of its emitters are: ${dark}.`;
  return [{ code: 'colour-assumed', message, path }];
}
