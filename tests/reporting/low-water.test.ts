import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { decode } from '../../src/fixtures/encode.js';
import { clearance } from '../../src/fixtures/keep-out.js';
import type { Channel } from '../../src/fixtures/profile.js';
import { parseScene } from '../../src/rehearsal/scenes/scene-file.js';
import { rehearsalPage } from '../../src/reporting/pages/rehearsal-page.js';
import { reportRehearsal } from '../../src/reporting/rehearsal.js';
import { handOverLines } from '../../src/reporting/words/hand-over-words.js';
import { explainMoment } from '../../src/sheets/explain-moment.js';
import { explanationText } from '../../src/sheets/explain-text.js';
import { stand } from '../../src/sheets/stand.js';
import { keepOutOf } from '../../src/show/model/keep-out.js';
import { parseShow, saidIn } from '../../src/show/parse.js';
import { warningsOf } from '../../src/show/warnings/warnings.js';
import { type Degrees, toRadians } from '../../src/stage/units.js';
import { vec3 } from '../../src/stage/vector.js';
import { configShow } from '../show/base.js';
import { showOf } from '../show/show-of.js';

/** The dance piece: twelve heads that belong to nobody, eight dancers. */
const TEXT = configShow('low-water');
const SHOW = showOf(TEXT);
const HEADS = SHOW.fixtures.filter(({ head }) => head !== undefined);
const KEEP_OUTS = SHOW.fixtures.map((_, index) => keepOutOf(SHOW, index));

function scene() {
  const text = readFileSync('config/scenes/tide.scene.yaml', 'utf8');
  const read = parseScene(text, 'tide.scene.yaml', SHOW, () => ({ ok: false, why: 'none' }));
  if (!read.ok) throw new Error(read.problems[0]?.message);
  return read.scene;
}

test('is in order: no error and no warning', () => {
  expect(parseShow(TEXT, 'low-water.show.yaml').ok).toBe(true);
  expect(warningsOf(SHOW, saidIn(TEXT), undefined)).toEqual([]);
  expect([HEADS.length, SHOW.performers.length]).toEqual([12, 8]);
});

test('its tide comes in: who is on whom, no lit change, no lit beam in a keep-out, and the page that shows it', () => {
  const at = (atS: number) => `${atS.toFixed(0)} s`;
  const clock = { startS: 0, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 };
  const cues: string[] = [];
  const litOn = new Map<string, string>();
  const faults: string[] = [];
  const rehearsal = reportRehearsal(SHOW, scene(), clock, { version: 'test', node: 'v0' }, at, {
    ticked: ({ view, levels, sceneS }) => {
      const cue = view.cue?.name;
      if (cue !== undefined && cue !== cues.at(-1)) cues.push(cue);
      view.fixtures.forEach(({ plan, choice }, index) => {
        const keepOut = KEEP_OUTS[index];
        if (keepOut === undefined) return;
        const valueAt = (attribute: string) => {
          const channel = plan.profile.channels.find(one => one.attribute === attribute);
          return decode(channel as Channel, levels, plan.firstSlot);
        };
        if (valueAt('Dimmer') <= 0) {
          litOn.delete(plan.name);
          return;
        }
        const [pan, tilt] = [valueAt('Pan'), valueAt('Tilt')].map(one => toRadians(one as Degrees));
        if (clearance(keepOut, pan as never, tilt as never, valueAt('Zoom'), 0) < 0) {
          faults.push(`${plan.name} in a keep-out at ${sceneS}`);
        }
        const on = choice?.performer;
        const before = litOn.get(plan.name);
        if (on === undefined) return;
        if (before !== undefined && before !== on) {
          faults.push(`${plan.name} from ${before} to ${on}, lit, at ${sceneS}`);
        }
        litOn.set(plan.name, on);
      });
    },
  });
  expect(faults).toEqual([]);
  // The sixth who comes to the buoy brings the second cue on.
  expect(cues).toEqual(['ebb', 'gather', 'flood']);

  const { report } = rehearsal;
  expect(report.losses.map(({ performer }) => performer)).toEqual(['noor']);
  expect(report.offStage.map(({ performer }) => performer)).toEqual(['wen']);
  // Eight heads for eight people, and nobody without for longer than a head takes to come up on them.
  expect(report.heads).toHaveLength(9);
  const served = new Set(
    report.heads.flatMap(({ stretches }) => stretches.map(({ performer }) => performer)),
  );
  // And the two whom front 2 holds in one beam.
  expect([...served].filter(name => name.includes(' and '))).toHaveLength(1);
  expect(served.size).toBe(9);
  for (const { label, forS } of report.withoutHead) expect(forS, label).toBeLessThan(5);
  expect(report.heads.reduce((sum, { changes }) => sum + changes, 0)).toBeGreaterThan(4);
  const lines = handOverLines(report, text => text);
  expect(lines[0]).toMatch(/^who was on whom +changes$/);
  expect(lines.join('\n')).toMatch(/front 1 +\d+ {2}\w+ [\d.:]+ (s|min), /);

  const page = rehearsalPage(rehearsal, SHOW, at);
  expect(page).toContain('<h2>Who was on whom</h2>');
  expect(page).toMatch(/<title>front 1 on \w+, \d+ s to \d+ s<\/title>/);
  // The rig: a polygon for each keep-out and each beam, from above and from the side.
  for (const { label } of [...SHOW.keepOuts, ...HEADS]) {
    const shapes = page.match(new RegExp(`<title>${label}[^<]*</title></polygon>`, 'g'));
    expect(shapes, label).toHaveLength(2);
  }
});

test('explain says who is on whom, at what cost, and on whom a head can not be', () => {
  const places = new Map([
    [0, vec3(4, 3, 1.3)],
    [1, vec3(10, 4, 1.35)],
    // So far upstage that the front heads throw farthest.
    [7, vec3(7, 9.5, 1.3)],
  ]);
  const view = stand(SHOW, { places, lost: new Set([1]), off: new Set(), forS: 8, orders: [] });
  const moment = explainMoment(view);
  const on = new Map(moment.heads.map(one => [one.performer, one]));
  // Whose performer is lost is at its safe look, on nobody.
  expect([...on.keys()].sort()).toEqual(['mara', 'yara', null].sort());
  const { why = '', candidates = [] } = on.get('mara') ?? {};
  expect(why).toMatch(/^cost (Mara|Yara) \d\.\d\d, (Mara|Yara) \d\.\d\d$/);
  expect(candidates.find(({ performer }) => performer === 'ilja')).toMatchObject({
    tracked: false,
    cost: null,
  });
  const text = explanationText(moment, 'a title', (_, words) => words);
  expect(text).toMatch(/\nheads\n( {2}.*\n)* {2}\S+ \d +on Mara +cost /);
});
