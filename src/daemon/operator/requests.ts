import type { OperatorAction } from '../../engine/operator.js';
import { unreachable } from '../../stage/unreachable.js';
import type { Entry } from '../describe.js';
import type { Supervisor, SupervisorEvent } from '../supervisor.js';
import { type Answer, ControlServer, type Request } from './control.js';

/** The engine answers within a tick; a reload takes as long as the show takes to read. */
const ANSWERS_WITHIN_MS = 4000;

/** Carries requests to the supervisor, and what becomes of them back. */
export class Control {
  readonly #server: ControlServer;
  #supervisor: Supervisor | undefined;
  #reload: (() => Promise<void>) | undefined;
  readonly #waiting: Waiting[] = [];

  constructor(folder: string) {
    this.#server = new ControlServer(folder, request => this.#handle(request));
  }

  /** @returns why it can't listen, or undefined */
  open(supervisor: Supervisor, reload: () => Promise<void>): Promise<string | undefined> {
    this.#supervisor = supervisor;
    this.#reload = reload;
    return this.#server.open();
  }

  close(): void {
    this.#server.close();
  }

  /** What the daemon tells of itself; some of it answers a request. */
  hear(event: SupervisorEvent, { text }: Entry): void {
    for (const waiting of this.#waiting) {
      const ok = waiting.verdict(event);
      if (ok === undefined) continue;
      waiting.done({ ok, text });
      return;
    }
  }

  async #handle(request: Request): Promise<Answer> {
    const supervisor = this.#supervisor;
    if (supervisor === undefined) return { ok: false, text: 'it is starting.' };
    switch (request.kind) {
      case 'status':
        return { ok: true, text: supervisor.status };
      case 'reload': {
        const answer = this.#wait(verdictOfReload);
        void this.#reload?.();
        return answer;
      }
      case 'operate':
        if (!supervisor.operate([request.action])) {
          return { ok: false, text: 'the engine is starting: try again in a second.' };
        }
        return this.#wait(event => verdictOf(request.action, event));
      default:
        return request satisfies never;
    }
  }

  #wait(verdict: Waiting['verdict']): Promise<Answer> {
    return new Promise(resolve => {
      const finish = (answer: Answer) => {
        clearTimeout(timer);
        this.#waiting.splice(this.#waiting.indexOf(waiting), 1);
        resolve(answer);
      };
      const waiting: Waiting = { verdict, done: finish };
      const timer = setTimeout(
        () => finish({ ok: false, text: 'nothing came of it within 4 s.' }),
        ANSWERS_WITHIN_MS,
      );
      this.#waiting.push(waiting);
    });
  }
}

interface Waiting {
  /** Whether the event says that it was done, or refused; undefined where it is about something else. */
  verdict(event: SupervisorEvent): boolean | undefined;
  done(answer: Answer): void;
}

function verdictOfReload({ kind }: SupervisorEvent): boolean | undefined {
  if (kind === 'reloaded') return true;
  return kind === 'reload-refused' ? false : undefined;
}

function verdictOf(action: OperatorAction, event: SupervisorEvent): boolean | undefined {
  if (event.kind !== 'engine') return undefined;
  const news = event.event;
  if (news.kind === 'operator-refused') return isSame(news.action, action) ? false : undefined;
  switch (action.kind) {
    case 'assign':
    case 'unassign':
      // A tracker that was worn is taken off before it is put on.
      return news.kind === 'tracker' &&
        news.tracker === action.tracker &&
        news.change === `${action.kind}ed`
        ? true
        : undefined;
    case 'stop':
      return news.kind === 'stopped' ? true : undefined;
    case 'resume':
      return news.kind === 'resumed' ? true : undefined;
    default:
      return unreachable(action);
  }
}

/** The one that came back over the pipe, where what is undefined is left out. */
function isSame(a: OperatorAction, b: OperatorAction): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}
