// Hours of show time by a simulated clock: the engine's step and all of the supervisor that is pure, on scenes of The Salt Lantern, one
// evening after the other, each with other noise. Meanwhile engines die and are made anew, and the show is reloaded.
import { readFileSync } from 'node:fs';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { loadScene } from '../dist/commands/files/load-scene.js';
import { lossTimes, shortenFades } from '../dist/daemon/beats/loss-time.js';
import { EngineLoss } from '../dist/daemon/engine/engine-loss.js';
import { followCue } from '../dist/daemon/levels/cue-levels.js';
import { Leaving } from '../dist/daemon/levels/leaving.js';
import { goOnWith, prepareLevels } from '../dist/daemon/levels/next-levels.js';
import { countLoss, createShowLevels, takeSection } from '../dist/daemon/levels/show-levels.js';
import { OperatorKeeping } from '../dist/daemon/memory/keeping.js';
import { StatusBook } from '../dist/daemon/status/book.js';
import { statusInWords } from '../dist/daemon/status/words.js';
import { createEngine } from '../dist/engine/engine.js';
import { step } from '../dist/engine/step.js';
import { takeOver } from '../dist/engine/take-over/take-over.js';
import { viewOf } from '../dist/engine/view.js';
import { EnginePicture } from '../dist/live/engine-part.js';
import { datagramsOf } from '../dist/rehearsal/reports.js';
import { ordersOfRound } from '../dist/rehearsal/scenes/scene-orders.js';
import { truthAt } from '../dist/rehearsal/sensors/truth.js';
import { stepFallback, timeToSafeS } from '../dist/safety/fallback.js';
import { beginLimiterBeat, stepOutputLimiter } from '../dist/safety/output-limiter.js';
import { parseShow } from '../dist/show/parse.js';
import { median, random } from './measures.mjs';

const SHOW = 'config/salt-lantern.show.yaml';
const SCENES = ['lantern', 'three-cues'].map(name => `config/scenes/${name}.scene.yaml`);
const HZ = 40;
/** The machine has been on for a month: what a float holds of such a time is what it holds in a theatre. */
const START_S = 30 * 86_400;
const UNIX_OFFSET_S = 1.76e9;
const SAMPLE_S = 600;
/** Until the next engine's first frame, as measured of the real one (docs/reference/performance.md). */
const NO_ENGINE_S = 0.6;
const RELOAD_EVERY = 4;
const ENGINE_PID = 4211;

/**
 * @param hours of show time
 * @param onSample { hour, heapMiB, state, tickUs, delayMs, off95M, losses, evenings, engines, reloads, ways, promisedS }, each ten
 *   minutes of it; from `evenings` on since the start. `ways`: see `Day`
 */
export async function simulateDay({ hours, seed, onSample }) {
  setFlagsFromString('--expose-gc');
  const collect = runInNewContext('gc');
  const text = readFileSync(SHOW, 'utf8');
  // Another show, and the same again.
  const shows = [text, text.replace('set: { Dimmer: 85 }', 'set: { Dimmer: 80 }')].map(each => {
    const parsed = parseShow(each, SHOW);
    if (!parsed.ok) throw new Error(parsed.problems.map(({ message }) => message).join('\n'));
    return parsed.show;
  });
  const scenes = SCENES.map(file => {
    const loaded = loadScene(file, shows[0]);
    if (!loaded.ok) throw new Error(loaded.problems.map(({ message }) => message).join('\n'));
    return loaded.scene;
  });
  const draw = random(seed);
  const day = new Day(shows[0]);
  const period = { ticksUs: [], delaysMs: [], offsM: [], losses: 0 };
  const counts = { evenings: 0, engines: 0, reloads: 0 };
  let [nextSampleS, nowS] = [START_S + SAMPLE_S, START_S];
  for (let round = 0; nowS < START_S + hours * 3600; round++) {
    const scene = { ...scenes[round % scenes.length], seed: seed * 100_000 + round };
    const dies = draw() * scene.lengthS;
    const beganS = nowS;
    const coming = datagramsOf(scene, day.show, UNIX_OFFSET_S + beganS);
    const offStage = day.view.performers.flatMap(one => (one.offStage ? [one.name] : []));
    const orders = [...ordersOfRound(day.show, scene.orders ?? [], round, offStage)];
    let [next, dead] = [0, false];
    for (let tick = 0; tick < scene.lengthS * HZ; tick++) {
      nowS = beganS + tick / HZ;
      const sceneS = nowS - beganS;
      const datagrams = [];
      for (; next < coming.length && coming[next].arrivalS <= sceneS; next++) {
        datagrams.push({ ...coming[next], arrivalS: coming[next].arrivalS + beganS });
      }
      const operator = [];
      while (orders.length > 0 && orders[0].atS <= sceneS) operator.push(orders.shift().action);
      if (!dead && sceneS >= dies) {
        dead = true;
        counts.engines += 1;
        day.killEngine(nowS);
      }
      const startedMs = performance.now();
      period.losses += day.tick(datagrams, operator, nowS);
      period.ticksUs.push((performance.now() - startedMs) * 1e3);
      if (tick % HZ === 0) look(day, scene, sceneS, period);
    }
    counts.evenings += 1;
    if (round % RELOAD_EVERY === RELOAD_EVERY - 1) {
      if (await day.reload(shows[(counts.reloads + 1) % 2])) counts.reloads += 1;
    }
    if (nowS < nextSampleS) continue;
    nextSampleS += SAMPLE_S;
    collect();
    const sorted = period.offsM.sort((a, b) => a - b);
    const memory = process.memoryUsage();
    onSample({
      hour: (nowS - START_S) / 3600,
      heapMiB: (memory.heapUsed + memory.arrayBuffers) / 2 ** 20,
      state: day.stateSize(),
      tickUs: median(period.ticksUs),
      delayMs: median(period.delaysMs),
      off95M: sorted[Math.floor(0.95 * sorted.length)],
      losses: period.losses,
      ...counts,
      ways: { ...day.ways },
      promisedS: Math.max(...day.levels.plans.map(timeToSafeS)),
    });
    Object.assign(period, { ticksUs: [], delaysMs: [], offsM: [], losses: 0 });
  }
  return day.status(nowS);
}

/** How old is what the light of each is aimed by, and how far from where they are? */
function look({ view }, scene, sceneS, { delaysMs, offsM }) {
  const truth = { x: 0, y: 0, z: 0 };
  for (const part of scene.parts) {
    const { phase, estimate, horizon } = view.performers[part.performer];
    if (phase !== 'live') continue;
    delaysMs.push(horizon.totalS * 1e3);
    truthAt(part.truth, sceneS + horizon.outputS, 0, truth);
    offsM.push(Math.hypot(estimate.x - truth.x, estimate.y - truth.y));
  }
}

/** One machine: what `engine-process.ts` and `beats.ts` do, less processes, sockets and timers. */
class Day {
  /**
   * Ways to the safe look, and the slowest of them; and of those in which a cue came, from the last one on. What stands at its safe values
   * already goes on from there to those of that cue, in a fade of its own (docs/concepts/safety.md).
   */
  ways = { alone: 0, aloneS: 0, withCue: 0, fromCueS: 0 };
  #wayFromS;
  #hasCue = false;
  #loss = new EngineLoss();
  #leaving = new Leaving();
  #deadSinceS;
  #lastS;
  #ticks = 0;

  constructor(show) {
    this.show = show;
    this.levels = createShowLevels(show);
    this.keeping = new OperatorKeeping(show, undefined, () => undefined);
    this.book = new StatusBook(show, START_S);
    this.#startEngine(show, START_S);
  }

  #startEngine(show, nowS) {
    this.#run(createEngine(show));
    this.#loss.forget();
    this.book.hear({ kind: 'engine-started', pid: ENGINE_PID }, nowS);
  }

  #run(engine) {
    this.engine = engine;
    this.view = viewOf(engine);
    this.picture = new EnginePicture(this.view);
  }

  killEngine(nowS) {
    this.#deadSinceS = nowS;
    this.engine = undefined;
    const kind = 'engine-ended';
    this.book.hear({ kind, how: 'crashed', reason: 'it was killed', again: NO_ENGINE_S }, nowS);
  }

  /** @returns how many performers were lost in it */
  tick(datagrams, operator, nowS) {
    let losses = 0;
    let orders = operator;
    if (this.engine === undefined && nowS - this.#deadSinceS >= NO_ENGINE_S) {
      this.#startEngine(this.show, nowS);
      orders = [...this.keeping.restored(), ...operator];
    }
    if (this.engine !== undefined) {
      const inputs = { datagrams, unixOffsetS: UNIX_OFFSET_S, operator: orders };
      const { events } = step(this.engine, inputs, nowS);
      for (const event of events) {
        this.keeping.hear(event);
        this.#loss.hear(event, this.show, nowS);
        this.book.hear({ kind: 'engine', event }, nowS);
        if (event.kind === 'performer' && event.to === 'losing') losses += 1;
      }
      this.keeping.noteCue(this.view.cue?.index);
      if (this.#ticks % 10 === 0) this.picture.take();
      if (this.#ticks % HZ === 0) this.book.count({ ...this.view.counters }, nowS);
    } else {
      // What a person wants meanwhile is kept for the next one.
      for (const { kind, to } of operator)
        if (kind === 'cue') this.keeping.cueNext(to, 'the scene');
    }
    this.#beat(nowS);
    this.#ticks += 1;
    return losses;
  }

  #beat(nowS) {
    const dtS = nowS - (this.#lastS ?? nowS - 1 / HZ);
    this.#lastS = nowS;
    const well = this.engine !== undefined;
    const levels = followCue(this.levels, this.keeping.cue, well);
    if (levels !== this.levels) [this.#wayFromS, this.#hasCue] = [nowS, true];
    this.levels = levels;
    this.#leaving.follow(levels, nowS);
    const { fallback, limiter, plan, out, sections } = levels;
    const frame = well ? this.view.levels : fallback.live;
    const before = fallback.phase;
    if (well && before === 'live') {
      beginLimiterBeat(limiter, nowS);
      for (const section of sections) takeSection(levels, section, frame, dtS, undefined);
    } else {
      stepFallback(fallback, plan, frame, well, dtS, out);
      const { phase } = fallback;
      if (before !== phase) {
        const cause = 'the engine has ended: it was killed';
        this.book.hear({ kind: 'lights', from: before, to: phase, cause }, nowS);
      }
      if (before === 'live' && phase === 'losing') {
        shortenFades(levels, lossTimes([levels, ...this.#leaving.at(nowS)], this.#loss, nowS));
      }
      if (before !== 'losing' && phase === 'losing') [this.#wayFromS, this.#hasCue] = [nowS, false];
      stepOutputLimiter(limiter, out, dtS, nowS);
      if (before === 'losing' && phase !== 'losing') this.#arrive(nowS - this.#wayFromS);
    }
    countLoss(levels, dtS);
  }

  #arrive(tookS) {
    const { ways } = this;
    if (this.#hasCue) {
      ways.withCue += 1;
      ways.fromCueS = Math.max(ways.fromCueS, tookS);
    } else {
      ways.alone += 1;
      ways.aloneS = Math.max(ways.aloneS, tookS);
    }
  }

  /** As a reload that goes on. @returns whether there was one: it needs an engine that is well */
  async reload(show) {
    if (this.engine === undefined || this.levels.fallback.phase !== 'live') return false;
    const next = createEngine(show);
    takeOver(next, this.engine);
    const levels = await prepareLevels(show, this.keeping.cue, async () => undefined);
    this.levels = goOnWith(levels, this.levels);
    this.keeping.swap(show);
    this.#loss.keep(show);
    this.book.goOn(show);
    this.show = show;
    this.#run(next);
    return true;
  }

  status(nowS) {
    return statusInWords(this.book.status(nowS));
  }

  /** Objects, and values of lists, maps, sets and arrays of numbers, in all that engine and supervisor hold. */
  stateSize() {
    const seen = new Set([this.show]);
    const queue = [this.engine, this.levels];
    let size = 0;
    for (let one = queue.pop(); one !== undefined || queue.length > 0; one = queue.pop()) {
      if (one === null || typeof one !== 'object' || seen.has(one)) continue;
      seen.add(one);
      size += 1;
      if (ArrayBuffer.isView(one)) size += one.length ?? one.byteLength;
      else if (one instanceof Map || one instanceof Set) {
        size += one.size;
        queue.push(...[...one].flat());
      } else {
        const values = Object.values(one);
        if (Array.isArray(one)) size += values.length;
        queue.push(...values);
      }
    }
    return size;
  }
}
