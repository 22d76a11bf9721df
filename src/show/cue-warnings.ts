import { enumerated } from '../stage/enumerated.js';
import { touches } from './basis.js';
import type { CuePlan, Show } from './model.js';
import type { Finding } from './problem.js';

/** What of the cues was probably meant otherwise. */
export function cueWarnings(show: Show): Finding[] {
  const { cues, mappings } = show;
  if (cues.length === 0) return [];
  return [
    ...mappings.flatMap(({ name, place }, index): Finding[] => {
      if (cues.some(({ levels }) => (levels[index] ?? 0) > 0)) return [];
      const what = name === undefined ? `mapping ${index + 1}, which has no name,` : `"${name}"`;
      const message = `${what} acts in no cue.`;
      return [{ code: 'mapping-unused', message, path: ['mappings', place ?? index] }];
    }),
    ...cues.flatMap(cue => litWarnings(show, cue)),
    ...cues.flatMap((cue, index) => fireWarnings(show, cue, index)),
  ];
}

/** Of two cues that one condition brings on, it is always the first in the file. */
function fireWarnings({ cues, signals }: Show, { name, fire }: CuePlan, index: number): Finding[] {
  if (fire === undefined) return [];
  const first = cues.findIndex(one => one.fire === fire);
  if (first === index) return [];
  const condition = signals.conditions[fire]?.name;
  const message = `"${condition}" brings on cue "${cues[first]?.name}" already, so cue "${name}" never comes on by it.`;
  return [{ code: 'cue-fire', message, path: ['cues', name, 'fire'] }];
}

/** Lit by its own base in a cue that says nothing of it, where other cues have it driven: forgotten, mostly. */
function litWarnings({ cues, mappings, fixtures }: Show, cue: CuePlan): Finding[] {
  const acts = ({ levels }: CuePlan, light: number) =>
    mappings.some((mapping, index) => (levels[index] ?? 0) > 0 && touches(mapping, light));
  const forgotten = fixtures.flatMap(({ name, profile, base }, light) => {
    const dimmer = profile.channels.findIndex(({ attribute }) => attribute === 'Dimmer');
    const isLit = dimmer >= 0 && (base[dimmer] ?? 0) > 0;
    // A cue that gives the fixture's own base gives the very same list.
    const says = cue.base[light] !== base;
    if (!isLit || says || acts(cue, light)) return [];
    return cues.some(other => acts(other, light)) ? [`"${name}"`] : [];
  });
  if (forgotten.length === 0) return [];
  const [subject, verb] = forgotten.length === 1 ? ['fixture', 'stays'] : ['fixtures', 'stay'];
  const message = `${subject} ${enumerated(forgotten)} ${verb} lit in cue "${cue.name}", as \`base\` has it: no mapping of this cue touches ${forgotten.length === 1 ? 'it' : 'them'}, and the cue says nothing of ${forgotten.length === 1 ? 'it' : 'them'}.`;
  return [{ code: 'cue-lit', message, path: ['cues', cue.name], atKey: true }];
}
