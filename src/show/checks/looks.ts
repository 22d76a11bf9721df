import { ATTRIBUTES, isAttribute } from '../../fixtures/attributes.js';
import { type ProfileOptions, physicalOf } from '../../fixtures/profile.js';
import { attributeHint, byteHint } from '../hints.js';
import { type Finding, listed, type Path, suggestion } from '../problem.js';
import { describe } from '../wording.js';
import type { FixtureFault } from './fixture-faults.js';

/** Attribute values against the profile of the fixture that they are for. */
export function checkValues(
  values: Readonly<Record<string, unknown>>,
  profile: ProfileOptions,
  fixture: string,
  path: Path,
): FixtureFault[] {
  const findings: FixtureFault[] = [];
  for (const [attribute, value] of Object.entries(values)) {
    // The aim of a look is a point.
    if (typeof value !== 'number' && typeof value !== 'string') continue;
    const channel = profile.channels.find(one => one.attribute === attribute);
    const at = [...path, attribute];
    if (channel === undefined) {
      findings.push({ fixture, path: at, atKey: true, ...missingChannel(attribute, profile) });
      continue;
    }
    if (typeof value === 'string') {
      if (physicalOf(channel, value) !== undefined) continue;
      const names = Object.keys(channel.values ?? {});
      findings.push({
        fixture,
        code: 'unknown-name',
        message: ({ fixtures }) =>
          names.length === 0
            ? `${attribute} of ${fixtures} has no named values; give it a number.`
            : `${attribute} of ${fixtures} has no value ${describe(value)}.${suggestion(value, names)} It has ${listed(names)}.`,
        path: at,
      });
      continue;
    }
    const [low, high] = [Math.min(channel.from, channel.to), Math.max(channel.from, channel.to)];
    if (value < low || value > high) {
      findings.push({
        fixture,
        code: 'attribute-range',
        message: ({ fixtures }) =>
          `${attribute} of ${fixtures} goes from ${low} to ${high}, and ${value} is asked.${byteHint(value, high)}`,
        path: at,
      });
    }
  }
  return findings;
}

function missingChannel(
  attribute: string,
  { name, channels }: ProfileOptions,
): Pick<FixtureFault, 'code' | 'message'> {
  if (isAttribute(attribute)) {
    const has = listed(channels.map(one => one.attribute));
    return {
      code: 'attribute-missing',
      message: ({ fixtures, several }) =>
        `${fixtures} ${several ? 'have' : 'has'} no ${attribute}; ${several ? 'their' : 'its'} profile "${name}" has ${has}.`,
    };
  }
  const { code, message } = unknownAttribute(attribute, []);
  return {
    code,
    message: ({ fixtures, several }) =>
      several ? `${message} It is given to ${fixtures}.` : message,
  };
}

export function unknownAttribute(attribute: string, path: Path): Finding {
  return {
    code: 'unknown-attribute',
    message: `"${attribute}" is not a GDTF attribute.${attributeHint(attribute) || suggestion(attribute, ATTRIBUTES)}`,
    path,
    atKey: true,
  };
}
