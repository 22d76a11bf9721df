import { fork } from 'node:child_process';
import { fileURLToPath } from 'node:url';

const WORKER = fileURLToPath(new URL('worker.mjs', import.meta.url));
/** Modules are loaded anew for each mutant, and never given back. */
const MUTANTS_A_PROCESS = 200;
/** What a busy machine may need beyond what the tests need. */
const GRACE_MS = 20_000;

/** A process for the tests, and another one where the first does not answer. */
export class Worker {
  #child;
  #tried = 0;

  /** @returns the answer, or undefined where there is none in time */
  ask(message, withinMs) {
    this.#child ??= fork(WORKER, { stdio: 'ignore' });
    const child = this.#child;
    return new Promise((resolve, reject) => {
      const done = answer => {
        clearTimeout(timer);
        child.removeAllListeners();
        if (answer === undefined) this.end();
        if (answer?.error !== undefined) reject(new Error(answer.error));
        else resolve(answer);
      };
      const timer = setTimeout(done, withinMs);
      child.once('message', done);
      child.once('exit', () => done());
      child.send(message);
    });
  }

  async notices(id, tests, expectedMs) {
    this.#tried += 1;
    if (this.#tried % MUTANTS_A_PROCESS === 0) this.end();
    const answer = await this.ask({ id, tests }, GRACE_MS + 20 * expectedMs);
    // One that makes them run for ever is noticed.
    return answer?.caught ?? true;
  }

  end() {
    this.#child?.kill('SIGKILL');
    this.#child = undefined;
  }
}
