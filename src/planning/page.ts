import { captioned, key, list, page, paragraphs, table } from '../drawing/page.js';
import { escaped } from '../stage/markup.js';
import { advice, NO_ADVICE, RIGGING_CAUTION, shoulderAdvice } from './advice.js';
import { largeMap, mapsOf, type PlanMap, planWords, smallMap } from './maps.js';
import type { PlanOptions } from './options.js';
import type { Plan } from './plan.js';
import { RULES } from './rules.js';

const STATES = { ok: '✓ ok', warn: '! look', fail: '✗ FAIL' } as const;

/** The plan as one file of HTML, to read on a screen and to print on A4. */
export function planPage(show: string, options: PlanOptions, plan: Plan): string {
  const [first, ...others] = mapsOf(options, plan) as [PlanMap, ...PlanMap[]];
  const large = largeMap(first, options, plan);
  const picture = large.svg(first.title);
  const { rules, suggestions, worst } = plan;
  return page(`${show}: anchor plan`, [
    `<h1>${escaped(show)}: anchor plan</h1>`,
    ...paragraphs(planWords(options, plan)),
    list([RIGGING_CAUTION], 'caution'),
    `<h2>${escaped(first.title)}</h2>`,
    key(first.key),
    picture,
    ...(large.numbered.length > 0 ? paragraphs([`Numbers: ${large.numbered.join('; ')}.`]) : []),
    '<h2>Worst places</h2>',
    table(
      [
        { head: 'no.' },
        { head: 'where' },
        { head: 'x, y', number: true },
        { head: 'expected error', number: true },
        { head: 'anchors in view', number: true },
        { head: 'hidden by the own body', number: true },
        { head: 'and with another beside', number: true },
      ],
      worst.map(({ words, x, y, errorM, inView }, i) => [
        String(i + 1),
        words,
        `${x.toFixed(1)}, ${y.toFixed(1)}`,
        Number.isFinite(errorM) ? `${errorM.toFixed(2)} m` : 'no position',
        ...inView.map(String),
      ]),
    ),
    '<h2>What would help most</h2>',
    list([
      ...(suggestions.length === 0
        ? [NO_ADVICE]
        : suggestions.map(one => advice(one, options.bounds).join(' '))),
      ...shoulderAdvice(options.wearers),
    ]),
    '<h2>Rules of common practice</h2>',
    '<p class="quiet">These are not a standard: a plan that breaks one can still be right.</p>',
    table(
      [{ head: 'state' }, { head: 'rule' }, { head: 'found' }],
      rules.map(({ rule, state, found }) => [STATES[state], RULES[rule], found]),
    ),
    '<h2>The other maps</h2>',
    '<div class="small">',
    ...others.map(map =>
      captioned(map.title, smallMap(map, options, plan).svg(map.title), key(map.key)),
    ),
    '</div>',
  ]);
}
