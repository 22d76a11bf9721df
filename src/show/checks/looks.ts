import { ATTRIBUTES, isAttribute } from '../../fixtures/attributes.js';
import { type ProfileOptions, physicalOf } from '../../fixtures/profile.js';
import { isAsAsked } from '../palettes/beams.js';
import {
  BEAM,
  beamOfLook,
  COLOUR,
  colourOfLook,
  isPaletteWord,
  type LookWords,
  type PalettesFile,
  TARGET,
} from '../palettes/look-values.js';
import { attributeHint, byteHint } from '../problems/hints.js';
import { nameMeant } from '../problems/names.js';
import { type Finding, listed, type Path, suggestion } from '../problems/problem.js';
import { describe } from '../problems/wording.js';
import type { FixtureFault } from './fixture-faults.js';
import { paletteKind } from './names.js';

/** Attribute values against the profile of the fixture that they are for. */
export function checkValues(
  values: LookWords,
  profile: ProfileOptions,
  fixture: string,
  path: Path,
  palettes: PalettesFile,
): FixtureFault[] {
  const findings = [
    ...checkColour(values, profile, fixture, path, palettes),
    ...checkBeam(values, profile, fixture, path, palettes),
  ];
  for (const [attribute, value] of Object.entries(values)) {
    // The aim of a look is a point.
    if (typeof value !== 'number' && typeof value !== 'string') continue;
    if (typeof value === 'number' && (attribute === COLOUR || attribute === TARGET)) {
      const message = `${attribute} is a name from the palettes, not a number.`;
      findings.push({
        fixture,
        code: 'unknown-name',
        message: () => message,
        path: [...path, attribute],
      });
      continue;
    }
    if (isPaletteWord(attribute)) continue;
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
          `${attribute} of ${fixtures} goes from ${low} to ${high}, but the file has ${value}.${byteHint(value, high)}`,
        path: at,
      });
    }
  }
  return findings;
}

/** The colour of a look: it is in the palette, the fixture can mix colours, and nothing else sets the same attributes. */
function checkColour(
  values: LookWords,
  profile: ProfileOptions,
  fixture: string,
  path: Path,
  palettes: PalettesFile,
): FixtureFault[] {
  const name = values[COLOUR];
  if (typeof name !== 'string') return [];
  const at = { fixture, path: [...path, COLOUR] };
  const names = Object.entries(palettes.colours).map(([one, { label }]) => ({ name: one, label }));
  const made = colourOfLook(values, profile, palettes);
  if (made === undefined) {
    const hint =
      names.length === 0
        ? ' palettes has no colours yet: palettes: { colours: { amber: { kelvin: 2200 } } }.'
        : (otherOf(palettes, name) ?? nameMeant(name, names));
    return [{ ...at, code: 'unknown-name', message: () => `there is no colour "${name}".${hint}` }];
  }
  if (typeof made === 'string') {
    return [
      {
        ...at,
        code: 'colour-impossible',
        message: ({ fixtures }) =>
          `colour "${name}" can't be mixed on ${fixtures}: profile "${profile.name}" ${made}.`,
      },
    ];
  }
  const what = `colour "${name}"`;
  return setTwice('colour-impossible', what, Object.keys(made.values), values, fixture, path);
}

/** Attributes that a look sets, and that a word of the palettes sets as well. */
function setTwice(
  code: FixtureFault['code'],
  what: string,
  attributes: readonly string[],
  values: LookWords,
  fixture: string,
  path: Path,
): FixtureFault[] {
  return attributes
    .filter(attribute => Object.hasOwn(values, attribute))
    .map(attribute => ({
      fixture,
      code,
      message: ({ fixtures }) =>
        `${attribute} of ${fixtures} comes from ${what} and can't be set as well.`,
      path: [...path, attribute],
      atKey: true,
    }));
}

/** The beam of a look: it is in the palette or an angle, the fixture can make it, and nothing else sets it. */
function checkBeam(
  values: LookWords,
  profile: ProfileOptions,
  fixture: string,
  path: Path,
  palettes: PalettesFile,
): FixtureFault[] {
  const beam = values[BEAM];
  if (typeof beam !== 'string' && typeof beam !== 'number') return [];
  const at = { fixture, path: [...path, BEAM] };
  const made = beamOfLook(values, profile, palettes);
  if (made === undefined) {
    const names = Object.entries(palettes.beams).map(([name, one]) => ({
      name,
      label: typeof one === 'number' ? undefined : one.label,
    }));
    const hint =
      names.length === 0
        ? ' palettes has no beams yet: palettes: { beams: { tight: 8 } }; or give its angle in degrees.'
        : (otherOf(palettes, beam as string) ?? nameMeant(beam as string, names));
    return [{ ...at, code: 'unknown-name', message: () => `there is no beam "${beam}".${hint}` }];
  }
  const what = typeof beam === 'string' ? `beam "${beam}"` : `a beam of ${beam} degrees`;
  if (typeof made === 'string') {
    return [
      {
        ...at,
        code: 'beam-impossible',
        message: ({ fixtures }) =>
          `${fixtures} can't have ${what}: profile "${profile.name}" ${made}.`,
      },
    ];
  }
  if (typeof beam === 'number' && !isAsAsked(made.angleDeg, beam)) {
    return [
      {
        ...at,
        code: 'attribute-range',
        message: ({ fixtures }) =>
          `${what} is too much or too little for ${fixtures}; the nearest is ${Number(made.angleDeg.toFixed(2))} degrees.`,
      },
    ];
  }
  return setTwice('beam-impossible', what, Object.keys(made.values), values, fixture, path);
}

/** If the palettes have the name for something else. */
function otherOf(palettes: PalettesFile, name: string): string | undefined {
  const is = paletteKind(palettes, name);
  return is === undefined ? undefined : ` "${name}" is ${is}.`;
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
  const { code, message } = /^color$/i.test(attribute)
    ? {
        code: 'unknown-attribute' as const,
        message: `"${attribute}" is not a key of a look. Did you mean "colour"?`,
      }
    : unknownAttribute(attribute, []);
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
