import type {
  ChannelValue,
  FixturePlan,
  MappingPlan,
  PerformerPlan,
  SignalMappingPlan,
} from '../model/model.js';
import { TARGET, valuesOfLook } from '../palettes/look-values.js';
import type { DrivenMappingFile, MappingFile, ZoneMappingFile } from '../schema/mappings.js';
import { carrierOf, type ShowFile } from '../schema/schema.js';
import { followersOf, followOptionsOf } from './follow.js';
import { namesOf } from './groups.js';
import { certain, physicalIn } from './look.js';
import type { SignalResolver } from './signals.js';
import { aimedAt, type TargetsFile, targetPlace } from './targets.js';

/** Mappings in the order of the file, one for each of it; and after them its masters. */
export function resolveMappings(
  file: ShowFile,
  fixtures: readonly FixturePlan[],
  performers: readonly PerformerPlan[],
  signals: SignalResolver,
): MappingPlan[] {
  const people = performers.map(({ name }) => name);
  const zones = Object.keys(file.zones);
  // A rule for several heads is a mapping for each, and places in the list are no longer those in the file.
  const isApart = file.mappings.some(one => 'follow' in one && typeof one.follow !== 'string');
  const indexOf = new Map(fixtures.map((fixture, index) => [fixture.name, index]));
  const masters = mastersOf(file);
  return [...file.mappings, ...masters].flatMap((mapping, at): MappingPlan | MappingPlan[] => {
    const names = namesOf(file, mapping.fixtures, 'fixtures');
    const targets = names.map(name => certain(indexOf.get(name)));
    const look = (set: MappingFile['set']) => valuesOf(set, targets, fixtures, file);
    const isMaster = at >= file.mappings.length;
    const master = mapping.master === undefined ? undefined : signals.signal(mapping.master);
    const common = {
      ...(isApart ? { place: at } : {}),
      ...(master === undefined ? {} : { master }),
      name: mapping.name ?? masterName(mapping, isMaster),
      always: mapping.always,
      values: look(mapping.set),
      fade: { inS: mapping.fade.in, outS: mapping.fade.out },
    };
    const said = 'when' in mapping ? mapping.when : undefined;
    const when = said === undefined ? undefined : signals.condition(said, `mappings[${at}].when`);
    if ('follow' in mapping) {
      if (typeof mapping.follow !== 'string') {
        return followersOf(
          file,
          mapping,
          mapping.follow,
          { at, when, targets },
          fixtures,
          performers,
        ).map(plan => ({
          ...common,
          ...plan,
          values: valuesOf(mapping.set, plan.heads, fixtures, file),
        }));
      }
      const performer = people.indexOf(mapping.follow);
      return {
        kind: 'follow',
        performer,
        when,
        heads: targets,
        ...followOptionsOf(mapping, certain(performers[performer])),
        ...common,
      };
    }
    if ('zone' in mapping && isOfToday(file, mapping)) {
      return {
        kind: 'zone',
        zone: zones.indexOf(mapping.zone),
        performers:
          mapping.performers === 'any'
            ? people.map((_, index) => index)
            : namesOf(file, mapping.performers, 'performers').map(name => people.indexOf(name)),
        curve: mapping.curve,
        ...common,
      };
    }
    return {
      kind: 'signal',
      when,
      fixtures: targets,
      by: drivenBy(mapping, names, signals),
      from: look(mapping.from ?? {}),
      mix: mapping.mix ?? 'usual',
      priority: mapping.priority,
      ...(isMaster ? { isMaster } : {}),
      ...common,
    };
  });
}

/** Above all that a mapping may have. */
const MASTER_PRIORITY = 100;

/** A master over fixtures is a mapping above all others that scales their result. */
export function mastersOf({ masters }: Pick<ShowFile, 'masters'>): DrivenMappingFile[] {
  return masters.map(({ fixtures, by }) => ({
    by,
    fixtures,
    always: true,
    from: { Dimmer: 0 },
    set: { Dimmer: 100 },
    mix: 'scale',
    priority: MASTER_PRIORITY,
    fade: { in: 0, out: 0 },
  }));
}

/** As it is called where people read of it; no cue can name it. */
function masterName(mapping: MappingFile, isMaster: boolean): string | undefined {
  return isMaster && 'by' in mapping ? `master ${mapping.by}` : undefined;
}

/** A rule for everybody that each performer's own presence already covers. */
function isOfToday(file: ShowFile, mapping: ZoneMappingFile): boolean {
  const { when, from, mix, priority, zone, master } = mapping;
  if (carrierOf(file.zones[zone]) !== undefined) return false;
  if (master !== undefined) return false;
  return when === undefined && from === undefined && mix === undefined && priority === 0;
}

/** For each fixture the signal that drives it. */
function drivenBy(
  mapping: ZoneMappingFile | DrivenMappingFile,
  names: readonly string[],
  signals: SignalResolver,
): SignalMappingPlan['by'] {
  if ('zone' in mapping) {
    const people = signals.peopleIn(mapping.zone, mapping.performers);
    const presence = signals.presence(mapping.zone, people, false, mapping.curve);
    return names.map(() => presence);
  }
  if (!('by' in mapping)) return undefined;
  const { by } = mapping;
  return names.map((fixture, at) => signals.signal(by, { fixture, at, count: names.length }));
}

function valuesOf(
  set: MappingFile['set'],
  targets: readonly number[],
  fixtures: readonly FixturePlan[],
  file: TargetsFile,
): ChannelValue[] {
  return targets.flatMap(fixture => {
    const { profile, head, panChannel, tiltChannel } = certain(fixtures[fixture]);
    const { channels } = profile;
    const all = Object.entries(valuesOfLook(set, profile, file.palettes)).map(
      ([attribute, value]): ChannelValue => {
        const channel = channels.findIndex(one => one.attribute === attribute);
        return { fixture, channel, value: physicalIn(certain(channels[channel]), value) };
      },
    );
    const target = set[TARGET];
    if (typeof target !== 'string' || head === undefined) return all;
    const { panDeg, tiltDeg } = aimedAt(head, certain(targetPlace(file, target)));
    return [
      ...all,
      { fixture, channel: panChannel, value: panDeg },
      { fixture, channel: tiltChannel, value: tiltDeg },
    ];
  });
}
