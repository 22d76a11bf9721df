import { useState } from 'preact/hooks';
import { actingMappings } from '../../live/acting-mappings.js';
import { fixtureInWords, gatesInWords } from '../../live/light-words.js';
import { hasOther } from '../../live/pair-words.js';
import {
  type FixtureChannel,
  forText,
  intensityOf,
  isSafeUnknown,
  levelOf,
  safeValue,
} from '../../live/reading.js';
import type { LiveSnapshot } from '../../live/schema.js';
import type { LiveStage } from '../../live/stage-schema.js';
import { Bar } from './marks.js';

interface Shown {
  readonly stage: LiveStage;
  readonly snapshot: LiveSnapshot;
  readonly universes: LiveSnapshot['universes'];
}

/** What the light does: the cue, what acts in it, each fixture live against safe, and what leaves. */
export function Light({ stage, snapshot, universes }: Shown) {
  const { status, engine } = snapshot;
  const acting = actingMappings(stage, engine);
  return (
    <>
      {status.cue !== undefined && (
        <p class="cue-now">
          Cue <strong>{status.cue.label}</strong> for {forText(status.cue.since, snapshot)}
          {engine?.cueShare !== undefined && engine.cueShare < 1 && (
            <span> (crossfade at {Math.round(engine.cueShare * 100)} %)</span>
          )}
        </p>
      )}
      <h3>Mappings in this cue</h3>
      {engine === null && <p>Not known: no engine runs.</p>}
      {engine !== null && acting.length === 0 && <p>None.</p>}
      {acting.length > 0 && <p class="hint">How strongly each acts now.</p>}
      <ul class="mappings">
        {acting.map(({ title, level, shows, off }, index) => (
          // Several may have one title.
          <li key={`${title} ${index}`} class={off ? 'off' : shows > 0 ? 'on' : undefined}>
            <span class="name">{title}</span>
            <Bar share={off ? 0 : shows} />
            <span class="value">
              {off ? 'off' : percent(shows)}
              {!off && percent(shows) !== percent(level) && <small> of {percent(level)}</small>}
            </span>
          </li>
        ))}
      </ul>
      <h3>Fixtures: live and safe levels</h3>
      <ul class="fixtures">
        {stage.fixtures.map((fixture, index) => {
          const channel = intensityOf(fixture);
          const { text } = fixtureInWords(stage, snapshot, index);
          return (
            <li key={fixture.name}>
              <span class="name">
                {fixture.label} <small>{fixture.patch}</small>
              </span>
              {channel === undefined ? (
                <span class="no-level">{gatesInWords(stage, snapshot, index)}</span>
              ) : (
                <Level stage={stage} snapshot={snapshot} at={{ fixture: index, channel }} />
              )}
              {text !== '' && (
                <span class={text.startsWith('on ') ? 'words' : 'words safe-words'}>{text}</span>
              )}
            </li>
          );
        })}
      </ul>
      <Outputs stage={stage} snapshot={snapshot} universes={universes} />
    </>
  );
}

/** How bright it is, and how bright it is in the safe look. */
function Level({ stage, snapshot, at }: Omit<Shown, 'universes'> & { at: FixtureChannel }) {
  const [level, safe] = [levelOf(stage, snapshot, at), safeValue(stage, snapshot, at)];
  // No engine says what the desk gives it; nobody sees a level that nobody knows.
  if (isSafeUnknown(stage, snapshot, at)) return <span class="no-level">as the desk has it</span>;
  if (level === undefined) {
    return <span class="no-level">fades to {Math.round(safe)} %</span>;
  }
  const isDesks = stage.fixtures[at.fixture]?.channels[at.channel]?.safeFromDesk === true;
  return (
    <>
      <Bar share={level / 100} safe={safe / 100} />
      <span class="value">
        {Math.round(level)} %<small> safe {Math.round(safe)}</small>
        {isDesks && <small class="desks">from the desk</small>}
      </span>
    </>
  );
}

const percent = (share: number) => `${Math.round(share * 100)} %`;

function Outputs({ stage, snapshot, universes }: Shown) {
  const [open, setOpen] = useState<number | undefined>(undefined);
  const held = hasOther(snapshot.status.pair) ? 'sent by the other machine' : 'listens first';
  return (
    <>
      <h3>Outputs</h3>
      <ul class="outputs">
        {snapshot.status.outputs.map(one => (
          <li key={one.name} class={one.trouble === undefined ? undefined : 'down'}>
            <span class="name">{one.name}</span>
            <span>{one.protocol === 'sacn' ? 'sACN' : 'Art-Net'}</span>
            <span class="value">{one.trouble ?? (one.heldBack ? held : 'sends')}</span>
            <span class="universes">
              {one.universes.map(universe => (
                <button
                  key={universe}
                  type="button"
                  aria-expanded={open === universe}
                  onClick={() => setOpen(open === universe ? undefined : universe)}
                >
                  universe {universe}
                </button>
              ))}
            </span>
          </li>
        ))}
        {snapshot.status.outputsElsewhere.map(name => (
          <li key={name}>
            <span class="name">{name}</span>
            <span class="value">on another machine</span>
          </li>
        ))}
      </ul>
      {open !== undefined && <Slots stage={stage} universe={open} universes={universes} />}
    </>
  );
}

const SLOTS = 512;

/** One universe, slot by slot: those that a fixture has, with its name; the rest as a count. */
function Slots({ stage, universe, universes }: Omit<Shown, 'snapshot'> & { universe: number }) {
  const text = universes?.find(one => one.universe === universe)?.levels;
  if (text === undefined) return <p>No levels yet.</p>;
  const levels = Uint8Array.from(atob(text), letter => letter.charCodeAt(0));
  const patched = stage.fixtures
    .filter(one => one.universe === universe)
    .sort((a, b) => a.firstSlot - b.firstSlot);
  const used = patched.reduce((sum, { slots }) => sum + slots, 0);
  return (
    <section class="slots" aria-label={`Universe ${universe}, slot by slot`}>
      {patched.map(({ name, label, firstSlot, slots }) => (
        <div key={name} class="run">
          <span class="whose">{label}</span>
          <ol start={firstSlot}>
            {Array.from({ length: slots }, (_, i) => {
              const slot = firstSlot + i;
              const level = levels[slot - 1] ?? 0;
              return (
                <li key={slot} class={level > 0 ? 'lit' : undefined}>
                  <small>{slot}</small> {level}
                </li>
              );
            })}
          </ol>
        </div>
      ))}
      <p>{SLOTS - used} slots without a fixture are 0.</p>
    </section>
  );
}
