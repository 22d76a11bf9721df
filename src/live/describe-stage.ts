import { attributeClass } from '../fixtures/attributes.js';
import { mappingTitle } from '../show/model/mapping-words.js';
import type { FixturePlan, Show } from '../show/model/model.js';
import { SLOTS_PER_UNIVERSE } from '../show/model/model.js';
import { patchText } from '../show/model/patched-slots.js';
import { groundUseOf, safeValues } from '../show/model/safe-look.js';
import type { AreaOptions } from '../stage/area.js';
import type { VolumeOptions } from '../stage/volume.js';
import type { LiveStage, Outline } from './stage-schema.js';
import { LIVE_VERSION } from './version.js';

/** The show as people look at it. @param revision another number for another show */
export function describeStage(show: Show, revision: number): LiveStage {
  const { min, max } = show.bounds;
  const { operator } = show;
  const fixtures = show.fixtures.map((plan, index) => describeFixture(show, plan, index));
  return {
    kind: 'stage',
    version: LIVE_VERSION,
    revision,
    show: show.name,
    bounds: { x: [min.x, max.x], y: [min.y, max.y] },
    performers: show.performers.map(({ name, label, heightM }) => ({ name, label, heightM })),
    zones: show.zones.map(({ name, label, area, around }) => {
      const whom = around === undefined ? undefined : show.performers[around]?.name;
      return { name, label, outline: outlineOf(area), ...(whom && { around: whom }) };
    }),
    exits: show.exits.map(({ name, label, area }) => ({ name, label, outline: outlineOf(area) })),
    keepOuts: show.keepOuts.map(({ name, label, volume }) => {
      return { name, label, outline: outlineOfVolume(volume) };
    }),
    anchors: show.anchors.map(({ name, position: { x, y } }) => ({ name, at: [x, y] })),
    fixtures,
    mappings: show.mappings.map((_, index) => ({ title: mappingTitle(show, index) })),
    cues: show.cues.map(({ name, label }) => ({ name, label })),
    hazards: [...new Set(fixtures.flatMap(one => one.hazards ?? []))],
    ...(operator && { enableTimeoutS: operator.enableTimeoutS }),
  };
}

function describeFixture(
  show: Show,
  plan: FixturePlan,
  index: number,
): LiveStage['fixtures'][number] {
  const { name, label, position, profile, universe, firstSlot, head, hazards } = plan;
  const looks = Array.from({ length: Math.max(1, show.cues.length) }, (_, cue) =>
    safeValues(show, cue, index),
  );
  const classes = hazards.filter(one => one !== 'ordinary');
  // A channel of which some values are a strobe is an ordinary one otherwise.
  const strobes = plan.strobes.some(one => one !== undefined) ? ['strobe'] : [];
  const enables = [...new Set([...classes, ...strobes])];
  return {
    name,
    label,
    patch: patchText(show, plan),
    universe: show.universes[universe] as number,
    firstSlot: (firstSlot % SLOTS_PER_UNIVERSE) + 1,
    slots: profile.footprint,
    ...(position && { at: [position.x, position.y] as [number, number] }),
    isHead: head !== undefined,
    ...(enables.length > 0 && { hazards: enables }),
    channels: profile.channels.map(({ attribute }, channel) => ({
      attribute,
      safe: looks.map(values => values[channel] as number),
      ...(attributeClass(attribute) === 'intensity' ? { intensity: true as const } : {}),
      ...(hazards[channel] === 'ordinary' ? {} : { hazard: hazards[channel] }),
      ...(groundUseOf(plan, channel) === 'safe' ? { safeFromDesk: true as const } : {}),
    })),
  };
}

function outlineOf({ shape }: AreaOptions): Outline {
  return shape.kind === 'circle'
    ? { kind: 'circle', centre: [shape.centre.x, shape.centre.y], radiusM: shape.radiusM }
    : { kind: 'polygon', points: shape.points.map(([x, y]) => [x, y]) };
}

/** As it is seen from above. */
function outlineOfVolume(volume: VolumeOptions): Outline {
  if (volume.kind === 'upright') return outlineOf(volume.area);
  const { centre, radiusM } = volume;
  return { kind: 'circle', centre: [centre.x, centre.y], radiusM };
}
