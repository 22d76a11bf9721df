/** A show with warnings is valid and runs, but is probably not what was meant. */
export const WARNING_CODES = {
  'older-format': {
    meaning: 'The show has an older format. It is read by the rules of that format.',
    right:
      'The changes that the message lists, and then the new number in the line `lampwright: N`.',
  },
  'position-far': {
    meaning:
      'A fixture hangs, or a point of the palette or all of a keep-out lies, more than 100 m from the stage, or 20 m below or 60 m above its floor.',
    right: 'Its place in metres, in the stage frame.',
  },
  'colour-off': {
    meaning:
      "A fixture can't make a colour that it is given: it is more than 0.003 in u'v' from anything that its emitters, filters or wheel can make.",
    right: 'A colour within reach, or the nearest one that the fixture has, if that will do.',
  },
  'colour-dim': {
    meaning:
      'A colour asks for more luminance than the fixture can give in it; it is as bright as it can be.',
    right: 'A lower `luminance`, which all of the fixtures have.',
  },
  'beam-off': {
    meaning:
      "A fixture can't make a beam of the palette that it is given: its Zoom and Iris do not reach that far.",
    right: 'A beam within its range, or the nearest one, if that will do.',
  },
  'target-off': {
    meaning:
      "A head can't aim at a target: its Pan or Tilt ends before it, or it hangs there itself.",
    right: 'Another target, or another head; or the right positions.',
  },
  'colour-assumed': {
    meaning:
      'A profile does not say what colours its emitters or filters are. Red, green and blue are taken for those of sRGB, and others stay dark.',
    right: '`emitter` (or `filter`) in its channels, from the maker or measured.',
  },
  'larger-than-stage': {
    meaning: 'The feather of a zone, or a beam, is wider than the stage.',
    right: 'A width in metres that fits on the stage.',
  },
  'cue-fire': {
    meaning: 'Two cues have the same condition in `fire`; it takes the first of them in the file.',
    right: 'A separate condition for each, or `fire` in only one of them.',
  },
  'cue-fire-number': {
    meaning:
      'The condition in the `fire` of a cue depends on an OSC number that becomes unknown after its `timeout`. Unknown to yes does not count as no to yes, so a sender that sends only changes never takes the cue.',
    right: '`timeout: never` in the signal, or a sender that repeats its number more often.',
  },
  'cue-lit': {
    meaning:
      'A fixture that mappings drive in other cues stays lit in this one: its `base` is lit, no mapping of the cue touches it, and the cue does not mention it.',
    right:
      'A Dimmer in the `base` of the cue, 0 or whatever is meant; or a mapping that acts in it.',
  },
  'scale-alone': {
    meaning:
      'A mapping with `mix: scale` acts on a lamp that nothing lights, in the cue or in the show. It has nothing to scale, but its performers still drive the lamp: losing one brings up the safe value.',
    right:
      'A separate mapping for the lamps that are lit in that cue; or a safe value of 0, if light is not needed there.',
  },
  'mapping-unused': {
    meaning: 'A show has cues, and a mapping acts in none of them.',
    right: 'Its name in a cue, or `always: true`.',
  },
  'exit-on-stage': {
    meaning:
      'An exit covers a tenth or more of a zone that drives light, or a quarter or more of the stage. Whoever falls silent in an exit is off stage, and not lost.',
    right: 'An exit where people leave, not where they act.',
  },
  'safe-colour': {
    meaning:
      'A light that mappings or cues colour is lit in the safe look, and neither `base` nor `safe` says its colour: it has the default of its profile, usually white.',
    right: 'The colour in `safe`, whatever it is.',
  },
  'safe-dark': {
    meaning:
      'No lamp of the show is lit in the safe look, and the file does not say of all of them that this is meant. The stage has this look when nobody is followed any more, or when the engine is gone.',
    right:
      'A Dimmer in the `safe` of some lamps; or, if there is always another light by which people find their way, `safe: { Dimmer: 0 }` of each.',
  },
  'safe-full': {
    meaning:
      'The safe look of a lamp is full only because its `base` is; `safe` does not mention it.',
    right: 'A Dimmer in `safe`: somebody should decide it, and walk the stage in it.',
  },
  'noise-large': {
    meaning: 'The noise of the tracking is more than 1.5 m.',
    right: 'Metres: 0.08 for 8 centimetres.',
  },
  'time-long': {
    meaning:
      'A time of the watchdog is longer than 30 s until it acts or 60 s for a fade, or a fade of a mapping longer than 120 s, or one of a cue longer than 600 s.',
    right: 'Seconds: 0.5 for 500 milliseconds.',
  },
  'share-for-per-cent': {
    meaning: 'A value in per cent that is above 0 and not above 1.',
    right: 'Per cent: 75 for three quarters, 100 for full.',
  },
  'worn-too-high': {
    meaning: 'A tracker is worn higher than its performer is tall.',
    right: 'Both are metres above the floor: a `wornAt` below `height`, or the true height.',
  },
  'performer-unused': {
    meaning: 'No mapping uses the position of this performer.',
    right: 'A mapping for them, or a show without them.',
  },
  'zone-unused': {
    meaning: 'No mapping uses this zone.',
    right: 'A mapping for it, or a show without it.',
  },
  'palette-unused': {
    meaning: 'No look names this colour, point or beam of the palettes.',
    right: 'A look with it, or palettes without it.',
  },
  'cue-wheel': {
    meaning:
      'A fixture can be lit in a cue and in the next, by its base or by mappings, and one of its wheels has a different position: the change is visible.',
    right: 'A cue between them in which it is dark, if the change should not be seen.',
  },
  'beam-room': {
    meaning:
      "A mapping asks for a beam width that a head can have nowhere on the stage, or for a `cover` to which it can't open: with a `middle`, performers who are farther apart then stand outside the beam.",
    right: 'A width that its Zoom or Iris has at these distances; or another head.',
  },
  'choice-of-one': {
    meaning: 'A rule by which heads choose has one performer to choose from.',
    right: '`follow: NAME`, or more performers to choose from.',
  },
  'reference-far': {
    meaning:
      'The `reference` of a `compensate` is a throw at which nobody on the stage can be, so that the light is always turned down, or always up.',
    right: 'Metres, from the head to where the Dimmer was set: 8 for 800 centimetres.',
  },
  'offset-far': {
    meaning: 'An `offset` aims more than 10 m beside whoever is followed.',
    right: 'Metres: [0, 0, 1.2] for 120 centimetres.',
  },
  'position-twice': {
    meaning: 'Two moving heads have exactly the same position.',
    right: 'Where each of them hangs; one of the lines was probably copied.',
  },
  'keep-out-idle': {
    meaning: 'No head can shine into this keep-out: none is included, or none reaches it.',
    right:
      'Its place in the stage frame, in metres; the heads that it concerns; or a show without it.',
  },
  'signal-unused': {
    meaning: 'Nothing is driven by this signal.',
    right: 'A mapping or a condition for it, or a show without it.',
  },
  'stamp-missing': {
    meaning:
      'An input has routes with a `stamp` and routes without one. A position without a stamp then counts as coming from a tracking system whose clock is gone, and nobody is followed by it.',
    right: 'A separate input, at another port, for the trackers that send no stamp.',
  },
  'sender-shut-out': {
    meaning:
      'An input refuses who is to send to it: its `allow` has this machine only, though it listens to a network; or the `operator` of two machines does not allow the other machine, or listens where that one is not heard. What they send is dropped and counted (`sender-not-allowed`).',
    right:
      'Each sender in `allow`, also both machines of a pair, and `listen: 0.0.0.0` or the address on their network.',
  },
  'signal-on-route': {
    meaning: 'An OSC number has an address at which positions come in.',
    right:
      'Another address: what arrives there is a position of a tracker, and the number is never heard.',
  },
  'desk-unused': {
    meaning: 'A universe of the desk is heard, and nothing uses it.',
    right: 'A signal or an order by its slots, a `ground`, or a show without it.',
  },
  'condition-unused': {
    meaning: 'No mapping, cue or signal uses this condition.',
    right: 'A mapping or a cue for it, or a show without it.',
  },
  'colour-steps': {
    meaning:
      "A colour is so dim that the steps of the fixture's slots put it more than 0.003 in u'v', or 2 % in luminance, off.",
    right: 'More `luminance` under a lower Dimmer, or 16 bits for the emitters.',
  },
  'follow-lit': {
    meaning:
      "A fixture follows somebody but has no Dimmer of its own, like the body of a bar of cells: it can't go dark in a loss, and moves while lit.",
    right:
      'Mappings by the same people for its lit parts, so that it goes dark with them; or no follow.',
  },
  'copies-uneven': {
    meaning:
      'A channel of a profile has fewer `copies` than another, and not one for as many cells each: the last cells have no such channel, or, where each cell is a light of its own, all share it.',
    right: 'One entry in `copies` for each further cell.',
  },
  'highlight-shut': {
    meaning:
      'The highlight of a profile leaves its shutter closed, so that nobody sees the beam while they focus: it says a closed value, or none while the base look has it closed.',
    right: '`highlight: open` at the shutter, by the name that the profile gives it.',
  },
  'keep-out-base': {
    meaning:
      'A head shines into a keep-out, or within the degree off it that it needs to come up, as `base`, a cue or the `set` of a mapping has it, and is held dark.',
    right: 'Another aim or a narrower beam there, or a Dimmer of 0.',
  },
  'keep-out-beam': {
    meaning: 'A head has to stay out of a keep-out, but the width of its beam is not known.',
    right: 'A `fieldAngle` in the `optics` of its profile, in degrees.',
  },
  'keep-out-unlit': {
    meaning:
      'A head follows performers, and there is a zone in which it can light nobody: its beam would touch a keep-out.',
    right: 'Another head for that zone, or no change if this is what you want.',
  },
  'fixture-unused': {
    meaning: 'No mapping touches a fixture that is lit in `base`: it stays lit the whole evening.',
    right: 'A mapping for it, or no change if this is what you want.',
  },
  'never-lit': {
    meaning:
      'Nothing ever lights a fixture: its Dimmer, all of its colours or its Iris are at 0, or its shutter is closed, in `base`, `safe` and each mapping.',
    right:
      'A Dimmer and a colour above 0 in `base` or in the `set` of a mapping; an open shutter, or an Iris of 100, as the `default` in its profile.',
  },
  'follow-dark': {
    meaning:
      'A head follows in a cue, and nothing there gives it intensity: it moves in the dark for the whole cue.',
    right:
      'A Dimmer in the `set` of the mapping or in the `base` of the cue; no change if the head only has to be in place.',
  },
  'address-missing': {
    meaning: 'At the moment this machine has no such interface, or no such address to listen on.',
    right: 'An address of this machine; ignore this if the show runs on another one.',
  },
  'broadcast-address': {
    meaning:
      'An output sends to an address that is, or looks like, the broadcast address of a network. Levels are never broadcast: the daemon skips such an address.',
    right: 'Addresses of receivers, or `multicast` for sACN.',
  },
  'one-network': {
    meaning: 'Positions come in and levels go out through the same interface.',
    right: 'Two networks: a flood on one of them then leaves the other as it is.',
  },
} as const satisfies Record<string, { meaning: string; right: string }>;

export type WarningCode = keyof typeof WARNING_CODES;
