import { describe, expect, it } from 'vitest';
import type { Datagram } from '../../src/engine/values/inputs.js';
import { checkWalked } from '../../src/readiness/place-checks.js';
import { tourOf } from '../../src/readiness/tour.js';
import { waitingFor, waitingInWords } from '../../src/readiness/waiting.js';
import { Walk } from '../../src/readiness/walk.js';
import { reportDatagram } from '../../src/rehearsal/report-datagram.js';
import { scenePosition } from '../../src/rehearsal/scenes/scene.js';
import { seededNormal } from '../../src/rehearsal/sensors/random.js';
import type { Show } from '../../src/show/model/model.js';
import { showOf } from '../show/show-of.js';
import { changed, example, PAIR } from './shows.js';

/** What `--simulate` sends of a show, from one time to another. */
function toured(show: Show, untilS: number): Datagram[] {
  const scene = tourOf(show);
  const normal = seededNormal(5);
  const [input] = show.inputs;
  const at = { x: 0, y: 0, z: 0 };
  const datagrams: Datagram[] = [];
  for (let atS = 0; atS < untilS; atS += 1 / 30) {
    for (const part of scene.parts) {
      if (input === undefined || !scenePosition(scene, part, atS, at)) continue;
      const place = { x: at.x + 0.03 * normal(), y: at.y + 0.03 * normal(), z: at.z };
      const bytes = reportDatagram(input, part.tracker, place, 0);
      if (bytes !== undefined) datagrams.push({ input: 0, bytes, arrivalS: 100 + atS });
    }
  }
  return datagrams;
}

function walkOf(show: Show, datagrams: readonly Datagram[]): Walk {
  const walk = new Walk(show, 0);
  for (const datagram of datagrams) {
    walk.take(datagram);
    walk.runTo(datagram.arrivalS);
  }
  return walk;
}

describe('a simulated walk through a show', () => {
  it.each(['salt-lantern', 'minimal'])('has all that a preflight of %s asks for', name => {
    const show = showOf(example(name));
    const walk = walkOf(show, toured(show, tourOf(show).lengthS));
    expect(waitingFor(show, walk)).toEqual([]);
    expect(waitingInWords(waitingFor(show, walk))).toBe('everybody heard, every place visited');
    for (const check of checkWalked(show, walk.walked(), 'walked now')) {
      expect(`${check.name}: ${check.state}`).toBe(`${check.name}: pass`);
    }
  });

  it('wears every tracker of a pair', () => {
    const show = showOf(changed('trackers: [2]', 'trackers: [2, 12]'));
    expect(tourOf(show).parts.map(({ tracker }) => tracker)).toEqual(['1', '2', '12']);
  });
});

describe('what a preflight still waits for', () => {
  const show = showOf(PAIR);

  it('is everybody at the beginning', () => {
    expect(waitingFor(show, new Walk(show, 0))).toEqual([
      'not heard yet: Ines (tracker 1) and Tobias (tracker 2)',
      'somebody in lantern',
    ]);
  });

  it('is where those have not been who are named there, once they are heard', () => {
    const [input] = show.inputs;
    if (input === undefined) throw new Error('no input');
    const datagrams = [0, 0.1, 0.2].flatMap((atS, i): Datagram[] => {
      const bytes = reportDatagram(input, '1', { x: 5 + 0.01 * i, y: 7, z: 1.5 }, 0);
      return bytes === undefined ? [] : [{ input: 0, bytes, arrivalS: 100 + atS }];
    });
    expect(waitingFor(show, walkOf(show, datagrams))).toEqual([
      'not heard yet: Tobias (tracker 2)',
      'still to come: Ines in stove',
      'somebody in lantern',
    ]);
  });
});
