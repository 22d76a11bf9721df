import { type Attribute, attributeClass } from '../../fixtures/attributes.js';
import {
  type HazardClass,
  isRefused,
  type RawRange,
  type RefusedClass,
  worstHazard,
} from '../../safety/hazard.js';
import { isFlashing } from '../../safety/hazard-words.js';
import { own } from '../../stage/own.js';
import type { FixtureFile, ShowFile } from '../schema/schema.js';
import { modeFileFor, namedLevels } from './profiles.js';

/**
 * Hazard class of each channel of a fixture: the worst of what its fixture, its profile, the channel and
 * its attribute say. What else a machine for fog or haze has serves it (pump, heater, valve), unless its channel says
 * otherwise. Pan and tilt hurt nobody: they follow the fixture's own way to its safe look.
 */
export function channelHazards(
  file: ShowFile,
  fixture: FixtureFile,
  attributes: readonly Attribute[],
): HazardClass[] {
  const whole = fixtureHazard(file, fixture);
  const channels = modeFileFor(file, fixture)?.channels ?? [];
  const beside = attributes.some(isAtmospheric) ? 'atmospheric' : 'ordinary';
  return attributes.map(attribute => {
    const own = channels.find(one => one.attribute === attribute)?.hazard;
    const implied = worstHazard(taken(own ?? beside), hazardOfAttribute(attribute));
    return attributeClass(attribute) === 'movement' ? implied : worstHazard(whole, implied);
  });
}

/**
 * Raw values of each channel at which it flashes by itself, found by their names in the profile: for a shutter that
 * also opens and closes, only these are a strobe. undefined if there are none.
 */
export function strobeRaws(
  file: ShowFile,
  fixture: FixtureFile,
  attributes: readonly Attribute[],
): (readonly RawRange[] | undefined)[] {
  const channels = modeFileFor(file, fixture)?.channels ?? [];
  return attributes.map(attribute => {
    const values = channels.find(one => one.attribute === attribute)?.values ?? {};
    const ranges = Object.entries(values)
      .filter(([name]) => isFlashing(name))
      .map(([, at]): RawRange => namedLevels(at));
    return ranges.length === 0 ? undefined : ranges;
  });
}

/** Hazard class of a fixture as a whole: with any class but `ordinary` it goes off at once. */
export function fixtureHazard(file: ShowFile, fixture: FixtureFile): HazardClass {
  const profile = own(file.profiles, fixture.profile);
  const ofProfile = profile === undefined || 'file' in profile ? undefined : profile.hazard;
  return worstHazard(taken(fixture.hazard), taken(ofProfile));
}

/** What an attribute is by its nature, whatever the file says. */
function hazardOfAttribute(attribute: Attribute): HazardClass {
  switch (attribute) {
    case 'Shutter1Strobe':
    case 'Shutter2Strobe':
    case 'StrobeDuration':
    case 'StrobeRate':
      return 'strobe';
    default:
      return isAtmospheric(attribute) ? 'atmospheric' : 'ordinary';
  }
}

/** Fog, haze, and what GDTF calls the fan and the blower of such a machine (DIN SPEC 15800:2022-02, Annex A). */
export function isAtmospheric(attribute: string): boolean {
  return ['Fog1', 'Haze1', 'Fan1', 'Blower1'].includes(attribute);
}

/** Whether a hazardous channel of this attribute has to be at nothing in the safe look. */
export function mustBeOff(attribute: Attribute): boolean {
  return attributeClass(attribute) === 'intensity' || attribute === 'Fog1' || attribute === 'Haze1';
}

function taken(hazard: HazardClass | RefusedClass | undefined): HazardClass | undefined {
  return hazard === undefined || isRefused(hazard) ? undefined : hazard;
}
