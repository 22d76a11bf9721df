import { pairInWords } from '../live/pair-words.js';
import { intensityOf, levelOf, nameOf, peopleOf, stateInWords } from '../live/reading.js';
import type { LiveSnapshot } from '../live/schema.js';
import type { LiveStage } from '../live/stage-schema.js';

/** Two lines for a log: who is where and how sure, and how bright each lamp is; of two machines, which part this one plays. */
export function plainView(stage: LiveStage, snapshot: LiveSnapshot): string {
  const people = peopleOf(snapshot).map(({ label, status, seen }) => {
    const place = seen?.place;
    const at = place === undefined ? '' : ` (${place.x.toFixed(1)}, ${place.y.toFixed(1)})`;
    const inside = (seen?.zones ?? []).map(
      zone => stage.zones.find(({ name }) => name === zone)?.label ?? nameOf(stage, zone),
    );
    const zones = inside.length === 0 ? '' : ` in ${inside.join(', ')}`;
    const percent = Math.round((seen?.confidence.value ?? 0) * 100);
    return `${label} ${stateInWords(status)} ${percent} %${at}${zones}`;
  });
  const levels = stage.fixtures.map((fixture, index) => {
    // A hazer has no intensity: its first channel, by name.
    const channel = intensityOf(fixture);
    const level = levelOf(stage, snapshot, { fixture: index, channel: channel ?? 0 });
    if (level === undefined) return `${fixture.label} fades to safe`;
    const what = channel === undefined ? ` ${fixture.channels[0]?.attribute ?? ''}` : '';
    return `${fixture.label}${what} ${Math.round(level)}`;
  });
  const { pair } = snapshot.status;
  const parts = pair === undefined ? [] : pairInWords(pair).map(text => `    ${text}\n`);
  return `${parts.join('')}    ${people.join(' | ')}\n    ${levels.join(', ')}`;
}
