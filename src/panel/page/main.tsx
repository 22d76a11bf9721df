import { render } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { lightInWords } from '../../live/light-words.js';
import { durationText } from '../../live/reading.js';
import { verdictOf } from '../../live/verdict.js';
import { type Answer, isContradicted, type Said, saidOf, sentOf } from './answers.js';
import { AskFirst, closeQuestions } from './ask-first.js';
import { Connection } from './connection.js';
import { Light } from './light.js';
import { LevelMark } from './marks.js';
import { type Act, Door, Operator, STOPPING } from './operator.js';
import { People } from './people.js';
import { Plan } from './plan.js';
import { Signals } from './signals.js';
import { silenceInWords } from './silence.js';
import { Time } from './time.js';

/** A picture older than this is said to be old, seconds. */
const OLD_S = 1.5;
const TICK_MS = 500;
const SAID_FOR_MS = 8000;
/** Nobody may take what was refused for done. */
const REFUSED_FOR_MS = 20_000;
/** What no longer holds once a new picture comes can be read for so long. */
const READ_MS = 3000;

/** A headline of more letters is set smaller on a phone, so that it has its place. */
const LONG_LINE = 44;

const VIEWS = ['Plan', 'People', 'Light', 'Time', 'Operator'] as const;
type View = (typeof VIEWS)[number];

function Panel({ connection }: { connection: Connection }) {
  const [, redraw] = useState(0);
  const [view, setView] = useState<View>('Plan');
  const [withAnchors, setAnchors] = useState(false);
  const [said, setSaid] = useState<Said | undefined>(undefined);
  const presses = useRef(0);
  const timer = useRef(0);
  const verdictBar = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const again = () => redraw(count => count + 1);
    const deaf = connection.listen(again);
    // The age of the picture grows while nothing comes.
    const tick = setInterval(again, TICK_MS);
    return () => {
      deaf();
      clearInterval(tick);
    };
  }, [connection]);
  const hasPicture = !connection.isLocked && connection.snapshot !== undefined;
  useEffect(() => {
    const bar = verdictBar.current;
    if (bar === null) return;
    // The views' tabs stay below it, and it has as many lines as it takes.
    const measure = () =>
      document.documentElement.style.setProperty('--verdict', `${bar.offsetHeight}px`);
    const observer = new ResizeObserver(measure);
    observer.observe(bar);
    return () => observer.disconnect();
  }, [hasPicture]);
  const show = (one: Said) => {
    setSaid(one);
    saidMs.current = performance.now();
    clearTimeout(timer.current);
    if (one.kind === 'sent') return;
    const forMs = one.kind === 'ok' ? SAID_FOR_MS : REFUSED_FOR_MS;
    timer.current = setTimeout(() => setSaid(undefined), forMs) as unknown as number;
  };
  const say = (answer: Answer) => show(saidOf(answer));
  const act: Act = async (...words) => {
    if (words[0] === 'stop') closeQuestions();
    presses.current += 1;
    const mine = presses.current;
    show(sentOf(words));
    const answer = await connection.act(...words);
    // Of an earlier press only what went wrong, and what became of a Stop: the line is the newest one's.
    if (mine === presses.current || !answer.ok || words[0] === 'stop') show(saidOf(answer, words));
  };
  const showDoor = () => {
    setView('Operator');
    // On a wide screen it may be below the edge.
    setTimeout(() => document.querySelector('.door')?.scrollIntoView({ block: 'center' }));
  };
  const refuse = (done: string) => {
    const why = connection.hasToken
      ? 'the token of this device is not the right one'
      : 'this device has no token';
    say({ ok: false, text: `Nothing was ${done}: ${why}.` });
    showDoor();
  };
  const { stage, snapshot, universes, trails, lateStop } = connection;
  const isStopped = snapshot?.status.stops.everybody ?? false;
  useEffect(() => {
    // Only once the headline has changed: an answer may be quicker than it.
    if (said === undefined || snapshot === undefined) return;
    if (isContradicted(said, isStopped, snapshot.sequence)) setSaid(undefined);
  }, [isStopped]);
  const saidMs = useRef(0);
  useEffect(() => {
    if (said?.untilPicture && connection.cameMs > saidMs.current + READ_MS) setSaid(undefined);
  });
  const ageS = (performance.now() - connection.cameMs) / 1e3;
  const isOld = snapshot !== undefined && ageS > OLD_S;
  if (connection.isLocked || stage === undefined || snapshot === undefined) {
    return (
      <main class="waiting">
        <h1>lampwright</h1>
        {connection.isLocked ? (
          <Door connection={connection} />
        ) : (
          <p role="status">
            {connection.silence === 'unknown'
              ? 'Waiting for the daemon.'
              : silenceInWords(connection.silence)}
          </p>
        )}
      </main>
    );
  }
  const verdict = verdictOf(snapshot);
  const { status } = snapshot;
  return (
    <div class={isOld ? 'page old' : 'page'} data-view={view}>
      <header class={isOld ? 'headline act old' : `headline ${verdict.level}`}>
        <p class="show">
          {status.show}
          {status.cue !== undefined && <span> · cue {status.cue.label}</span>}
          {status.rehearsal !== undefined && <strong> · rehearsal: {status.rehearsal.what}</strong>}
        </p>
        <div role="status" class="verdict" ref={verdictBar}>
          <h1 class={!isOld && verdict.line.length > LONG_LINE ? 'long' : undefined}>
            <LevelMark level={isOld ? 'act' : verdict.level} />
            {isOld ? `This picture is ${ageText(ageS)} old` : verdict.line}
          </h1>
        </div>
        <div class="about">
          <TokenFault connection={connection} showDoor={showDoor} />
          {isOld && (
            <p class="stale">
              {silenceInWords(connection.silence)} All below is as it was at {clockOf(snapshot.atS)}
              ; the light may have changed since. Trying to connect again.
            </p>
          )}
          <ul class="details">
            {isOld && <li key="then">it said then: {verdict.line}</li>}
            {verdict.details
              .filter(text => isOld || text.toLowerCase() !== verdict.line.toLowerCase())
              .map(text => (
                <li key={text.split(':')[0]}>{unbroken(text)}</li>
              ))}
          </ul>
          {!isOld && (
            <p class="light-now">
              <b>Light</b> {unbroken(lightInWords(stage, snapshot))}
            </p>
          )}
        </div>
      </header>
      <nav aria-label="Views">
        {VIEWS.map(one => (
          <button key={one} type="button" aria-pressed={view === one} onClick={() => setView(one)}>
            {one}
          </button>
        ))}
      </nav>
      <main>
        <section class="view signals-view" aria-label="What comes in, and what leaves">
          <Signals snapshot={snapshot} />
        </section>
        <div class="column">
          <section class="view plan-view" aria-labelledby="plan-title">
            <h2 id="plan-title">Plan</h2>
            <Plan stage={stage} snapshot={snapshot} trails={trails} withAnchors={withAnchors} />
            <div class="legend">
              <p>
                {stage.fixtures.some(({ isHead }) => isHead) &&
                  '◇ head, filled when lit; its beam at the height of the performer it follows, else on the floor. '}
                {snapshot.status.notSent.length > 0 &&
                  'Broken ◇: not sent, so nobody knows what it shows. '}
                {snapshot.status.performers.some(({ state }) => state !== 'live') &&
                  'Broken ring: they are probably inside it; without one they may be anywhere. '}
                {stage.zones.length > 0 && '● zone occupied. '}
                {stage.keepOuts.length > 0 && 'Hatched: keep-out.'}
              </p>
              {stage.anchors.length > 0 && (
                <label class="option">
                  <input
                    type="checkbox"
                    checked={withAnchors}
                    onChange={event => setAnchors(event.currentTarget.checked)}
                  />{' '}
                  anchors
                </label>
              )}
            </div>
          </section>
          <section class="view time-view" aria-labelledby="time-title">
            <h2 id="time-title">Time</h2>
            <Time connection={connection} snapshot={snapshot} />
          </section>
        </div>
        <div class="column">
          <section class="view people-view" aria-labelledby="people-title">
            <h2 id="people-title">People</h2>
            <People stage={stage} snapshot={snapshot} />
          </section>
        </div>
        <div class="column">
          <section class="view light-view" aria-labelledby="light-title">
            <h2 id="light-title">Light</h2>
            <Light stage={stage} snapshot={snapshot} universes={universes} />
          </section>
        </div>
        <section class="view operator-view" aria-labelledby="operator-title">
          <h2 id="operator-title">Operator</h2>
          <Operator {...{ stage, snapshot, connection, act, say }} />
        </section>
      </main>
      <Foot
        isStopped={isStopped}
        isStopping={connection.isStopping}
        isOld={isOld}
        mayAct={connection.mayAct}
        said={lateStop === undefined ? said : { kind: 'refused', text: lateStop }}
        act={act}
        refuse={refuse}
      />
    </div>
  );
}

/** Why this device may no longer act, or a link did not open: until it has a token that does, or that was read. */
function TokenFault({ connection, showDoor }: { connection: Connection; showDoor: () => void }) {
  const { tokenFault, mayAct } = connection;
  if (tokenFault === undefined) return null;
  return (
    <div class="token-fault" role="alert">
      <p>
        {tokenFault}
        {mayAct && ' This device keeps the one that it had.'}
      </p>
      {mayAct ? (
        <button type="button" onClick={() => connection.forgive()}>
          All right
        </button>
      ) : (
        <button type="button" onClick={showDoor}>
          Enter the token
        </button>
      )}
    </div>
  );
}

/** No line ends between a number and its unit. */
const unbroken = (text: string) => text.replace(/(\d) (?=%|m\b)/g, '$1\u00a0');

const clockOf = (unixS: number) => new Date(unixS * 1e3).toTimeString().slice(0, 8);

const ageText = (ageS: number) => (ageS < 60 ? `${Math.floor(ageS)} s` : durationText(ageS));

/** Stop is always there, one touch, and never asks; to resume does. */
function Foot({
  isStopped,
  isStopping,
  isOld,
  mayAct,
  said,
  act,
  refuse,
}: {
  isStopped: boolean;
  /** A stop is on its way, or has no picture yet. */
  isStopping: boolean;
  /** Nobody knows whether they are stopped now. */
  isOld: boolean;
  mayAct: boolean;
  said: Said | undefined;
  act: Act;
  /** Of a device that may look only: says that it was not done. */
  refuse: (done: string) => void;
}) {
  return (
    <footer>
      <p class={said === undefined ? 'said' : `said ${said.kind}`} role="status">
        {said?.text ?? ''}
      </p>
      {isStopped && (
        <AskFirst
          class="resume"
          label="Resume…"
          question="Resume everybody?"
          text="The light of everybody who is tracked comes up again, including those who were stopped one by one."
          yes="Resume"
          wait={isStopping ? STOPPING : undefined}
          onYes={() => act('resume', 'everybody')}
          refuse={mayAct ? undefined : () => refuse('resumed')}
        />
      )}
      <button
        type="button"
        class={mayAct ? 'stop' : 'stop locked'}
        onClick={() => (mayAct ? act('stop', 'everybody') : refuse('stopped'))}
      >
        <svg viewBox="0 0 16 16" aria-hidden="true">
          <rect x="3" y="3" width="10" height="10" />
        </svg>
        <span>
          {isStopped && !isOld ? 'Stopped' : 'Stop'}
          {!mayAct && <small> needs the token</small>}
        </span>
      </button>
    </footer>
  );
}

const root = document.getElementById('panel');
const connection = new Connection();
if (root !== null) render(<Panel connection={connection} />, root);
connection.start();
