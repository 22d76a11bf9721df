import type { Show } from '../../show/model/model.js';
import type { Problem } from '../../show/problems/problem.js';
import type { EngineRunner } from '../engine/engine-runner.js';
import type { FadeOut } from '../levels/fade-out.js';
import { asPassing } from './passing.js';
import { proofOf } from './reload-proof.js';
import { dropsUniverses, type ShowLighting } from './show-lighting.js';

export interface ChangeOver {
  readonly from: Show;
  readonly to: Show;
  /** See `ReadShow`. */
  readonly missing: readonly Problem[] | undefined;
  /** Back to the previous show: its engine may come later, because the present one can't run. */
  readonly goesBack: boolean;
  /** Of the engine of the other show. */
  readonly runner: EngineRunner;
  readonly lights: ShowLighting;
  readonly fadeOut: FadeOut;
  /** Time by which all light is at the safe look, seconds. */
  readonly safeWithinS: number;
  isEnding(): boolean;
}

/**
 * Everything that can go wrong with a new show happens before its levels count: the running engine and its light go
 * on until the new engine is ready except for its ports, and its lighting sockets are open.
 * @returns why not; empty if it can take over
 */
export async function makeWay(over: ChangeOver): Promise<readonly string[]> {
  const { from, to, goesBack, runner, lights, fadeOut } = over;
  const against = goesBack ? [] : await proofOf(to, from, over.missing);
  if (against.length > 0) return against;
  const fault = await runner.prepare();
  if (fault !== undefined && !goesBack) {
    await runner.end();
    const problems = [`its engine can't be started: ${fault}.`];
    return runner.refusesShow ? problems : asPassing(problems);
  }
  if (dropsUniverses(from, to)) await fadeOut.begin(over.safeWithinS);
  const problems = over.isEnding()
    ? asPassing(['the daemon is ending.'])
    : await lights.swap(from, to);
  fadeOut.end();
  if (problems.length > 0) await runner.end();
  return problems;
}
