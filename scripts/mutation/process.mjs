import { fork } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { cpuS } from '../../bench/processes.mjs';

const WORKER = fileURLToPath(new URL('worker.mjs', import.meta.url));
/** Modules that are loaded anew are never given back. */
const MUTANTS_A_PROCESS = 1000;
/** So many times more often than without it a change is met at most: it is taken to be in a loop that has no end. */
const TIMES_HIT = 100;
/**
 * So much longer than the tests need, one is taken to run for ever. By the processor's time: on a busy machine nothing
 * else tells one that is slow from one that has no end.
 */
const GRACE_S = 3;
const TIMES = 10;
const LOOK_MS = 500;

/** A process for the tests, and another one where the first does not answer. */
export class Worker {
  #child;
  #tried = 0;

  /**
   * The time begins anew with each test that is said to begin.
   * @returns the answer, or undefined where there is none in time
   */
  ask(message, withinS) {
    this.#child ??= fork(WORKER, { stdio: 'ignore' });
    const child = this.#child;
    return new Promise((resolve, reject) => {
      const done = answer => {
        clearInterval(timer);
        child.removeAllListeners();
        if (answer === undefined) this.end();
        if (answer?.error !== undefined) reject(new Error(answer.error));
        else resolve(answer);
      };
      let [beganS, leftS] = [cpuS([child.pid]), withinS];
      const timer = setInterval(() => {
        if (cpuS([child.pid]) - beganS > leftS) done();
      }, LOOK_MS);
      child.on('message', answer => {
        if (answer.expectedMs === undefined) return done(answer);
        beganS = cpuS([child.pid]);
        leftS = GRACE_S + (TIMES * answer.expectedMs) / 1000;
      });
      child.once('exit', () => done());
      child.send(message);
    });
  }

  /** @returns the test that notices the mutant, that none does, or that they came to no end in time */
  async notices(id, tests, hits) {
    this.#tried += 1;
    if (this.#tried % MUTANTS_A_PROCESS === 0) this.end();
    const answer = await this.ask({ id, tests, hitLimit: hits * TIMES_HIT }, GRACE_S);
    return answer === undefined ? { isEndless: true } : answer.caught;
  }

  end() {
    this.#child?.kill('SIGKILL');
    this.#child = undefined;
  }
}
