import {
  batteryOf,
  causeInWords,
  forText,
  peopleOf,
  stateInWords,
  sureInWords,
  urgencyOf,
  wornInWords,
} from '../../live/reading.js';
import type { LiveSnapshot } from '../../live/schema.js';
import type { LiveStage } from '../../live/stage-schema.js';
import { DOUBT_WORDS } from '../../live/verdict.js';
import { Bar, StateMark } from './marks.js';

/** A confidence above this needs no reason: a tracking system that gives 0.9 all evening is as it always is. */
const DOUBTED_BELOW = 0.85;

/** Everybody in words: who needs a look comes first. */
export function People({ stage, snapshot }: { stage: LiveStage; snapshot: LiveSnapshot }) {
  const { engine } = snapshot;
  const people = peopleOf(snapshot).sort((a, b) => urgencyOf(a.status) - urgencyOf(b.status));
  if (people.length === 0) return <p>The show has no performers.</p>;
  return (
    <ul class="people">
      {people.map(person => {
        const { label, status, seen } = person;
        const sure = sureInWords(person);
        const cause = causeInWords(status);
        const confidence = seen?.confidence;
        const battery = batteryOf(engine, status.name);
        const zones = (seen?.zones ?? []).map(
          zone => stage.zones.find(({ name }) => name === zone)?.label ?? zone,
        );
        return (
          <li key={status.name} class={status.state.replace(' ', '-')}>
            <h3>
              <StateMark state={status.state} /> {label}
            </h3>
            <p class="state">
              {stateInWords(status)}{' '}
              <span class="since">for {forText(status.since, snapshot)}</span>
              {cause !== undefined && <span class="cause">{cause}</span>}
            </p>
            {sure !== undefined && (
              <p class="sure">
                <Bar share={confidence?.value ?? 0} />
                <span>{sure}</span>
              </p>
            )}
            {sure !== undefined &&
              confidence?.reason !== undefined &&
              confidence.value < DOUBTED_BELOW && (
                <p class="doubt">{DOUBT_WORDS[confidence.reason]}</p>
              )}
            <p class="facts">
              {zones.length > 0 && <span>in {zones.join(', ')}</span>}
              {seen?.place !== undefined && (
                <span>
                  {seen.place.x.toFixed(1)}, {seen.place.y.toFixed(1)} m
                </span>
              )}
              {engine !== null && status.state === 'lost' && seen?.place === undefined && (
                <span>last place not known</span>
              )}
              {engine !== null && <span>{wornInWords(snapshot, status.name)}</span>}
              {battery !== undefined && (
                <span class={battery <= 0.25 ? 'low' : undefined}>
                  battery {Math.round(battery * 100)} %{battery <= 0.25 && ', low'}
                </span>
              )}
            </p>
          </li>
        );
      })}
    </ul>
  );
}
