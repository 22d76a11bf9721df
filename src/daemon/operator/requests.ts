import { movedOn } from '../../engine/events/event-words.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import { otherHasLight } from '../../live/pair-words.js';
import type { EnabledClass } from '../../protocols/osc/orders.js';
import { hasHazard } from '../../show/model/hazards.js';
import { type Labels, labelsOf, NAMES_AS_LABELS } from '../../show/model/labels.js';
import type { Show } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';
import { type Answer, answerInWords, whom } from '../asking/answers.js';
import { doneWithinS, type Request } from '../asking/request-words.js';
import type { Reloaded } from '../beats/supervisor-options.js';
import type { LiveFeed } from '../live/feed.js';
import { monotonicS } from '../machine/clock.js';
import { statusInWords } from '../status/words.js';
import type { Supervisor, SupervisorEvent } from '../supervisor.js';
import { ControlServer } from './control.js';
import { leftElsewhere } from './elsewhere-words.js';
import { nameHint, whatIsMissing, withNames } from './names.js';

/** The engine answers within a tick; one that is starting, when it has started. */
const ANSWERS_WITHIN_MS = 4000;

export type Reload = (by: string | undefined) => Promise<Reloaded>;

/** Carries requests to the supervisor, and the answer to each of them back. */
export class Control {
  readonly #server: ControlServer;
  #supervisor: Supervisor | undefined;
  #reload: Reload | undefined;
  /** By the id of the action. */
  readonly #waiting = new Map<number, (answer: Answer) => void>();
  #lastId = 0;
  /** Name of what was highlighted last, where its engine ended in the middle of it. */
  #highlightLost: string | undefined;
  /** For the reload that is under way: the new show lacks the cue that was on. */
  #cueGone: Extract<SupervisorEvent, { kind: 'cue-gone' }> | undefined;

  /** @param onFault see `ControlServer` */
  constructor(folder: string, onFault: (fault: string | undefined) => void) {
    this.#server = new ControlServer(folder, (...asked) => this.#handle(...asked), onFault);
  }

  /** Is heard from now on, or as soon as it can be. */
  open(supervisor: Supervisor, reload: Reload, feed?: LiveFeed): Promise<void> {
    this.#server.feed = feed;
    this.#supervisor = supervisor;
    this.#reload = reload;
    return this.#server.open();
  }

  /** See `ControlServer`. */
  takeDrops(): string | undefined {
    return this.#server.takeDrops();
  }

  /** See `ControlServer`. */
  makeRoom(process: 'engine' | 'reader'): void {
    this.#server.makeRoom(process);
  }

  close(): void {
    this.#server.close();
  }

  /** What the daemon tells of itself; some of it answers a request. */
  hear(event: SupervisorEvent): void {
    if (event.kind === 'cue-gone') this.#cueGone = event;
    if (event.kind !== 'engine') return;
    const news = event.event;
    if (news.kind === 'highlight') {
      this.#highlightLost = news.reason === 'engine-ended' ? news.fixture : undefined;
    }
    if (news.kind !== 'operator-done' && news.kind !== 'operator-refused') return;
    const give = this.#waiting.get(news.action.id ?? 0);
    if (news.kind === 'operator-refused') {
      give?.({ outcome: 'refused', ok: false, text: `Refused: ${news.reason}.` });
      return;
    }
    const labels = this.#labels;
    const { takenFrom, distanceM, unheard } = news;
    const here = this.#leavesElsewhere(news.action) ? ' here' : '';
    if (news.areAllOff === true) {
      give?.({ outcome: 'refused', ok: false, text: answerInWords(news, labels) });
      return;
    }
    give?.({
      outcome: news.changed ? 'done' : 'already so',
      ok: true,
      text: this.#endedInWords(news) ?? answerInWords(news, labels, here),
      stops: {
        everybody: news.stopOfEverybody,
        performers: news.stillStopped,
        performerLabels: news.stillStopped.map(labels.performer),
      },
      ...(takenFrom === undefined
        ? {}
        : { takenFrom, takenFromLabel: labels.performer(takenFrom) }),
      ...(distanceM === undefined ? {} : { distanceM }),
      ...(unheard === undefined ? {} : { unheard }),
    });
  }

  /** Of a highlight that is to go off and has gone already, with its engine. */
  #endedInWords({ action, changed }: Parameters<typeof answerInWords>[0]): string | undefined {
    const lost = this.#highlightLost;
    const isOff = action.kind === 'highlight' && action.fixture === undefined && !changed;
    if (lost === undefined || !isOff) return undefined;
    this.#highlightLost = undefined;
    return `No fixture is highlighted: ${this.#labels.fixture(lost)} was, until the engine ended.`;
  }

  #leavesElsewhere(action: OperatorAction): boolean {
    const show = this.#supervisor?.show;
    return show !== undefined && leftElsewhere(show, action) !== undefined;
  }

  get #labels(): Labels {
    return this.#supervisor === undefined ? NAMES_AS_LABELS : labelsOf(this.#supervisor.show);
  }

  async #handle(request: Request, untilS: number | undefined): Promise<Answer> {
    const supervisor = this.#supervisor;
    if (supervisor === undefined)
      return {
        outcome: 'failed',
        ok: false,
        text: 'The daemon is still starting: try again in a second.',
      };
    switch (request.kind) {
      case 'status': {
        const { status } = supervisor;
        return { outcome: 'done', ok: true, text: statusInWords(status).join('\n'), status };
      }
      case 'reload':
        return this.#load(request.by);
      case 'rehearsal': {
        const { what, holdsS } = request;
        const changed = supervisor.rehearse(what, holdsS);
        const text = what === undefined ? 'The rehearsal is over.' : `Rehearsal: ${what}.`;
        return { outcome: changed ? 'done' : 'already so', ok: true, text };
      }
      case 'operate':
        return this.#operate(supervisor, request.action, untilS);
      case 'watch': {
        const text = 'Refused: no more can watch at the same time.';
        return { outcome: 'refused', ok: false, text };
      }
      case 'incomplete':
        return {
          outcome: 'incomplete',
          ok: false,
          text: whatIsMissing(request, supervisor.show),
        };
      default:
        return request satisfies never;
    }
  }

  async #load(by: string | undefined): Promise<Answer> {
    this.#cueGone = undefined;
    const answer = await this.#loadShow(by);
    const gone = this.#cueGone as
      | { readonly cue: string; readonly on?: string | undefined }
      | undefined;
    if (gone === undefined || !answer.ok) return answer;
    const now = gone.on === undefined ? 'it has no cues' : `cue ${gone.on} is on`;
    return {
      ...answer,
      text: `${answer.text} Cue ${gone.cue}, which was on, is not in it: ${now}.`,
    };
  }

  async #loadShow(by: string | undefined): Promise<Answer> {
    const problems = (await this.#reload?.(by)) ?? [];
    if (problems === 'already so') {
      const text = 'The show already runs as its file says: nothing to load.';
      return { outcome: 'already so', ok: true, text };
    }
    if (problems === 'went on') {
      const { reloadS } = this.#supervisor?.show ?? { reloadS: 0 };
      const text = `The show is reloaded: the light goes from where it is to the new show, over ${reloadS} s.`;
      return { outcome: 'done', ok: true, text };
    }
    if ('because' in problems) {
      const text = `The show is reloaded: all light goes to the safe look first, because ${problems.because}; then the new show takes over.`;
      return { outcome: 'done', ok: true, text };
    }
    if ('engineFault' in problems) {
      const text = `Nothing to load: the show is loaded as its file says, but its engine can't run. Trying again.\n${problems.engineFault}`;
      return { outcome: 'refused', ok: false, text, problems: [problems.engineFault] };
    }
    if (problems.length === 0) {
      const text =
        'The show is reloaded: all light goes to its safe look first, then it takes over.';
      return { outcome: 'done', ok: true, text };
    }
    const text = `Not loaded. The running show carries on.\n${problems.join('\n')}`;
    return { outcome: 'refused', ok: false, text, problems };
  }

  async #operate(
    supervisor: Supervisor,
    asked: OperatorAction,
    askedUntilS: number | undefined,
  ): Promise<Answer> {
    this.#lastId += 1;
    const { show } = supervisor;
    const untilS = untilWhenS(asked, askedUntilS);
    const action = {
      ...withNames(asked, show),
      id: this.#lastId,
      ...(untilS === undefined ? {} : { untilS }),
    };
    const refusal = action.kind === 'hold' ? cannotHold(action.hazard, show) : undefined;
    if (refusal !== undefined)
      return { outcome: 'refused', ok: false, text: `Refused: ${refusal}.` };
    // Before anything: a stop holds even if the engine that is told of it never acts.
    const stops =
      action.kind === 'stop' && supervisor.keeping.stopNext(action.performer, true, action.by);
    const heard = supervisor.operate([action]);
    let answer = heard
      ? await this.#answerOf(action.id)
      : withoutEngine(supervisor, action, this.#labels);
    if (stops && answer.outcome === 'failed') {
      const text = `${whom(action.performer, this.#labels)} stopped. The engine does not answer: the stop holds when it is restarted.`;
      answer = { outcome: 'done', ok: true, text };
    }
    if (answer.outcome === 'refused') {
      return { ...answer, text: `${answer.text}${nameHint(action, show)}` };
    }
    if (!answer.ok || action.kind === 'hold') return answer;
    // It was carried out, but not everywhere, or changes no light that anybody sees.
    const left = leftElsewhere(show, action);
    if (left !== undefined) {
      answer = { ...answer, text: `${answer.text} ${left.text}`, elsewhere: left.outputs };
    }
    const also = tellAlso(supervisor, action.kind);
    if (also !== undefined) answer = { ...answer, text: `${answer.text} ${also}` };
    const unkept = await supervisor.keeping.unkept();
    if (unkept === undefined) return answer;
    const text = `${answer.text} It holds now, but could not be saved: a restart of the daemon would lose it (${unkept}).`;
    return { ...answer, outcome: 'not kept', ok: false, text };
  }

  #answerOf(id: number): Promise<Answer> {
    return new Promise(resolve => {
      const give = (answer: Answer) => {
        clearTimeout(timer);
        this.#waiting.delete(id);
        resolve(answer);
      };
      const text = `No answer after ${ANSWERS_WITHIN_MS / 1e3} s: the engine is busy or starting. The order has expired and will not be carried out later. Look at the status, and ask again.`;
      const timer = setTimeout(
        () => give({ outcome: 'failed', ok: false, text }),
        ANSWERS_WITHIN_MS,
      );
      this.#waiting.set(id, give);
    });
  }
}

const OTHER_LEADS = 'The other machine has the light just now: tell that one too.';
const OTHER_COMES_BACK =
  'The main machine is back, does not know of this, and has the light in a moment: tell that one too.';
const OTHER_IS_TOLD =
  'The main machine is back, and has the light in a moment: it is told of this, but check there that it holds.';
const STANDBY_UNHEARD = 'The standby is not heard: if it still runs, stop there too.';
/** See `OrderRepeater`. */
const TOLD_TO_MAIN: readonly OperatorAction['kind'][] = ['stop', 'resume', 'off', 'on'];

/** Where what is carried out here changes no light that anybody sees. A main machine that has just begun leads in a moment. */
function tellAlso(
  { show, leads, status }: Supervisor,
  kind: OperatorAction['kind'],
): string | undefined {
  const { pair } = status;
  if (pair === undefined || pair.parts.length === 0) return undefined;
  const { machine, parts } = pair;
  if (leads) {
    const isUnheard = machine === 'main' && parts.some(({ other }) => other === 'silent');
    return isUnheard && kind === 'stop' ? STANDBY_UNHEARD : undefined;
  }
  const elsewhere = parts.filter(({ part }) => part !== 'leads');
  const isPartly = elsewhere.length < parts.length;
  if (machine === 'main' && (isPartly || !otherHasLight(pair))) {
    const mayTell = (show.operator?.standby.length ?? 0) > 0;
    const isTold = mayTell && (isPartly || kind === 'stop' || kind === 'resume');
    const rest = isTold ? 'it is told of this, but check there that it holds' : 'tell that one too';
    const where = isPartly ? ` on ${enumerated(elsewhere.map(one => one.interface))}` : '';
    return `The standby may have the light${where} just now: ${rest}.`;
  }
  if (otherHasLight(pair)) return OTHER_LEADS;
  if (!pair.parts.some(({ other }) => other === 'comes back')) return undefined;
  const isTold = (show.operator?.main.length ?? 0) > 0 && TOLD_TO_MAIN.includes(kind);
  return isTold ? OTHER_IS_TOLD : OTHER_COMES_BACK;
}

/** When it is too late for the engine to do it, monotonic seconds; undefined: never. */
function untilWhenS(action: OperatorAction, askedUntilS: number | undefined): number | undefined {
  const isRelease = action.kind === 'hold' && !action.held;
  const withinS = doneWithinS(isRelease ? 'release' : action.kind);
  if (withinS === undefined) return undefined;
  return Math.min(askedUntilS ?? Number.POSITIVE_INFINITY, monotonicS() + withinS);
}

/** An enable that could never be held in time, or that enables nothing. */
function cannotHold(hazard: EnabledClass, show: Show): string | undefined {
  if (show.operator === undefined) return 'the show has no `operator`, so nothing can be enabled';
  const isThere = show.fixtures.some(fixture => hasHazard(fixture, hazard));
  return isThere ? undefined : `the show has nothing of the class ${hazard}`;
}

/** All light is at the safe look then; what has to hold when it comes back must not be lost. */
function withoutEngine(supervisor: Supervisor, action: OperatorAction, labels: Labels): Answer {
  if (action.kind === 'cue') {
    const { from } = action;
    const on = supervisor.show.cues[supervisor.keeping.cue]?.name;
    if (from !== undefined && on !== undefined && on !== from) {
      return { outcome: 'refused', ok: false, text: `Refused: ${movedOn(from, on)}.` };
    }
    const next = supervisor.keeping.cueNext(action.to, action.by);
    if (next === undefined) {
      const which = typeof action.to === 'string' ? 'cues' : `cue "${action.to.name}"`;
      return { outcome: 'refused', ok: false, text: `Refused: the show has no ${which}.` };
    }
    const cue = labels.cue(next.cue);
    const text = next.changed
      ? `Cue ${cue} is next. No engine is running: the light is at its safe look until one is started.`
      : `Cue ${cue} is on already.`;
    return { outcome: next.changed ? 'done' : 'already so', ok: true, text };
  }
  if (action.kind !== 'stop' && action.kind !== 'resume') {
    const text = 'No engine is running: try again in a second.';
    return { outcome: 'failed', ok: false, text };
  }
  const { kind, performer, by } = action;
  if (!supervisor.keeping.stopNext(performer, kind === 'stop', by)) {
    const text = `Refused: the show has no performer "${performer}".`;
    return { outcome: 'refused', ok: false, text };
  }
  const done = kind === 'stop' ? 'stopped' : 'resumed';
  const text = `${whom(performer, labels)} ${done}. No engine is running: it holds when one is started.`;
  return { outcome: 'done', ok: true, text };
}
