import { ATTRIBUTES, isAttribute } from '../../fixtures/attributes.js';
import { type ProfileOptions, physicalOf } from '../../fixtures/profile.js';
import { attributeHint, byteHint } from '../hints.js';
import { type Finding, listed, type Path, suggestion } from '../problem.js';
import { describe } from '../wording.js';

/** Attribute values against the profile of the fixture that they are for. */
export function checkValues(
  values: Readonly<Record<string, unknown>>,
  profile: ProfileOptions,
  fixture: string,
  path: Path,
): Finding[] {
  const findings: Finding[] = [];
  for (const [attribute, value] of Object.entries(values)) {
    // The aim of a look is a point.
    if (typeof value !== 'number' && typeof value !== 'string') continue;
    const channel = profile.channels.find(one => one.attribute === attribute);
    const at = [...path, attribute];
    if (channel === undefined) {
      findings.push(
        isAttribute(attribute)
          ? {
              code: 'attribute-missing',
              message: `fixture "${fixture}" has no ${attribute}; its profile "${profile.name}" has ${listed(profile.channels.map(one => one.attribute))}.`,
              path: at,
              atKey: true,
            }
          : unknownAttribute(attribute, at),
      );
      continue;
    }
    if (typeof value === 'string') {
      if (physicalOf(channel, value) !== undefined) continue;
      const names = Object.keys(channel.values ?? {});
      findings.push({
        code: 'unknown-name',
        message:
          names.length === 0
            ? `${attribute} of fixture "${fixture}" has no named values; give it a number.`
            : `${attribute} of fixture "${fixture}" has no value ${describe(value)}.${suggestion(value, names)} It has ${listed(names)}.`,
        path: at,
      });
      continue;
    }
    const [low, high] = [Math.min(channel.from, channel.to), Math.max(channel.from, channel.to)];
    if (value < low || value > high) {
      findings.push({
        code: 'attribute-range',
        message: `${attribute} of fixture "${fixture}" goes from ${low} to ${high}, and ${value} is asked.${byteHint(value, high)}`,
        path: at,
      });
    }
  }
  return findings;
}

export function unknownAttribute(attribute: string, path: Path): Finding {
  return {
    code: 'unknown-attribute',
    message: `"${attribute}" is not a GDTF attribute.${attributeHint(attribute) || suggestion(attribute, ATTRIBUTES)}`,
    path,
    atKey: true,
  };
}
