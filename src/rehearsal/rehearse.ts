import { createEngine } from '../engine/engine.js';
import type { EngineEvent } from '../engine/events/events.js';
import { step } from '../engine/step.js';
import type { Datagram, DeskLevels } from '../engine/values/inputs.js';
import type { OperatorAction } from '../engine/values/operator-action.js';
import { type EngineView, viewOf } from '../engine/view.js';
import type { Show } from '../show/model/model.js';
import { datagramsOf } from './reports.js';
import { SceneDesk } from './scenes/scene-desk.js';
import type { RehearsalScene } from './scenes/scene-file.js';
import { ordersOfRound, type SceneOrder } from './scenes/scene-orders.js';

export interface RehearsedTick {
  readonly view: EngineView;
  readonly tick: number;
  readonly nowS: number;
  /** Seconds from the start of the scene, in this round. */
  readonly sceneS: number;
  readonly datagrams: readonly Datagram[];
  readonly levels: Uint8Array;
  readonly events: readonly EngineEvent[];
}

export interface RehearsalClock {
  /** Time of the first tick, monotonic seconds. */
  readonly startS: number;
  readonly unixOffsetS: number;
  readonly tickHz: number;
  /** How many times the scene is played, one after the other. */
  readonly rounds: number;
}

export interface RehearsalHooks {
  began?(view: EngineView): void;
  /** Called with the inputs of a tick before the engine gets them. */
  intake?(
    tick: number,
    nowS: number,
    datagrams: readonly Datagram[],
    operator: readonly OperatorAction[],
    desk: readonly DeskLevels[],
  ): void;
  ticked(tick: RehearsedTick): void;
}

/**
 * Plays a scene to a show: the datagrams that would arrive go through the real step, as fast as the machine
 * can. Each round is the same scene on another evening: its noise differs.
 */
export function rehearse(
  show: Show,
  scene: RehearsalScene,
  { startS, unixOffsetS, tickHz, rounds }: RehearsalClock,
  hooks: RehearsalHooks,
): void {
  const engine = createEngine(show);
  const view = viewOf(engine);
  hooks.began?.(view);
  let tick = 0;
  for (let round = 0; round < rounds; round++) {
    const beganS = startS + round * scene.lengthS;
    const evening = { ...scene, seed: scene.seed + round };
    const coming = datagramsOf(evening, show, unixOffsetS + beganS).map(datagram => ({
      ...datagram,
      arrivalS: datagram.arrivalS + beganS,
    }));
    let next = 0;
    const offStage = view.performers.flatMap(one => (one.offStage ? [one.name] : []));
    const orders = ordersOfRound(show, scene.orders ?? [], round, offStage);
    let given = 0;
    const sceneDesk = new SceneDesk(scene.desk ?? []);
    for (; tick < Math.round((round + 1) * scene.lengthS * tickHz); tick++) {
      const nowS = startS + tick / tickHz;
      const from = next;
      while (next < coming.length && (coming[next] as Datagram).arrivalS <= nowS) next += 1;
      const datagrams = coming.slice(from, next);
      const operator: OperatorAction[] = [];
      while (given < orders.length && (orders[given] as SceneOrder).atS <= nowS - beganS) {
        operator.push((orders[given] as SceneOrder).action);
        given += 1;
      }
      const desk = sceneDesk.until(nowS - beganS);
      hooks.intake?.(tick, nowS, datagrams, operator, desk);
      const { levels, events } = step(engine, { datagrams, unixOffsetS, operator, desk }, nowS);
      hooks.ticked({ view, tick, nowS, sceneS: nowS - beganS, datagrams, levels, events });
    }
  }
}
