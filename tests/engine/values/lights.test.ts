import { describe, expect, test } from 'vitest';
import { createLights, isLit, KIND, type Lights } from '../../../src/engine/values/lights.js';
import type { MappingPlan, Show } from '../../../src/show/model/model.js';
import { sectionsOf } from '../../../src/show/model/sections.js';
import { houseOf } from '../../show/house.js';
import { showOf } from '../../show/show-of.js';
import { KEPT } from '../keep-out-show.js';
import { richShow } from '../rich-house.js';
import { HOUSE } from '../shows.js';

function lightsOf(show: Show): Lights {
  const work = createLights(show);
  let done = work.next();
  while (!done.done) done = work.next();
  return done.value;
}

/** Every fixture, looked at by itself: no list is made once and looked into. */
function plainly(show: Show, light: number) {
  const { fixtures, mappings, cues, performers } = show;
  const plan = fixtures[light] as Show['fixtures'][number];
  const { channels } = plan.profile;
  const start = fixtures
    .slice(0, light)
    .reduce((sum, { profile }) => sum + profile.channels.length, 0);
  const all = mappings.flatMap((mapping, index) => {
    const isHead = mapping.kind === 'follow' && mapping.heads.includes(light);
    const sets = mapping.values.some(({ fixture }) => fixture === light);
    return isHead || sets ? [{ mapping, index, isHead }] : [];
  });
  const isMoving = channels.some(({ attribute }) => ['Pan', 'Tilt'].includes(attribute));
  const look = (cue: Show['cues'][number]) => JSON.stringify([cue.base[light], cue.safe[light]]);
  const changes = new Set(cues.map(look)).size > 1;
  const believed = (mapping: MappingPlan, index: number) => {
    if (mapping.kind === 'zone') return mapping.performers;
    const isPlain = mapping.kind === 'follow' && mapping.when === undefined && !mapping.choice;
    return isPlain ? [mapping.performer] : [performers.length + index];
  };
  const believes = all.flatMap(({ mapping, index }) => believed(mapping, index));
  const [cue] = cues;
  const follow =
    plan.head === undefined
      ? undefined
      : all.find(one => one.isHead && (cue === undefined || (cue.levels[one.index] ?? 0) > 0));
  const dimmer = channels.findIndex(({ attribute }) => attribute === 'Dimmer');
  return {
    start,
    end: start + channels.length,
    intensity: dimmer < 0 ? -1 : start + dimmer,
    kind: isMoving
      ? all.length > 0 || changes
        ? KIND.moving
        : KIND.idle
      : all.length > 0
        ? KIND.still
        : KIND.idle,
    believes: [...new Set(believes)].sort((a, b) => a - b),
    followed: follow?.mapping.kind === 'follow' ? follow.mapping.performer : -1,
    governor: follow === undefined ? -1 : believed(follow.mapping, follow.index)[0],
    safe: cue?.safe[light] ?? plan.safe,
    base: cue?.base[light] ?? plan.base,
    least: channels.map(({ from, to }) => Math.min(from, to)),
    greatest: channels.map(({ from, to }) => Math.max(from, to)),
    movement: channels.map(({ attribute }) => (['Pan', 'Tilt'].includes(attribute) ? 1 : 0)),
    stepped: channels.map(({ attribute }) => (attribute === 'Color1' ? 1 : 0)),
  };
}

/** One that turns the other way, and one whose pan nothing moves but a cue. */
const TURNED = HOUSE.replace('range: [-270, 270]', 'range: [270, -270]');

describe('the fixtures of a show, in flat arrays', () => {
  test.each([
    ['nearly everything', richShow()],
    ['the same, renumbered', richShow(true)],
    ['no cues', showOf(HOUSE)],
    ['a reversed range', showOf(TURNED)],
    ['keep-outs', showOf(KEPT)],
    ['sections', houseOf(40)],
  ] as const)('each as it is by itself: %s', (_, show) => {
    const lights = lightsOf(show);
    show.fixtures.forEach((plan, i) => {
      const [from, end] = [lights.start[i] as number, lights.start[i + 1] as number];
      const of = (values: Float64Array | Uint8Array) => [...values.subarray(from, end)];
      const { least, greatest, movement, stepped, safe, base, wanted, out } = lights;
      expect([of(wanted), of(out)], plan.name).toEqual([of(base), of(safe)]);
      expect(
        {
          ...{ start: from, end, intensity: lights.intensity[i], kind: lights.kind[i] },
          ...{ believes: lights.believes[i], followed: lights.followed[i] },
          ...{ governor: lights.governor[i], safe: of(safe), base: of(base), least: of(least) },
          ...{ greatest: of(greatest), movement: of(movement), stepped: of(stepped) },
        },
        plan.name,
      ).toEqual(plainly(show, i));
    });
  });

  test('each is in the one section in which its universe is', () => {
    const show = houseOf(40);
    const { sections } = lightsOf(show);
    expect(sections.length).toBeGreaterThan(1);
    sectionsOf(show).forEach(({ firstUniverse, endUniverse }, at) => {
      const due = show.fixtures.flatMap(({ universe }, i) =>
        universe < firstUniverse || universe >= endUniverse ? [] : [i],
      );
      expect([...(sections[at] as Int32Array)]).toEqual(due);
    });
    const all = sections.flatMap(one => [...one]);
    expect(all.sort((a, b) => a - b)).toEqual(show.fixtures.map((_, i) => i));
  });

  test('one without an intensity counts as lit, any other while its intensity is above nothing', () => {
    const show = richShow();
    const lights = lightsOf(show);
    lights.out.fill(0);
    const lit = () => show.fixtures.flatMap(({ name }, i) => (isLit(lights, i) ? [name] : []));
    expect(lit()).toEqual(['haze']);
    const pin = show.fixtures.findIndex(({ name }) => name === 'pin');
    lights.out[lights.intensity[pin] as number] = 1e-6;
    expect(lit()).toEqual(['haze', 'pin']);
  });
});
