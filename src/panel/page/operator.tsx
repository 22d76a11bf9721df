import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import { cueOf, heldByInWords, refusedInWords, stateInWords } from '../../live/reading.js';
import type { LiveSnapshot } from '../../live/schema.js';
import type { LiveStage } from '../../live/stage-schema.js';
import { enumerated } from '../../stage/enumerated.js';
import type { Answer } from './answers.js';
import { AskFirst } from './ask-first.js';
import type { Connection } from './connection.js';
import { Hold } from './hold.js';
import { SETTLED_MS, Settled } from './settled.js';

/** Instead of Resume, until the picture is of after this page's Stop. */
export const STOPPING = 'Stopping…';

export type Act = (...words: string[]) => Promise<unknown>;

interface OperatorProps {
  readonly stage: LiveStage;
  readonly snapshot: LiveSnapshot;
  readonly connection: Connection;
  readonly act: Act;
  readonly say: (answer: Answer) => void;
}

/** What may be done in a show. Each act says what became of it, in the line at the bottom of the page. */
export function Operator({ stage, snapshot, connection, act, say }: OperatorProps) {
  const all = useRef<HTMLDivElement>(null);
  const settled = useRef(new Settled());
  const ignored = useRef(false);
  useLayoutEffect(() => {
    const buttons = all.current?.querySelectorAll('button') ?? [];
    const region = all.current?.closest('.operator-view') ?? undefined;
    // On a wide screen it scrolls by itself, and the page goes past it.
    const isFixed = region !== undefined && getComputedStyle(region).position === 'fixed';
    settled.current.look(Array.from(buttons), performance.now(), isFixed ? region : undefined);
  });
  if (!connection.mayAct) return <Door connection={connection} />;
  const ignore = (event: Event) => {
    event.stopPropagation();
    event.preventDefault();
    say({ ok: false, text: 'Nothing was done: the button had just moved. Press again.' });
  };
  /** A stop is done wherever it stands. */
  const isAimedAt = ({ target }: Event) => {
    const button = target instanceof Element ? target.closest('button:not(.stops)') : null;
    return button === null || settled.current.isSettled(button, performance.now());
  };
  return (
    <div
      ref={all}
      onPointerDownCapture={event => {
        ignored.current = !isAimedAt(event);
        if (ignored.current) ignore(event);
      }}
      onClickCapture={event => {
        // What the keyboard is on is pressed wherever it stands.
        if (event.detail > 0 && (ignored.current || !isAimedAt(event))) ignore(event);
        ignored.current = false;
      }}
    >
      <Cues stage={stage} snapshot={snapshot} act={act} say={say} />
      <Hazards {...{ stage, snapshot, connection, act, say }} />
      <Performers snapshot={snapshot} connection={connection} act={act} />
      <Spares stage={stage} snapshot={snapshot} act={act} />
      <Mappings stage={stage} snapshot={snapshot} act={act} />
      <p>
        <button type="button" class="quiet" onClick={() => connection.forget()}>
          Forget the token on this device
        </button>
      </p>
    </div>
  );
}

type Section = Omit<OperatorProps, 'connection' | 'say'>;

function Cues({ stage, snapshot, act, say }: Section & Pick<OperatorProps, 'say'>) {
  if (stage.cues.length === 0) return null;
  const on = cueOf(stage, snapshot);
  const next = stage.cues[on + 1];
  const back = stage.cues[on - 1];
  // By the cue that is on: of two who press at once, or one finger that bounces, only the first goes on.
  const from = stage.cues[on]?.name ?? '';
  const changed = useRef({ from, atMs: Number.NEGATIVE_INFINITY });
  if (changed.current.from !== from) changed.current = { from, atMs: performance.now() };
  const step = (to: 'next' | 'back') => {
    if (performance.now() - changed.current.atMs > SETTLED_MS) return act('cue', to, from);
    const text =
      'Nothing was done: the cue had just changed. Look at the buttons, and press again.';
    return say({ ok: false, text });
  };
  return (
    <section aria-label="Cues">
      <h3>Cues</h3>
      <div class="cue-buttons">
        <button type="button" disabled={back === undefined} onClick={() => step('back')}>
          Back
          <OneOf all={stage.cues.map(({ label }) => label)} is={on - 1} />
        </button>
        <button type="button" class="go" disabled={next === undefined} onClick={() => step('next')}>
          Go
          <OneOf all={stage.cues.map(({ label }) => label)} is={on + 1} />
        </button>
      </div>
      <ol class="cues">
        {stage.cues.map(({ name, label }, index) => (
          <li key={name}>
            <button
              type="button"
              aria-current={index === on ? 'step' : undefined}
              onClick={() => act('cue', name)}
            >
              {label} <OneOf all={['on']} is={index === on ? 0 : -1} />
            </button>
          </li>
        ))}
      </ol>
    </section>
  );
}

/** One of several texts, in the room of the longest: what is below does not move when another one is said. */
function OneOf({ all, is }: { readonly all: readonly string[]; readonly is: number }) {
  return (
    <small class="one-of">
      {all.map((text, index) => (
        <span key={`${index} ${text}`} class={index === is ? '' : 'unsaid'}>
          {text}
        </span>
      ))}
    </small>
  );
}

function Performers({ snapshot, connection, act }: Omit<OperatorProps, 'stage' | 'say'>) {
  return (
    <section aria-label="Performers">
      <h3>Performers</h3>
      <ul class="rows steady">
        {snapshot.status.performers.map(({ name, label, state, heardBut }) => (
          <li key={name}>
            <span class="name">
              {label} <small>{stateInWords({ state, heardBut })}</small>
            </span>
            {state === 'stopped' ? (
              <AskFirst
                label="Resume…"
                name={`Resume ${label}…`}
                question={`Resume ${label}?`}
                text={`The light of ${label} comes up again once they are tracked.`}
                yes="Resume"
                wait={connection.isStopping ? STOPPING : undefined}
                onYes={() => act('resume', name)}
              />
            ) : (
              <button
                type="button"
                class="stops"
                onClick={() => act('stop', name)}
                aria-label={`Stop ${label}`}
              >
                Stop
              </button>
            )}
            {state === 'off stage' ? (
              <button
                type="button"
                onClick={() => act('on', name)}
                aria-label={`${label} is on stage`}
              >
                On stage
              </button>
            ) : (
              <button
                type="button"
                onClick={() => act('off', name)}
                aria-label={`${label} is off stage`}
              >
                Off stage
              </button>
            )}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** A tracker that nobody wears, or that another one wears, to a performer. */
function Spares({ snapshot, act }: Section) {
  // While an engine starts nobody says which there are; what is below stays where it is.
  const known = useRef<NonNullable<LiveSnapshot['engine']>['trackers']>([]);
  if (snapshot.engine !== null) known.current = snapshot.engine.trackers;
  const trackers = known.current;
  const people = snapshot.status.performers;
  const [tracker, setTracker] = useState('');
  const [performer, setPerformer] = useState('');
  if (people.length === 0) return null;
  const spare = trackers.filter(one => one.performer === undefined);
  const chosen = trackers.find(one => one.id === tracker);
  const whom = people.find(one => one.name === performer);
  const nameOf = (name: string) => people.find(one => one.name === name)?.label ?? name;
  const isSilent = (one: (typeof trackers)[number]) =>
    one.silentForS === undefined || one.silentForS > 2;
  const give = () => {
    act('assign', tracker, performer);
    // The next touch is about another one.
    setTracker('');
    setPerformer('');
  };
  const wornBy = chosen?.performer === undefined ? undefined : nameOf(chosen.performer);
  const doubts = [
    ...(wornBy === undefined ? [] : [`${wornBy} wears it now, and would lose it.`]),
    ...(chosen !== undefined && isSilent(chosen) ? ['Nothing is heard from it.'] : []),
  ];
  return (
    <section aria-label="Trackers">
      <h3>Trackers</h3>
      <div class="give">
        <label>
          Tracker
          <select
            value={chosen?.id ?? ''}
            disabled={trackers.length === 0}
            onChange={event => setTracker(event.currentTarget.value)}
          >
            <option value="">{trackers.length === 0 ? 'none heard yet' : 'choose'}</option>
            {[...spare, ...trackers.filter(one => one.performer !== undefined)].map(one => (
              <option key={one.id} value={one.id}>
                {one.id}, {one.performer === undefined ? 'spare' : nameOf(one.performer)}
                {isSilent(one) ? ', silent' : ''}
              </option>
            ))}
          </select>
        </label>
        <label>
          to
          <select
            value={whom?.name ?? ''}
            onChange={event => setPerformer(event.currentTarget.value)}
          >
            <option value="">choose</option>
            {people.map(({ name, label }) => (
              <option key={name} value={name}>
                {label}
              </option>
            ))}
          </select>
        </label>
        {chosen !== undefined && whom !== undefined && doubts.length > 0 ? (
          <AskFirst
            label="Give…"
            question={`Give tracker ${chosen.id} to ${whom.label}?`}
            text={doubts.join(' ')}
            yes="Give"
            onYes={give}
          />
        ) : (
          <button
            type="button"
            disabled={chosen === undefined || whom === undefined}
            onClick={give}
          >
            Give
          </button>
        )}
      </div>
    </section>
  );
}

function Mappings({ stage, snapshot, act }: Section) {
  const all = snapshot.engine?.mappings;
  // Several may have one title: they go together.
  const titles = [...new Set(stage.mappings.map(({ title }) => title))];
  if (titles.length === 0) return null;
  const isOff = (title: string) =>
    stage.mappings.some((one, index) => one.title === title && all?.[index]?.off === true);
  return (
    <section aria-label="Mappings">
      <h3>Mappings</h3>
      <ul class="rows steady">
        {titles.map(title => {
          const off = isOff(title);
          return (
            <li key={title}>
              <span class="name">
                {title} <small>{off ? 'off' : 'on'}</small>
              </span>
              <button
                type="button"
                aria-label={`Mapping ${title} ${off ? 'on' : 'off'}`}
                onClick={() => act('mapping', off ? 'on' : 'off', title)}
              >
                {off ? 'On again' : 'Off'}
              </button>
            </li>
          );
        })}
      </ul>
    </section>
  );
}

/** On a button; of more the first ones, and how many more. */
const MOST_OUTPUTS = 3;

function Hazards({ stage, snapshot, connection, act, say }: OperatorProps) {
  if (stage.hazards.length === 0) return null;
  const gates = snapshot.engine?.hazards ?? [];
  return (
    <section aria-label="Enables">
      <h3>Enables</h3>
      <p class="caution">
        On only while you hold it, and only with the venue's consent. Whoever holds it must see the
        stage.
      </p>
      <ul class="rows holds">
        {stage.hazards.map(hazard => {
          const mine = gates.filter(one => one.hazard === hazard);
          const isOn = mine.some(one => one.gate === 'on');
          const by = heldByInWords(snapshot, hazard);
          const refused = refusedInWords(snapshot, hazard);
          const outputs = stage.fixtures.filter(one => one.hazards?.includes(hazard));
          const names = enumerated(
            outputs.map(({ label }) => label),
            MOST_OUTPUTS,
          );
          return (
            <li key={hazard}>
              <span class="name">
                {hazard}{' '}
                <small>
                  {isOn ? 'on' : 'off'}
                  {by !== '' && `, held by ${by}`}
                  {refused !== undefined && by !== '' && `, refused: ${refused}`}
                </small>
              </span>
              <Hold
                label={hazard}
                outputs={names}
                refused={refused}
                cameMs={connection.cameMs}
                onRefused={why => say({ ok: false, text: `${hazard} refused: ${why}` })}
                disabled={stage.enableTimeoutS === undefined || !connection.isConnected}
                hold={() => connection.hold(hazard)}
                release={why => {
                  if (why === undefined) return act('release', hazard);
                  if (why !== 'again') say(why);
                  return connection.act('release', hazard);
                }}
              />
            </li>
          );
        })}
      </ul>
    </section>
  );
}

/** This device may look only. */
export function Door({ connection }: { connection: Connection }) {
  const [token, setToken] = useState('');
  const [fault, setFault] = useState<string | undefined>(undefined);
  return (
    <form
      class="door"
      onSubmit={async event => {
        event.preventDefault();
        setFault(await connection.unlock(token));
      }}
    >
      <p>
        {connection.isLocked
          ? 'This device needs the token to show the panel.'
          : 'This device can only watch. To control the show, it needs the token.'}{' '}
        <code>lampwright panel</code> on the show machine prints it, also as a code to scan.
      </p>
      <label>
        Token
        <input
          type="password"
          autocomplete="off"
          autocapitalize="off"
          spellcheck={false}
          value={token}
          onInput={event => setToken(event.currentTarget.value)}
        />
      </label>
      <button type="submit">Unlock</button>
      {(fault ?? connection.tokenFault) !== undefined && (
        <p role="alert">{fault ?? connection.tokenFault}</p>
      )}
    </form>
  );
}
