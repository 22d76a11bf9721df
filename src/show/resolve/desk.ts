import { attributeClass } from '../../fixtures/attributes.js';
import type { Profile } from '../../fixtures/profile.js';
import type { HazardClass } from '../../safety/hazard.js';
import type { DeskDoes, DeskInputPlan, DeskOrderPlan, GroundUse } from '../model/model.js';
import { meantBy } from '../palettes/look-values.js';
import { CUE_NUMBER, type DeskOrderFile, EVERYBODY, type GroundFile } from '../schema/desk.js';
import type { ShowFile } from '../schema/schema.js';
import { namesOf } from './groups.js';

/** The universes that are heard, in the order of the file. */
export function resolveDesk(file: ShowFile, universes: readonly number[]): DeskInputPlan[] {
  return Object.entries(file.desk).map(([name, input]) => ({
    name,
    protocol: input.protocol,
    universe: input.universe,
    interface: input.interface,
    gone: input.gone,
    goneApart: goneApart(file, name, input.gone),
    leavesSafe: input.ground !== undefined && isSafeFor(file, input.ground),
    ground: input.ground === undefined ? undefined : universes.indexOf(input.ground),
    fadeS: input.fade,
  }));
}

/** Signals of its slots whose `gone` differs from the universe's. */
function goneApart(
  { signals }: ShowFile,
  desk: string,
  usual: DeskInputPlan['gone'],
): DeskInputPlan['goneApart'] {
  return Object.entries(signals).flatMap(([signal, one]) => {
    const gone = 'slot' in one && one.slot[0] === desk ? one.gone : undefined;
    return gone === undefined || gone === usual ? [] : [{ signal, gone }];
  });
}

/** Whether the levels of this universe are the safe values of a fixture, while they come. */
function isSafeFor({ fixtures }: ShowFile, universe: number): boolean {
  return Object.values(fixtures).some(({ ground, universe: on }) => {
    if (on !== universe || ground === undefined || ground === 'scale') return false;
    return ground === 'safe' || (!('map' in ground) && (ground.safe ?? []).length > 0);
  });
}

/** What a slot orders. */
export function deskOrderOf(file: ShowFile, order: DeskOrderFile): DeskOrderPlan {
  const [name, slot] = order.slot;
  return { desk: Object.keys(file.desk).indexOf(name), slot: slot - 1, does: doesOf(file, order) };
}

function doesOf(file: ShowFile, order: DeskOrderFile): DeskDoes {
  const whom = (words: string | readonly string[]) =>
    words === EVERYBODY
      ? []
      : namesOf(file, typeof words === 'string' ? [words] : words, 'performers');
  if ('stop' in order) return { kind: 'stop', performers: whom(order.stop), held: order.held };
  if ('off' in order) return { kind: 'off', performers: whom(order.off), held: order.held };
  if ('resume' in order) return { kind: 'resume', performers: whom(order.resume) };
  if ('on' in order) return { kind: 'on', performers: whom(order.on) };
  if ('enable' in order) return { kind: 'enable', hazard: order.enable };
  const { cue } = order;
  const isWord = cue === 'next' || cue === 'back' || cue === CUE_NUMBER;
  return { kind: 'cue', to: isWord ? cue : { name: cue } };
}

/** What each channel of a fixture takes from the desk. */
export function groundUses(
  ground: GroundFile | undefined,
  { channels }: Profile,
  hazards: readonly HazardClass[],
): GroundUse[] {
  return channels.map(({ attribute }, channel): GroundUse => {
    if (ground === undefined || hazards[channel] !== 'ordinary') return 'ours';
    if (ground === 'safe') return 'safe';
    const isIntensity = attributeClass(attribute) === 'intensity';
    if (ground === 'scale') return isIntensity ? 'scale' : 'ours';
    const { desk = [], safe = [], scale = [] } = 'map' in ground ? { desk: ground } : ground;
    const isIn = (words: readonly string[]) =>
      words.some(word => meantBy(word, [attribute]).length > 0);
    if (isIn(desk)) return 'desk';
    if (isIn(safe)) return 'safe';
    return isIn(scale) ? 'scale' : 'ours';
  });
}
