import { attributeClass, isColour, isEmitter, isFilter } from '../../fixtures/attributes.js';
import { enumerated } from '../../stage/enumerated.js';
import type { FixturePlan, Show } from '../model/model.js';
import { safeIsDark, safeValues } from '../model/safe-look.js';
import type { Finding, Path } from '../problems/problem.js';

const FEW = 3;

/**
 * A safe look without any light that nobody has decided on. It is what the stage has when nobody is followed, or the
 * engine is gone.
 */
export function safeDarkWarnings(show: Show, says: (path: Path) => boolean): Finding[] {
  const lamps = show.fixtures.flatMap((plan, index) => {
    const { channels } = plan.profile;
    const isLamp = channels.some(
      ({ attribute }, c) =>
        attributeClass(attribute) === 'intensity' && plan.hazards[c] === 'ordinary',
    );
    return isLamp ? [{ plan, index }] : [];
  });
  const looks = show.cues.length === 0 ? [0] : show.cues.map((_, cue) => cue);
  const isDark = looks.every(cue =>
    lamps.every(({ plan, index }) => safeIsDark(plan, safeValues(show, cue, index))),
  );
  const undecided = lamps
    .filter(({ plan }) => !says(['fixtures', plan.inFile, 'safe', 'Dimmer']))
    .map(({ plan }) => `"${plan.inFile}"`);
  if (!isDark || undecided.length === 0) return [];
  const of = enumerated([...new Set(undecided)], FEW);
  return [
    {
      code: 'safe-dark',
      message: `the safe look is dark: no lamp is lit in it, and \`safe\` doesn't say the Dimmer of ${of}. Is there another light by which people find their way out?`,
      path: ['fixtures'],
      atKey: true,
    },
  ];
}

/** A light that the show colours, but whose colour in the safe look is not given. */
export function safeColourWarnings(
  show: Show,
  plan: FixturePlan,
  index: number,
  says: (path: Path) => boolean,
): Finding[] {
  const { channels } = plan.profile;
  const colours = channels.flatMap(({ attribute }, c) => (isColour(attribute) ? [c] : []));
  if (colours.length === 0) return [];
  const attributes = colours.map(c => channels[c]?.attribute ?? '');
  const said = (look: string) =>
    ['colour', ...attributes].some(key => says(['fixtures', plan.inFile, look, key]));
  if (said('base') || said('safe') || !isColoured(show, index, colours)) return [];
  const looks = (show.cues.length === 0 ? [0] : show.cues.map((_, cue) => cue)).map(cue =>
    safeValues(show, cue, index),
  );
  const isUnsaid = (values: readonly number[]) =>
    !safeIsDark(plan, values) && colours.every(c => values[c] === channels[c]?.default);
  if (!looks.some(isUnsaid)) return [];
  const isOpen = colours.every(c => {
    const channel = channels[c];
    if (channel === undefined) return false;
    const end = isEmitter(channel.attribute) ? 'to' : 'from';
    const isRange = isEmitter(channel.attribute) || isFilter(channel.attribute);
    return isRange && channel.default === channel[end];
  });
  const what = isOpen ? 'white' : 'the default of its profile';
  return [
    {
      code: 'safe-colour',
      message: `fixture "${plan.name}" has colours in the show, but in the safe look it is ${what}: neither \`base\` nor \`safe\` says its colour.`,
      path: ['fixtures', plan.name],
      atKey: true,
    },
  ];
}

/** Whether a mapping or a cue gives it another colour than it begins with. */
function isColoured({ mappings, cues, fixtures }: Show, index: number, colours: readonly number[]) {
  const begins = (c: number) => fixtures[index]?.profile.channels[c]?.default;
  const set = mappings.flatMap(one =>
    one.kind === 'signal' ? [...one.values, ...one.from] : one.values,
  );
  const bySet = set.some(
    ({ fixture, channel, value }) =>
      fixture === index && colours.includes(channel) && value !== begins(channel),
  );
  return bySet || cues.some(({ base }) => colours.some(c => base[index]?.[c] !== begins(c)));
}
