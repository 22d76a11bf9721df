/**
 * Every code a show file can be refused with: what it means and what would be right. The page
 * docs/reference/show-errors.md is generated from this table.
 */
export const PROBLEM_CODES = {
  'file-unreadable': {
    meaning: 'The show file, or a profile file that it names, could not be read.',
    right:
      'A path to a regular file of at most 4 MiB that this user may read; that of a profile counts from the show file. Pipes, devices and folders are not read.',
  },
  'file-unavailable': {
    meaning:
      'The machine could not read the show file, or a profile file, just now: too many files are open, no memory is left, or the disk reports a fault.',
    right:
      'Nothing in the file is at fault. `lampwright run` ends with exit code 3, so that the service tries again; look at the disk if it stays so.',
  },
  'file-too-large': {
    meaning: 'The text is larger than 4 MiB, or has more than 500000 words and signs.',
    right: 'A show file; one of a large house is a few hundred kilobytes.',
  },
  'not-utf8': {
    meaning: 'The file has bytes that are not UTF-8 text: another encoding, or no text at all.',
    right: 'The same text, saved as UTF-8; the message says at which byte the first fault is.',
  },
  'reading-failed': {
    meaning:
      'A running show was to be read again, and the process that reads it ran out of memory or time, or could not be started.',
    right:
      'Save it again when the machine is less busy; or a smaller show file, or a machine with memory to spare. The running show goes on.',
  },
  'no-descriptor-free': {
    meaning:
      'A running show was to be read again, and no process could be started to read it: too many files are open.',
    right:
      'Nothing in the file is at fault. Allow the daemon more (`ulimit -n 1024` in its shell, or `LimitNOFILE=` in its unit) and start it again; the running show goes on.',
  },
  'yaml-syntax': {
    meaning:
      'The text is not YAML: indentation, a colon, a bracket or a quote; or a key appears twice.',
    right: 'YAML 1.2, indented with spaces, each key once.',
  },
  'newer-format': {
    meaning: 'The show is of a format that this lampwright does not know yet.',
    right:
      'A lampwright as new as the file: the number in its line `lampwright: N` is that of its format.',
  },
  'unknown-key': {
    meaning: 'A key that a show file does not have. Nothing is ignored silently.',
    right: 'One of the keys named in the message; it is usually a spelling mistake.',
  },
  'missing-key': {
    meaning: 'Something only you can know is missing.',
    right: 'The key named in the message.',
  },
  'wrong-type': {
    meaning: 'A value of a different kind than expected: text for a number, one value for a list.',
    right: 'The kind named in the message.',
  },
  'bad-value': {
    meaning: 'A value outside its range, or not one of the words allowed.',
    right: 'A value in the range, or one of the words, named in the message.',
  },
  'range-reversed': {
    meaning: 'A range whose first value is not below its second.',
    right: '`[from, to]` with from below to.',
  },
  'unknown-name': {
    meaning:
      'A performer, zone, fixture, profile, mode or value is named that the show does not define.',
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
      'The address of a route is not an OSC address, or does not say where the tracker stands.',
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
    meaning: 'A universe of the desk is heard under two names.',
    right: 'One name; its slots may be used in many places.',
  },
  'desk-own-universe': {
    meaning:
      'A universe is to be heard from a desk that an output of the show sends on that interface.',
    right: 'Another universe for the desk, with `ground` where ours is to lie on it.',
  },
  'slot-orders-twice': {
    meaning: 'One slot of the desk orders two things.',
    right: 'A slot for each order. A slot may drive a signal besides.',
  },
  'ground-missing': {
    meaning: 'A fixture takes levels from the desk, and its universe has no ground.',
    right: 'An input under `desk` with `ground` and the universe of the fixture.',
  },
  'ground-twice': {
    meaning: 'A universe of the show lies on two universes of the desk.',
    right: 'One ground for each universe.',
  },
  'ground-hazard': {
    meaning: 'A hazardous attribute is to take the level of the desk.',
    right: 'It is left out: such an output moves only while its enable is held.',
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
    right: 'Each once; where it is a slip, the one that was meant.',
  },
  'follow-rule': {
    meaning:
      'A rule by which heads choose whom to follow says too little, what it does not take, or leaves nobody to choose.',
    right:
      'One of `nearest` (with `to`), `first` (with `in`), `order` (one head for each), `middle` (with a `cover` of the beam) and `share`.',
  },
  'keep-out-shape': {
    meaning: 'A keep-out has no shape, or two, or half of one; or a ball has a height.',
    right: 'A `circle` or a `polygon`, with a `height` or without, or a `point` with a `radius`.',
  },
  'keep-out-head': {
    meaning:
      'A fixture could not stay out of a keep-out: it hangs inside it, has no position, no Dimmer to go dark with, or no Pan and Tilt.',
    right:
      'A `height` for the area, `fixtures` with the heads it applies to, or what the fixture is missing.',
  },
  'keep-out-lit': {
    meaning: 'A head shines into a keep-out in its safe look, so that it would be held dark there.',
    right: 'Another safe aim, a narrower beam, or a Dimmer of 0 in `safe`.',
  },
  'zone-outside-stage': {
    meaning: 'A zone, or part of it, lies outside of the stage.',
    right: 'A zone within `stage`, or a larger stage.',
  },
  'anchors-too-many': {
    meaning: 'The show has more anchors than can be planned together.',
    right: 'At most 48: those of one tracking system.',
  },
  'anchors-same-place': {
    meaning: 'Two anchors stand at the same place.',
    right: 'Each anchor where it hangs; usually a line was copied.',
  },
  'obstacle-shape': {
    meaning: 'An obstacle has no shape, or two.',
    right: 'Either `box` or `cylinder`.',
  },
  'profile-channels': {
    meaning:
      'The channels of a profile overlap, repeat an attribute, or have no range, levels or values that fit.',
    right: 'Each slot used once, each attribute once, and a range with two different ends.',
  },
  'unknown-attribute': {
    meaning: 'An attribute name that GDTF does not know.',
    right: 'A GDTF attribute name; the nearest one is suggested.',
  },
  'attribute-missing': {
    meaning: 'A value is set for an attribute that the profile of the fixture does not have.',
    right: 'An attribute of the profile.',
  },
  'attribute-range': {
    meaning: 'A value lies outside of the physical range of its channel.',
    right: 'A value within the range named in the message.',
  },
  cells: {
    meaning:
      'A fixture is to be taken apart into cells, and its profile has none, or a cell would have a name that is taken.',
    right:
      '`copies` in the channels of its profile, one for each further cell; another name for the fixture or for what has that of a cell.',
  },
  'colour-said': {
    meaning:
      'A colour of the palette does not say what it is, says it in several ways, or is none that light can have: outside of the spectrum locus.',
    right: 'One of `xy` (CIE 1931, not u and v), `kelvin` (with `duv`), `daylight` and `srgb`.',
  },
  'colour-impossible': {
    meaning:
      'A colour is given to a fixture that has nothing to make it with, or whose profile does not say what its emitters, filters or wheel give; or an attribute that the colour sets is set as well.',
    right:
      '`emitter`, `filter` or `xy` in the channels of the profile; a colour, or its attributes one by one.',
  },
  'beam-impossible': {
    meaning:
      'A beam is given to a fixture that has no Zoom or Iris, or of whose open beam the profile does not say how wide it is; or Zoom or Iris is set as well.',
    right: 'Leave the beam out for this fixture; or state `optics: { beamAngle }` in its profile.',
  },
  'patch-past-end': {
    meaning: 'The fixture needs more slots than its universe has left.',
    right: 'An address so that address + slots - 1 is at most 512.',
  },
  'patch-overlap': {
    meaning: 'Two fixtures share a slot.',
    right: 'Another address or universe for one of them.',
  },
  'fixture-unpatched': {
    meaning:
      'A mapping uses a fixture that is marked as `unpatched`, so that nothing would be sent to it.',
    right: 'A `universe` and an `address`, and no `unpatched`; or a mapping without it.',
  },
  'placeholder-profile': {
    meaning:
      'A fixture that is patched has the profile `placeholder`, which is for unpatched ones.',
    right: 'The profile of its kind, or `unpatched: true`.',
  },
  'universe-unreachable': {
    meaning: 'A fixture is patched to a universe that no output sends.',
    right: 'A universe of an output, or an output that sends it.',
  },
  'universe-range': {
    meaning:
      'A universe is outside what its protocol can carry, or a range of universes is reversed.',
    right: 'sACN 1 to 63999, Art-Net 0 to 32767, after `offset` is added.',
  },
  'engine-silent-too-short': {
    meaning:
      '`watchdog.engineSilent.after` is less than two periods of the fastest output: between two frames the engine would count as lost.',
    right: 'At least 2 divided by the highest `rate` of an output; or a higher rate.',
  },
  'universe-sent-twice': {
    meaning: 'Two outputs send the same universe of the same protocol.',
    right: 'One output for it, with all its receivers in `to`: one stream, one sequence.',
  },
  'aim-impossible': {
    meaning: 'A fixture is to aim, but has no Pan and Tilt or no position.',
    right: 'A profile with Pan and Tilt, and a `position`; or Pan and Tilt set in degrees.',
  },
  'optics-impossible': {
    meaning:
      'A follow mapping asks of the optics what a fixture lacks: a beam size without Zoom or Iris, an illuminance without Dimmer, a focus without Focus1.',
    right: 'Fixtures that have it, or a mapping without it.',
  },
  'follow-conflict': {
    meaning:
      'A head is to follow two performers at a time, or one that follows is given by a mapping what the following drives: Pan, Tilt, and what `beam` and `focus` hold.',
    right:
      'One follow mapping a head (in each cue), and none of these in the `set` of a mapping that touches it.',
  },
  'hazard-refused': {
    meaning:
      'A fixture or a profile is, or is called like, something that can hurt people: flying, rigging, a lift, moving scenery, pyrotechnics, flame.',
    right:
      "Nothing here drives it: the venue's safety staff and licensed people decide, on their own controls. A lamp that is only called so gets another name, or `hazard: ordinary` where the message offers it.",
  },
  'hazard-safe': {
    meaning: 'The safe look of a hazardous output is not off.',
    right:
      'Dimmer, Fog1 and Haze1 at 0 in `safe`; where a fixture has none of them, `safe` says what off is.',
  },
  'hazard-enable': {
    meaning:
      'A hazardous output is driven, and nobody can enable it: the show has no `operator` input.',
    right: 'An `operator` block with the port and the addresses of those who may enable it.',
  },
  'enable-of-nothing': {
    meaning: 'A slot of the desk enables a class of which the show has no output.',
    right:
      'The class that the output is of, or `hazard` with the fixture or profile that is meant; otherwise no such order.',
  },
  'hazard-fade': {
    meaning: 'A hazardous output has a `fade`; it drops at once.',
    right: 'The same fixture without a `fade`.',
  },
  'hazard-cue': {
    meaning: 'A cue sets a hazardous output, or a value at which a fixture strobes.',
    right:
      'The `base` and `safe` of a cue without it; what it does is up to a mapping, while its enable is held.',
  },
  'name-shared': {
    meaning: 'Two mappings have one name, or a cue names a mapping twice.',
    right: 'A name of its own for each mapping, once in a cue.',
  },
  'cue-name': {
    meaning:
      'A cue is called `next` or `back`, which are orders; or by its label like another one.',
    right: 'Another name, or another label.',
  },
  'action-trigger': {
    meaning: 'An action does not say when it is due, or says it twice.',
    right: 'A condition, or a cue.',
  },
  'positions-address': {
    meaning:
      'The address of an output of positions is not an OSC address, or nothing in it says whose position it is.',
    right: 'Something like /performer/{performer}/position, or `performer` among the arguments.',
  },
  'positions-trust': {
    meaning: 'An output of positions could not say that somebody is lost.',
    right: '`confidence`, `tracked` or `state` among its arguments.',
  },
  'positions-loop': {
    meaning: 'Positions go out to where an input of the same show listens.',
    right: 'Another address, group or port for one of them.',
  },
  'group-members': {
    meaning: 'A group has performers and fixtures, one of them twice, or another group.',
    right: 'Performers only, or fixtures only, each once.',
  },
  'group-kind': {
    meaning: 'A group of performers is used where fixtures are needed, or the other way round.',
    right: 'A group of the kind that the message names.',
  },
  'group-name': {
    meaning: 'A group is called like a performer or a fixture, or `any` or `each`.',
    right: 'A name that nothing else has.',
  },
  'signal-circle': {
    meaning: 'A signal or a condition depends on itself, through others.',
    right: 'Signals and conditions without such a circle; the message shows it.',
  },
  'signal-depth': {
    meaning: 'Signals or conditions depend on each other more than 100 deep.',
    right: 'Fewer steps from the stage to the light: combine several into one.',
  },
  'signal-unit': {
    meaning:
      'Signals of different units are put together, or one with a unit stands where 0 to 1 is needed.',
    right:
      'Signals of one unit; or a `range`, which says what is 0 and what is 1, and takes the unit away.',
  },
  'signal-range': {
    meaning: 'Both ends of a range, or of a part of a line, are the same.',
    right: 'Two different ones.',
  },
  'signal-constant': {
    meaning:
      'A signal that never changes: a distance between two things that stay, or from somebody to themselves.',
    right: 'A performer, or a group of them, at one end.',
  },
  'signal-by-fixture': {
    meaning: 'A condition asks a signal that differs from fixture to fixture (`each`, `spread`).',
    right: 'A signal that is one for all.',
  },
  'position-missing': {
    meaning: 'A distance to a fixture whose position the show does not have.',
    right: 'A `position` of the fixture; it may be on the floor.',
  },
  'threshold-order': {
    meaning: 'The `off` of a condition is beyond its `on` or `below`.',
    right: '`off` at or below `on`, or at or above `below`.',
  },
  'threshold-unreachable': {
    meaning:
      'A threshold lies beyond anything its signal can be: the condition would always be the same.',
    right: 'A threshold between the least and the greatest that the message names.',
  },
  'zone-of-their-own': {
    meaning: 'A condition asks whether somebody is in a zone that moves with them.',
    right: 'Other performers.',
  },
  'never-acts': {
    meaning:
      'A mapping can never do anything: its condition can never be yes, its signal never above 0, or it sets nothing.',
    right: 'A condition that can be yes, a signal that goes above 0, and attributes to set.',
  },
  'curve-order': {
    meaning: 'The points of a curve, or of a focus, go backwards.',
    right: 'Points whose first number grows from one to the next.',
  },
} as const satisfies Record<string, { meaning: string; right: string }>;

export type ProblemCode = keyof typeof PROBLEM_CODES;
