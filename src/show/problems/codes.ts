/**
 * Every code a show file can be refused with: what it means and what would be right. The page
 * docs/reference/show-errors.md is generated from this table.
 */
export const PROBLEM_CODES = {
  'file-unreadable': {
    meaning: 'The show file, or a profile file that it names, could not be read.',
    right:
      'The path of a regular file of at most 4 MiB that this user may read; the path of a profile is relative to the show file. Pipes, devices and folders are not read.',
  },
  'file-unavailable': {
    meaning:
      'The machine could not read the show file, or a profile file, just now: too many files are open, no memory is left, or the disk reports a fault.',
    right:
      'The file is not at fault. `lampwright run` ends with exit code 3, so that the service tries again. If it happens again, check the disk.',
  },
  'file-too-large': {
    meaning:
      'The text is larger than 4 MiB, or has more than 500000 YAML tokens (words and punctuation).',
    right: 'A show file. Even in a large house it has only a few hundred kilobytes.',
  },
  'not-utf8': {
    meaning: 'The file has bytes that are not UTF-8: it is in another encoding, or is not text.',
    right: 'The same text, saved as UTF-8. The message gives the first wrong byte.',
  },
  'reading-failed': {
    meaning:
      'A reload failed: the process that reads the show ran out of memory or time, or could not be started.',
    right:
      'Save it again when the machine is less busy; or use a smaller show file, or a machine with more memory. The running show continues.',
  },
  'no-descriptor-free': {
    meaning:
      'A reload failed: the process that reads the show could not be started, because too many files are open.',
    right:
      'The file is not at fault, and the running show continues. Allow the daemon more open files (`ulimit -n 1024` in its shell, or `LimitNOFILE=` in its unit) and restart it when you can.',
  },
  'yaml-syntax': {
    meaning:
      'The text is not valid YAML: a fault in indentation, a colon, a bracket or a quote; or a key appears twice.',
    right: 'YAML 1.2, indented with spaces, each key once.',
  },
  'newer-format': {
    meaning: 'The show is in a newer format than this lampwright knows.',
    right: 'A newer lampwright. The number in the line `lampwright: N` is the format.',
  },
  'unknown-key': {
    meaning: 'A show file has no such key. Nothing is ignored silently.',
    right: 'One of the keys that the message lists. Usually it is a spelling mistake.',
  },
  'missing-key': {
    meaning: 'A required key is missing; it has no default, because only you can know the value.',
    right: 'The key named in the message.',
  },
  'wrong-type': {
    meaning: 'A value has the wrong type: text instead of a number, one value instead of a list.',
    right: 'The type named in the message.',
  },
  'bad-value': {
    meaning: 'A value is outside its range, or is not one of the allowed words.',
    right: 'A value in the range, or one of the words, named in the message.',
  },
  'range-reversed': {
    meaning: 'The first value of a range is not below the second.',
    right: '`[from, to]` with from below to.',
  },
  'unknown-name': {
    meaning:
      'The name of a performer, zone, fixture, profile, mode or value that the show does not define.',
    right: 'A name that is defined; the nearest one is suggested.',
  },
  'tracker-shared': {
    meaning: 'One tracker is given to two performers, or is worn and listed as a spare.',
    right: 'Each tracker with one performer, or among the spares.',
  },
  'tracker-number': {
    meaning:
      'In a show that hears only PosiStageNet, a tracker is not a number, so it can never be heard.',
    right: 'The number under which the tracking system lists it, from 0 to 65535.',
  },
  'input-port-taken': {
    meaning: 'Two inputs listen on the same address and port.',
    right: 'One input with several routes, or different ports.',
  },
  'route-address': {
    meaning:
      'The address of a route is not an OSC address, or nothing in the route says which tracker it is.',
    right: "Something like /tracker/{tracker}/position, or 'tracker' among the arguments.",
  },
  'route-arguments': {
    meaning: 'The arguments of a route do not make a position.',
    right:
      'x and y once each, the others at most once, optional ones last; or several routes with an axis each, in one unit.',
  },
  'route-axes': {
    meaning: 'The axes of a route use one axis of the feed twice.',
    right: 'Each of x, y and z once, with or without a minus.',
  },
  'desk-heard-twice': {
    meaning: 'A universe of the desk is listed under two names.',
    right: 'One name; its slots may be used in many places.',
  },
  'desk-own-universe': {
    meaning:
      'A universe under `desk` is one that an output of the show sends on the same interface.',
    right: 'Another universe for the desk, with `ground` if ours is to lie on top of it.',
  },
  'slot-orders-twice': {
    meaning: 'One slot of the desk gives two orders.',
    right: 'A slot for each order. It may drive a signal as well.',
  },
  'ground-missing': {
    meaning: 'A fixture takes levels from the desk, but its universe has no ground.',
    right: 'An input under `desk` with `ground` and the universe of the fixture.',
  },
  'ground-twice': {
    meaning: 'A universe of the show lies on two universes of the desk.',
    right: 'One ground for each universe.',
  },
  'ground-hazard': {
    meaning: 'A hazardous attribute would take its level from the desk.',
    right: 'Leave it out: a hazardous output is on only while its enable is held.',
  },
  'zone-shape': {
    meaning: 'A zone has no shape, or two.',
    right: 'Either `circle` or `polygon`.',
  },
  'zone-self-crossing': {
    meaning: 'The edges of a polygon cross or touch, so that inside and outside have no meaning.',
    right: 'Corners in order round the edge.',
  },
  'named-twice': {
    meaning: 'A list of performers or fixtures names one of them twice.',
    right: 'Each name once; perhaps another one was meant.',
  },
  'follow-rule': {
    meaning:
      'A rule by which heads choose whom to follow is incomplete, has a key that does not belong to it, or leaves nobody to choose.',
    right:
      'One of `nearest` (with `to`), `first` (with `in`), `order` (one head for each), `middle` (with a `cover` of the beam) and `share`.',
  },
  'keep-out-shape': {
    meaning: 'A keep-out has no shape, two shapes or an incomplete one; or a sphere has a height.',
    right: 'A `circle` or a `polygon`, with a `height` or without, or a `point` with a `radius`.',
  },
  'keep-out-head': {
    meaning:
      'A fixture cannot stay out of a keep-out: it hangs inside it, or it has no position, no Dimmer to go dark with, or no Pan and Tilt.',
    right:
      'A `height` for the area, `fixtures` with the heads it applies to, or whatever the fixture lacks.',
  },
  'keep-out-lit': {
    meaning: 'A head shines into a keep-out in its safe look, so it would be kept dark there.',
    right: 'Another safe aim, a narrower beam, or a Dimmer of 0 in `safe`.',
  },
  'zone-outside-stage': {
    meaning: 'A zone, or part of its floor plan, lies outside the stage, or all of its height.',
    right: 'A zone within `stage`, or a larger stage.',
  },
  'anchors-too-many': {
    meaning: 'The show has more anchors than `lampwright plan` can handle.',
    right: 'At most 48 anchors, those of one tracking system.',
  },
  'anchors-same-place': {
    meaning: 'Two anchors have the same position.',
    right: 'The true position of each; usually a line was copied.',
  },
  'obstacle-shape': {
    meaning: 'An obstacle has no shape, or two.',
    right: 'Either `box` or `cylinder`.',
  },
  'profile-channels': {
    meaning:
      'The channels of a profile overlap or repeat an attribute, or their range, levels or values do not fit.',
    right: 'Each slot used once, each attribute once, and a range with two different ends.',
  },
  'unknown-attribute': {
    meaning: 'GDTF has no attribute of this name.',
    right: 'A GDTF attribute name; the nearest one is suggested.',
  },
  'attribute-missing': {
    meaning: 'A value is set for an attribute that the profile of the fixture does not have.',
    right: 'An attribute of the profile.',
  },
  'attribute-range': {
    meaning: 'A value is outside the physical range of its channel.',
    right: 'A value within the range named in the message.',
  },
  cells: {
    meaning:
      'A fixture has `cells` but its profile has none, or the name of a cell is taken already.',
    right:
      '`copies` in the channels of its profile, one for each further cell; or another name for the fixture, or for whatever has the name of a cell.',
  },
  'colour-said': {
    meaning:
      'A colour of the palette has no definition, or several, or is outside the spectrum locus, so that no light can have it.',
    right: 'One of `xy` (CIE 1931, not u and v), `kelvin` (with `duv`), `daylight` and `srgb`.',
  },
  'colour-impossible': {
    meaning:
      'A colour is given to a fixture that cannot mix colours, or whose profile does not say what light its emitters, filters or wheel give; or an attribute that the colour sets is set as well.',
    right:
      '`emitter`, `filter` or `xy` in the channels of the profile; or set either the colour or its attributes.',
  },
  'beam-impossible': {
    meaning:
      'A beam is given to a fixture that has no Zoom or Iris, or whose profile does not say how wide the open beam is; or Zoom or Iris is set as well.',
    right: 'Leave the beam out for this fixture; or state `optics: { beamAngle }` in its profile.',
  },
  'patch-past-end': {
    meaning: 'The fixture needs more slots than its universe has left.',
    right: 'A lower address: address + slots - 1 must be at most 512.',
  },
  'patch-overlap': {
    meaning: 'Two fixtures share a slot.',
    right: 'Another address or universe for one of them.',
  },
  'fixture-unpatched': {
    meaning: 'A mapping uses a fixture that is marked `unpatched`, so nothing would be sent to it.',
    right: 'A `universe` and an `address`, and no `unpatched`; or a mapping without it.',
  },
  'placeholder-profile': {
    meaning: 'A patched fixture has the profile `placeholder`, which is only for unpatched ones.',
    right: 'The right profile, or `unpatched: true`.',
  },
  'universe-unreachable': {
    meaning: 'A fixture is patched to a universe that no output sends.',
    right: 'A universe of an output, or an output that sends it.',
  },
  'universe-range': {
    meaning:
      'A universe number is outside the range of its protocol, or a range of universes is reversed.',
    right: 'sACN 1 to 63999, Art-Net 0 to 32767, with `offset` added.',
  },
  'engine-silent-too-short': {
    meaning:
      '`watchdog.engineSilent.after` is less than two periods of the fastest output, so the engine could count as lost between two frames.',
    right: 'At least 2 divided by the highest `rate` of an output; or a higher rate.',
  },
  'universe-sent-twice': {
    meaning: 'Two outputs send the same universe of the same protocol.',
    right: 'One output for it, with all its receivers in `to`, so that there is only one stream.',
  },
  'aim-impossible': {
    meaning: 'A fixture has an aim, but no Pan and Tilt or no position.',
    right: 'A profile with Pan and Tilt, and a `position`; or Pan and Tilt set in degrees.',
  },
  'optics-impossible': {
    meaning:
      'A follow mapping needs an attribute that a fixture lacks: Zoom or Iris for a beam size, Dimmer for an illuminance, Focus1 for a focus.',
    right: 'Fixtures that have the attribute, or a mapping that does not need it.',
  },
  'follow-conflict': {
    meaning:
      'A head would follow two performers at a time; or another mapping sets what the follow mapping drives: Pan, Tilt, and what `beam` and `focus` control.',
    right:
      'One follow mapping per head (in each cue), and none of these attributes in the `set` of another mapping on that head.',
  },
  'hazard-refused': {
    meaning:
      'A fixture or a profile is something that can hurt people, or its name says so: flying, rigging, a lift, moving scenery, pyrotechnics, flame.',
    right:
      "lampwright never drives it: it belongs to the venue's safety staff and to licensed people, on their own controls. If it is a lamp that only has such a name, give it another name, or `hazard: ordinary` if the message offers that.",
  },
  'hazard-safe': {
    meaning: 'The safe look of a hazardous output is not off.',
    right:
      'Dimmer, Fog1 and Haze1 at 0 in `safe`; for a fixture that has none of them, the values in `safe` that turn it off.',
  },
  'hazard-enable': {
    meaning:
      'A hazardous output is driven, but nobody can enable it: the show has no `operator` input.',
    right: 'An `operator` block with the port and the addresses of those who may enable it.',
  },
  'enable-of-nothing': {
    meaning: 'A slot of the desk enables a hazard class, but the show has no output of that class.',
    right:
      'The right class, or `hazard` at the fixture or profile that is meant; or remove the order.',
  },
  'hazard-fade': {
    meaning: 'A hazardous output has a `fade`, but it must go off at once.',
    right: 'The same fixture without a `fade`.',
  },
  'hazard-cue': {
    meaning: 'A cue sets a hazardous output, or a value that makes a fixture strobe.',
    right:
      'Leave it out of `base` and `safe` of the cue; use a mapping, which acts while the enable is held.',
  },
  'name-shared': {
    meaning:
      'Two mappings have the same name, a cue names a mapping twice, or a point of the palette has the name of a fixture or of a performer where either could be meant.',
    right: 'A different name for each, and each mapping at most once in a cue.',
  },
  'cue-name': {
    meaning:
      'A cue is called `next` or `back`, which are orders; or its label is the name or label of another cue.',
    right: 'Another name, or another label.',
  },
  'action-trigger': {
    meaning: 'An action has neither a condition nor a cue, or has both.',
    right: 'Either `condition` or `cue`.',
  },
  'positions-address': {
    meaning:
      'The address under `positions` is not an OSC address, or nothing in the message says whose position it is.',
    right: 'Something like /performer/{performer}/position, or `performer` among the arguments.',
  },
  'positions-trust': {
    meaning: 'Positions are sent without anything that says whether the performer is lost.',
    right: '`confidence`, `tracked` or `state` among its arguments.',
  },
  'positions-loop': {
    meaning: 'Positions are sent to an address at which an input of the same show listens.',
    right: 'Another address, group or port for one of them.',
  },
  'group-members': {
    meaning:
      'A group contains both performers and fixtures, or one of them twice, or another group.',
    right: 'Performers only, or fixtures only, each once.',
  },
  'group-kind': {
    meaning: 'A group of performers is used where fixtures are needed, or the other way round.',
    right: 'A group of the type that the message names.',
  },
  'group-name': {
    meaning: 'A group has the name of a performer or a fixture, or is called `any` or `each`.',
    right: 'A name that nothing else has.',
  },
  'signal-circle': {
    meaning: 'A signal or a condition depends on itself, through others.',
    right: 'Signals and conditions without such a circle; the message shows the path.',
  },
  'signal-depth': {
    meaning: 'Signals or conditions depend on each other more than 100 levels deep.',
    right: 'Fewer steps from the stage to the light: combine several into one.',
  },
  'signal-unit': {
    meaning:
      'Signals with different units are combined, or a signal with a unit is used where 0 to 1 is needed.',
    right:
      'Signals with the same unit; or a `range`, which maps a signal to 0 to 1 and removes the unit.',
  },
  'signal-range': {
    meaning: 'Both ends of a range, or of a section of a line, are the same.',
    right: 'Two different ends.',
  },
  'signal-constant': {
    meaning:
      'A signal never changes: it is a distance between two things that do not move, or from a performer to themselves.',
    right: 'A performer, or a group of them, at one end.',
  },
  'signal-by-fixture': {
    meaning: 'A condition uses a signal that differs from fixture to fixture (`each`, `spread`).',
    right: 'A signal that is the same for all fixtures.',
  },
  'position-missing': {
    meaning: 'A distance is measured to a fixture that has no position.',
    right: 'A `position` for the fixture; it may stand on the floor.',
  },
  'threshold-order': {
    meaning: 'The `off` of a condition is on the wrong side of its `on` or `below`.',
    right: '`off` at or below `on`, or at or above `below`.',
  },
  'threshold-unreachable': {
    meaning: 'A threshold is outside the range of its signal, so the condition would never change.',
    right: 'A threshold within the range that the message gives.',
  },
  'zone-of-their-own': {
    meaning: 'A condition asks whether a performer is in a zone that moves with them.',
    right: 'Another performer, or another zone.',
  },
  'never-acts': {
    meaning:
      'A mapping can never do anything: its condition can never be yes, its signal never above 0, or it sets nothing.',
    right: 'A condition that can be yes, a signal that goes above 0, and attributes to set.',
  },
  'curve-order': {
    meaning: 'The points of a curve or a focus are not in increasing order.',
    right: 'Points in order of their first number, each larger than the one before.',
  },
} as const satisfies Record<string, { meaning: string; right: string }>;

export type ProblemCode = keyof typeof PROBLEM_CODES;
