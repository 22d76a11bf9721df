import { figure, page } from '../drawing/page.js';
import { escaped } from '../stage/markup.js';
import { AREAS, type Check, countStates, type State } from './check.js';

/** Colour, sign and word each tell it, so that print in grey and colour-blind eyes lose nothing. */
const MARKS: Readonly<Record<State, { sign: string; word: string; ink: string }>> = {
  pass: { sign: '✓', word: 'pass', ink: '#2f7d69' },
  warn: { sign: '!', word: 'look', ink: '#a35f00' },
  fail: { sign: '✗', word: 'FAIL', ink: '#b5392c' },
  unknown: { sign: '?', word: 'unknown', ink: '#5b6470' },
};

/** What no program sees. */
const BY_HAND = [
  'Every cable of both networks walked, every connector seated; nothing to trip over.',
  'The safe look walked on the stage with the stage manager: light to leave by, nobody blinded.',
  'One tracker switched off: that performer’s light goes safe as planned, and nobody else’s changes.',
  'The tracking network’s cable pulled, and put back.',
  'Gateways: you know what they do when the stream stops, and it is what you want.',
  'Haze, strobe and laser: allowed today by the venue, warnings at the entrance, fire detection as agreed.',
  'Batteries of the trackers charged or changed; spares labelled.',
  'Everybody at the desk knows who may stop the light, and how.',
] as const;

const STYLE = `<style>
.checks td:first-child { white-space: nowrap; font-weight: 700; width: 92px; }
.checks td:nth-child(2) { width: 25%; }
.act { display: block; margin-top: 2px; font-style: italic; }
.box { display: inline-block; width: 13px; height: 13px; border: 1.5px solid #1d232b; margin-right: 10px; vertical-align: -2px; }
ul.hand { list-style: none; padding: 0; } ul.hand li { margin: 7px 0; }
.sign { display: flex; gap: 40px; margin-top: 34px; } .sign span { flex: 1; border-top: 1px solid #1d232b; padding-top: 4px; font-size: 13px; }
</style>`;

/** The walk as one file of HTML, for the stage manager: to read, to print, to sign. */
export function preflightPage(show: string, day: string, checks: readonly Check[]): string {
  const title = `Before the doors: ${show}`;
  const { pass, warn, fail, unknown } = countStates(checks);
  const open = checks.filter(one => one.state === 'fail' || one.state === 'warn');
  const first = [...open].sort((a, b) => (a.state === b.state ? 0 : a.state === 'fail' ? -1 : 1));
  const areas = [...new Set(checks.map(one => one.area))];
  return page(title, [
    STYLE,
    `<h1>${escaped(title)}</h1>`,
    `<p class="quiet">${escaped(day)}</p>`,
    '<div class="figures">',
    figure(String(fail), fail === 1 ? 'check failed' : 'checks failed'),
    figure(String(warn), 'to look at'),
    figure(String(pass), 'passed'),
    ...(unknown > 0 ? [figure(String(unknown), 'unknown')] : []),
    '</div>',
    '<h2>To do</h2>',
    first.length === 0 ? '<p>Nothing.</p>' : checkRows(first),
    '<h2>By hand and eye</h2>',
    `<ul class="hand">${BY_HAND.map(text => `<li><span class="box"></span>${escaped(text)}</li>`).join('')}</ul>`,
    '<h2>All checks</h2>',
    ...areas.flatMap(area => [
      `<h3>${escaped(AREAS[area])}</h3>`,
      checkRows(checks.filter(one => one.area === area)),
    ]),
    '<div class="sign"><span>checked by, time</span><span>stage manager</span></div>',
    '<footer>lampwright is no machine-safety system. The venue’s safety staff, local codes and licensed people decide about flying, rigging, effects and whether the house opens; what they say overrides this page.</footer>',
  ]);
}

/** Commands and keys stand between backticks. */
function prose(text: string): string {
  return escaped(text).replace(/`([^`]+)`/g, '<code>$1</code>');
}

function checkRows(checks: readonly Check[]): string {
  const rows = checks.map(({ state, name, found, act }) => {
    const { sign, word, ink } = MARKS[state];
    const todo = act === '' ? '' : `<span class="act">${prose(act)}</span>`;
    return `<tr><td style="color:${ink}">${sign} ${word}</td><td>${escaped(name)}</td><td>${prose(found)}${todo}</td></tr>`;
  });
  return `<table class="checks"><tbody>${rows.join('\n')}</tbody></table>`;
}
