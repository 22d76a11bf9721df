/** What a show that is right can be asked about all the same: it runs so, and was probably meant otherwise. */
export const WARNING_CODES = {
  'older-format': {
    meaning: 'The show is of an older format. It is read as it was meant then.',
    right:
      'What the message says, at each place, and then the new number in the line `lampwright: N`.',
  },
  'position-far': {
    meaning:
      'A fixture hangs, or a point of the palette or all of a keep-out lies, more than 100 m from the stage, or 20 m below or 60 m above its floor.',
    right: 'Its place in metres, in the stage frame.',
  },
  'colour-off': {
    meaning:
      "A fixture can't have a colour that it is given: it is more than 0.003 in u'v' from all that its emitters, filters or wheel can make.",
    right: 'A colour within reach, or the nearest one that the fixture has, if that will do.',
  },
  'colour-dim': {
    meaning:
      'A colour asks for more luminance than the fixture has in it; it is as bright as it can be.',
    right: 'A lower `luminance`, which all of the fixtures have.',
  },
  'beam-off': {
    meaning:
      "A fixture can't make a beam of the palette that it is given: its Zoom and Iris do not reach that far.",
    right: 'A beam within its range, or the nearest one, if that will do.',
  },
  'target-off': {
    meaning: "A head can't aim at a target: its Pan or Tilt ends before it.",
    right: 'Another target, or another head.',
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
    meaning: 'Two cues have the same condition in `fire`; the first in the file comes on by it.',
    right: 'A condition of its own for each, or `fire` in one of them.',
  },
  'cue-fire-number': {
    meaning:
      'The condition in the `fire` of a cue rests on a number by OSC that becomes unknown after its `timeout`. From unknown to yes is no change from no to yes, so a sender that speaks only when its number changes never brings the cue on.',
    right: '`timeout: never` in the signal, or a sender that repeats its number more often.',
  },
  'cue-lit': {
    meaning:
      'A fixture that mappings drive in other cues stays lit in this one: its `base` is lit, no mapping of the cue touches it, and the cue says nothing of it.',
    right:
      'A Dimmer in the `base` of the cue, 0 or whatever is meant; or a mapping that acts in it.',
  },
  'scale-alone': {
    meaning:
      'A mapping with `mix: scale` acts on a lamp to which nothing gives light, in the cue or in the show. It has nothing to take away, and its performers drive the lamp all the same: who is lost brings up the safe value.',
    right:
      'A mapping of its own for the lamps that are lit in that cue; or a safe value of 0, if light is not needed there.',
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
      'A light that mappings or cues colour is lit in the safe look, and neither `base` nor `safe` says its colour: it is what its profile begins with, mostly white.',
    right: 'The colour in `safe`, whatever it is.',
  },
  'safe-full': {
    meaning:
      'The safe look of a lamp is full only because its `base` is; `safe` says nothing of it.',
    right: 'A Dimmer in `safe`, whatever it is: somebody decides it, and walks the stage in it.',
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
      'A fixture is lit by its base in a cue and in the next, and a wheel of it has another place: it is seen to go there.',
    right: 'A cue between them in which it is dark, if it should not be seen.',
  },
  'beam-room': {
    meaning:
      'A mapping asks for a width of the beam that a head has nowhere on the stage, or for a `cover` to which it can not open: of a `middle`, whoever is farther apart then stands outside the beam.',
    right: 'A width that its Zoom or Iris has at these distances; or another head.',
  },
  'choice-of-one': {
    meaning: 'A rule by which heads choose has one performer to choose from.',
    right: '`follow: NAME`, or the others whom it may choose.',
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
    meaning: 'A keep-out into which no head can shine: none is concerned, or none gets as far.',
    right:
      'Its place in the stage frame, in metres; the heads that it concerns; or a show without it.',
  },
  'signal-unused': {
    meaning: 'Nothing is driven by this signal.',
    right: 'A mapping or a condition for it, or a show without it.',
  },
  'stamp-missing': {
    meaning:
      'An input has routes with a `stamp` and routes without one. A position without a stamp counts there as that of a tracking system whose clock is gone, and nobody is followed by it.',
    right: 'An input of its own, at another port, for the trackers that send no stamp.',
  },
  'signal-on-route': {
    meaning: 'A number by OSC has an address at which positions come in.',
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
      "A colour of so little light is asked that the steps of a fixture's slots leave it more than 0.003 in u'v', or 2 % in luminance, from what is asked.",
    right: 'More `luminance` under a lower Dimmer, or 16 bits for the emitters.',
  },
  'follow-lit': {
    meaning:
      'A fixture follows somebody and has no Dimmer of its own, as the body of a bar of cells: it can not go dark in a loss, and swings lit.',
    right:
      'Mappings of the same people for what makes its light, so that it goes dark with them; or no follow.',
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
    meaning: "The width of a head's beam is not known, and it has to stay out of something.",
    right: 'A `fieldAngle` in the `optics` of its profile, in degrees.',
  },
  'keep-out-unlit': {
    meaning:
      'A head follows performers, and there is a zone in which it can light nobody: its beam would touch a keep-out.',
    right: 'Another head for that zone, or nothing where it is meant so.',
  },
  'fixture-unused': {
    meaning: 'No mapping touches a fixture that is lit in `base`: it is so the whole evening.',
    right: 'A mapping for it, or nothing where that is what it is for.',
  },
  'never-lit': {
    meaning:
      'Nothing ever lights a fixture: its Dimmer, or all of its colours, are at 0 in `base`, `safe` and each mapping.',
    right: 'A Dimmer and a colour above 0 in `base` or in the `set` of a mapping.',
  },
  'address-missing': {
    meaning: 'At the moment this machine has no such interface, or no such address to listen on.',
    right: 'An address of this machine; none of it matters where the show runs on another one.',
  },
  'broadcast-address': {
    meaning:
      'An output sends to what is, or looks like, the broadcast address of a network. Levels are never broadcast: the daemon leaves such an address out.',
    right: 'Addresses of receivers, or `multicast` for sACN.',
  },
  'one-network': {
    meaning: 'Positions come in and levels go out through the same interface.',
    right: 'Two networks: a flood on one of them then leaves the other as it is.',
  },
} as const satisfies Record<string, { meaning: string; right: string }>;

export type WarningCode = keyof typeof WARNING_CODES;
