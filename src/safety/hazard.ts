/**
 * What an output may do depends on what it can do to people. The accepted classes, worst last; a fixture has the
 * worst class of itself, its profile and its channels.
 */
export const HAZARD_CLASSES = ['ordinary', 'atmospheric', 'strobe', 'laser'] as const;
export type HazardClass = (typeof HAZARD_CLASSES)[number];

/** Classes that exist to be refused, each with a reason and with who decides instead. */
export const REFUSED_CLASSES = [
  'flying',
  'rigging',
  'lift',
  'scenery',
  'pyrotechnics',
  'flame',
] as const;
export type RefusedClass = (typeof REFUSED_CLASSES)[number];

export interface HazardRow {
  readonly hazard: HazardClass;
  /** What belongs to the class. */
  readonly what: string;
  /** Whether it leaves its safe values only while an enable is held. */
  readonly needsEnable: boolean;
  /** How it goes to its safe values. */
  readonly drop: 'fade' | 'at once';
  /** Whose rules come before anything that is written in a show file. */
  readonly deferTo: string;
}

export const HAZARD_TABLE: readonly HazardRow[] = [
  {
    hazard: 'ordinary',
    what: 'lamps, moving heads, anything that only gives light',
    needsEnable: false,
    drop: 'fade',
    deferTo: "the venue's safety staff",
  },
  {
    hazard: 'atmospheric',
    what: 'haze and fog machines and their fans',
    needsEnable: true,
    drop: 'at once',
    deferTo:
      "the venue's safety staff and its fire officer (fire detection!); ANSI E1.5 for what the fog is made of, E1.23 for planning and running the effect, E1.29 for the machine",
  },
  {
    hazard: 'strobe',
    what: 'strobes, and the strobe channels of other fixtures',
    needsEnable: true,
    drop: 'at once',
    deferTo:
      "the venue's safety staff: warnings at the entrance, and no more flashes a second than they allow",
  },
  {
    hazard: 'laser',
    what: 'lasers and laser effects',
    needsEnable: true,
    drop: 'at once',
    deferTo:
      'a laser safety officer and the local law (IEC 60825); this enable is no interlock and no emergency stop',
  },
];

export interface Refusal {
  readonly hazard: RefusedClass;
  readonly why: string;
  readonly whoDecides: string;
}

/** DMX512 and its relatives give no proof that a value has arrived: ANSI E1.11 excludes hazardous use. */
const NOT_FOR_HAZARDS = 'ANSI E1.11 (DMX512-A) is not for the control of hazardous effects';

export const REFUSALS: Readonly<Record<RefusedClass, Refusal>> = {
  flying: {
    hazard: 'flying',
    why: `people and things in the air can fall; ${NOT_FOR_HAZARDS}`,
    whoDecides:
      "the venue's safety staff and a licensed flying crew (ANSI E1.43), on their own controls",
  },
  rigging: {
    hazard: 'rigging',
    why: `hoists and winches carry loads over people; ${NOT_FOR_HAZARDS}`,
    whoDecides:
      "the venue's safety staff and licensed riggers (ANSI E1.6-1), on their own controls",
  },
  lift: {
    hazard: 'lift',
    why: `lifts and traps crush and drop people; ${NOT_FOR_HAZARDS}`,
    whoDecides: "the venue's safety staff and licensed stage engineers, on their own controls",
  },
  scenery: {
    hazard: 'scenery',
    why: `moving scenery can crush people; ${NOT_FOR_HAZARDS}`,
    whoDecides: "the venue's safety staff and licensed stage engineers, on their own controls",
  },
  pyrotechnics: {
    hazard: 'pyrotechnics',
    why: `a charge can not be taken back; ${NOT_FOR_HAZARDS}`,
    whoDecides:
      "the venue's safety staff and a licensed pyrotechnician, on their own firing system",
  },
  flame: {
    hazard: 'flame',
    why: `flame burns people and buildings; ${NOT_FOR_HAZARDS}`,
    whoDecides:
      "the venue's safety staff, the fire officer and a licensed operator, on their own controls",
  },
};

export function isRefused(hazard: HazardClass | RefusedClass): hazard is RefusedClass {
  return (REFUSED_CLASSES as readonly string[]).includes(hazard);
}

/** The worst of some classes. */
export function worstHazard(...classes: readonly (HazardClass | undefined)[]): HazardClass {
  let worst = 0;
  for (const one of classes) {
    if (one !== undefined) worst = Math.max(worst, HAZARD_CLASSES.indexOf(one));
  }
  return HAZARD_CLASSES[worst] ?? 'ordinary';
}

export function hazardRow(hazard: HazardClass): HazardRow {
  return HAZARD_TABLE[HAZARD_CLASSES.indexOf(hazard)] as HazardRow;
}

/** Raw values from the first to the last, both included. */
export type RawRange = readonly [first: number, last: number];

/** @param ranges the hazardous ones; undefined: all are */
export function isHazardousRaw(ranges: readonly RawRange[] | undefined, raw: number): boolean {
  if (ranges === undefined) return true;
  for (const [first, last] of ranges) if (raw >= first && raw <= last) return true;
  return false;
}
