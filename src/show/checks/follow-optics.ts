import { attributeClass } from '../../fixtures/attributes.js';
import type { ProfileOptions } from '../../fixtures/profile.js';
import type { Finding, Path } from '../problems/problem.js';
import type { FollowMappingFile } from '../schema/mappings.js';

/** Whether a fixture has what a follow mapping asks of its optics. */
export function checkFollowOptics(
  mapping: FollowMappingFile,
  profile: ProfileOptions,
  name: string,
  path: Path,
): Finding[] {
  const findings: Finding[] = [];
  const channelOf = (attribute: string) =>
    profile.channels.find(channel => channel.attribute === attribute);
  const add = (key: string, message: string) =>
    findings.push({ code: 'optics-impossible', message, path: [...path, key], atKey: true });
  const { beam, compensate, focus } = mapping;
  const zoom = channelOf('Zoom');
  if (beam?.by === 'zoom' && zoom === undefined) {
    const hint = channelOf('Iris') === undefined ? '' : ' It has an Iris: by: iris.';
    add('beam', `fixture "${name}" has no Zoom to hold the size of its beam with.${hint}`);
  }
  if (beam?.by === 'iris') {
    const { beamAngleDeg, fieldAngleDeg } = profile.optics ?? {};
    if (channelOf('Iris') === undefined) {
      add('beam', `fixture "${name}" has no Iris to hold the size of its beam with.`);
    } else if (zoom === undefined && beamAngleDeg === undefined && fieldAngleDeg === undefined) {
      add(
        'beam',
        `the beam width of fixture "${name}" with the iris open is not known; its profile "${profile.name}" needs optics: { beamAngle: degrees }.`,
      );
    }
  }
  const hasIntensity = profile.channels.some(
    channel => attributeClass(channel.attribute) === 'intensity',
  );
  if (compensate !== undefined && !hasIntensity) {
    add('compensate', `fixture "${name}" has no Dimmer to hold its illuminance with.`);
  }
  if (focus !== undefined) findings.push(...checkFocus(focus, profile, name, path));
  return findings;
}

/** Limits that leave nothing to do. */
export function checkRoom({ beam, compensate }: FollowMappingFile, path: Path): Finding[] {
  const findings: Finding[] = [];
  if (beam?.cover !== undefined && beam.cover <= beam.diameter) {
    const message = `the beam could never open: \`cover\` is its largest diameter, and ${beam.cover} m is not more than its \`diameter\`, ${beam.diameter} m.`;
    findings.push({ code: 'optics-impossible', message, path: [...path, 'beam', 'cover'] });
  }
  if (compensate !== undefined && compensate.least === 1 && compensate.most === 1) {
    const message = `compensate could never act: between \`least\` 1 and \`most\` 1 the intensity never changes.`;
    findings.push({
      code: 'optics-impossible',
      message,
      path: [...path, 'compensate'],
      atKey: true,
    });
  }
  return findings;
}

function checkFocus(
  points: NonNullable<FollowMappingFile['focus']>,
  profile: ProfileOptions,
  name: string,
  path: Path,
): Finding[] {
  const channel = profile.channels.find(one => one.attribute === 'Focus1');
  if (channel === undefined) {
    const message = `fixture "${name}" has no Focus1 to focus with.`;
    return [{ code: 'optics-impossible', message, path: [...path, 'focus'], atKey: true }];
  }
  const findings: Finding[] = [];
  const [low, high] = [Math.min(channel.from, channel.to), Math.max(channel.from, channel.to)];
  points.forEach(([, value], i) => {
    if (value >= low && value <= high) return;
    findings.push({
      code: 'attribute-range',
      message: `Focus1 of fixture "${name}" goes from ${low} to ${high}, but the file has ${value}.`,
      path: [...path, 'focus', i, 1],
    });
  });
  return findings;
}

/** Attributes that a follow mapping drives, so that no `set` may. */
export function heldBy({ beam, focus }: FollowMappingFile): string[] {
  const held = ['Pan', 'Tilt'];
  if (beam !== undefined) held.push(beam.by === 'zoom' ? 'Zoom' : 'Iris');
  if (focus !== undefined) held.push('Focus1');
  return held;
}
