import type { OscArgument } from './library.js';

/** Addresses at which an operator or a desk gives orders. They are ours, and fixed. */
export const ORDER_ADDRESSES = {
  stop: '/lampwright/stop',
  resume: '/lampwright/resume',
  off: '/lampwright/off',
  on: '/lampwright/on',
  enable: '/lampwright/enable/',
  cue: '/lampwright/cue',
  pin: '/lampwright/pin',
  unpin: '/lampwright/unpin',
  /** All that are pinned, from the main machine of two. */
  pins: '/lampwright/pins',
  /** All mappings that are off, from the main machine of two. */
  mappings: '/lampwright/mappings',
  /** Who is stopped, and who is off stage, from the other machine of two. */
  performers: '/lampwright/performers',
  /** Which show runs on the other machine of two. */
  show: '/lampwright/show',
  desk: '/lampwright/desk',
} as const;

/** What has to be enabled to leave its safe values; the last part of the address. */
export const ENABLED_CLASSES = ['atmospheric', 'strobe', 'laser'] as const;
export type EnabledClass = (typeof ENABLED_CLASSES)[number];

export type Order =
  /** Performers by name; none named means everybody. */
  | { readonly kind: 'stop' | 'resume' | 'off' | 'on'; readonly performers: readonly string[] }
  | { readonly kind: 'enable'; readonly hazard: EnabledClass; readonly held: boolean }
  | CueOrder
  | PinOrder
  | MappingsOrder
  | PerformersOrder
  | ShowOrder
  | { readonly kind: 'desk' };

/** One by name, or the one after or before that which is on. */
export type CueTarget = { readonly name: string } | 'next' | 'back';

export interface CueOrder {
  readonly kind: 'cue';
  readonly to: CueTarget;
  /** false: the button is let go. */
  readonly pressed: boolean;
  /** Said by the main machine of two, which says it again and again; that is no sign of life of the desk. */
  readonly repeated?: true;
}

export interface PinOrder {
  readonly kind: 'pin';
  /** By name, a head and on whom it is to be whatever its rule says; undefined: it is let go. */
  readonly pins: readonly (readonly [head: string, performer: string | undefined])[];
  /** Said by the main machine of two, which says again and again what it has; all others are let go. */
  readonly repeated?: true;
}

/** Said by the main machine of two, which says again and again what it has. */
export interface MappingsOrder {
  readonly kind: 'mappings';
  /** By title, those that are off; all others are on. */
  readonly off: readonly string[];
  readonly repeated: true;
}

/**
 * Where a performer is, as far as anybody knows. `leaving`: sent off, and still heard on the stage. `unsaid`: the teller
 * speaks of stops only.
 */
export const TOLD_STAGES = ['on', 'leaving', 'away', 'unsaid'] as const;

/** How one performer stands on the main machine. */
export interface ToldPerformer {
  readonly name: string;
  readonly stopped: boolean;
  readonly stage: (typeof TOLD_STAGES)[number];
}

/**
 * Said by the machine of two that has the light, again and again: by the main one, or by the standby to a main one that
 * comes back. Of performers who are not named it says nothing: a long list goes in several datagrams.
 */
export interface PerformersOrder {
  readonly kind: 'performers';
  readonly teller: Teller;
  /** The stop of everybody holds. */
  readonly everybody: boolean;
  readonly performers: readonly ToldPerformer[];
  readonly repeated: true;
}

/** How a machine is that says which show it runs. */
export const MACHINE_STATES = ['well', 'no-tracking', 'ends'] as const;
export type MachineState = (typeof MACHINE_STATES)[number];

/** Said by each machine of two, again and again: which show it runs, and how it is. No order. */
export interface ShowOrder {
  readonly kind: 'show';
  readonly teller: Teller;
  readonly digest: string;
  readonly state: MachineState;
  readonly repeated: true;
}

export const ORDER_REJECT_REASONS = [
  /** No order has this address. Patterns are not taken: an order says exactly what it means. */
  'no-order',
  'order-arguments',
] as const;
export type OrderRejectReason = (typeof ORDER_REJECT_REASONS)[number];

const KINDS = {
  [ORDER_ADDRESSES.stop]: 'stop',
  [ORDER_ADDRESSES.resume]: 'resume',
  [ORDER_ADDRESSES.off]: 'off',
  [ORDER_ADDRESSES.on]: 'on',
} as const;

/** Behind the name of a cue: the main machine of two says which one is on. */
export const MAIN = 'main';

/** The machine of two that says how performers stand there. */
const TELLERS = [MAIN, 'standby'] as const;
export type Teller = (typeof TELLERS)[number];

const DESK: Order = { kind: 'desk' };

/**
 * Reads an order, or says why not. Desks send a 1 when a button goes down and a 0 when it comes up: a
 * number of 0 (or F) lets an enable go, and makes of a stop, a resume, an off or an on no more than a sign of life.
 */
export function readOrder(
  address: string,
  args: readonly OscArgument[],
): Order | OrderRejectReason {
  switch (address) {
    case ORDER_ADDRESSES.stop:
    case ORDER_ADDRESSES.resume:
    case ORDER_ADDRESSES.off:
    case ORDER_ADDRESSES.on: {
      const kind = KINDS[address];
      if (args.length === 1) {
        // Neither pressed nor let go: nobody who pressed Stop may take it for done.
        if (isNotANumber(args[0])) return 'order-arguments';
        const pressed = pressedOf(args[0]);
        if (pressed !== undefined) return pressed ? { kind, performers: [] } : DESK;
      }
      const performers: string[] = [];
      for (const argument of args) {
        const name = textOf(argument);
        if (name === undefined) return 'order-arguments';
        performers.push(name);
      }
      return { kind, performers };
    }
    case ORDER_ADDRESSES.desk:
      return DESK;
    case ORDER_ADDRESSES.cue: {
      const name = textOf(args[0]);
      if (name === undefined) return 'order-arguments';
      const order = { kind: 'cue', to: { name }, pressed: true } as const;
      if (args.length === 2 && textOf(args[1]) === MAIN) return { ...order, repeated: true };
      return args.length === 1 ? order : 'order-arguments';
    }
    case ORDER_ADDRESSES.pin:
    case ORDER_ADDRESSES.unpin:
    case ORDER_ADDRESSES.pins:
      return readPins(address, args.map(textOf));
    case ORDER_ADDRESSES.mappings:
      return readMappings(args.map(textOf));
    case ORDER_ADDRESSES.performers:
      return readPerformers(args);
    case ORDER_ADDRESSES.show:
      return readShow(args.map(textOf));
    default:
      return address.startsWith(`${ORDER_ADDRESSES.cue}/`)
        ? readCue(address, args)
        : readEnable(address, args);
  }
}

/** `/lampwright/cue/next`, `.../back` or `.../NAME`: for desks whose buttons send no text. */
function readCue(address: string, args: readonly OscArgument[]): Order | OrderRejectReason {
  const name = address.slice(ORDER_ADDRESSES.cue.length + 1);
  if (args.length > 1) return 'order-arguments';
  const pressed = args.length === 0 ? true : pressedOf(args[0]);
  if (pressed === undefined) return 'order-arguments';
  return { kind: 'cue', to: name === 'next' || name === 'back' ? name : { name }, pressed };
}

function readPins(
  address: string,
  words: readonly (string | undefined)[],
): PinOrder | OrderRejectReason {
  if (!words.every(word => word !== undefined)) return 'order-arguments';
  const [first, second, ...rest] = words;
  if (address === ORDER_ADDRESSES.pins) {
    const all = words.slice(1);
    if (first !== MAIN || all.length % 2 !== 0) return 'order-arguments';
    const pins = all.flatMap((head, i) => (i % 2 === 0 ? [[head, all[i + 1]] as const] : []));
    return { kind: 'pin', pins, repeated: true };
  }
  const isUnpin = address === ORDER_ADDRESSES.unpin;
  if (first === undefined || rest.length > 0 || isUnpin !== (second === undefined)) {
    return 'order-arguments';
  }
  return { kind: 'pin', pins: [[first, second]] };
}

function readMappings(words: readonly (string | undefined)[]): MappingsOrder | OrderRejectReason {
  if (words[0] !== MAIN || !words.every(word => word !== undefined)) return 'order-arguments';
  return { kind: 'mappings', off: words.slice(1), repeated: true };
}

/** Who tells, whether everybody is stopped, then of each performer name, whether stopped, and where. */
function readPerformers(args: readonly OscArgument[]): PerformersOrder | OrderRejectReason {
  const everybody = pressedOf(args[1]);
  const word = textOf(args[0]);
  const teller = TELLERS.find(one => one === word);
  if (teller === undefined || everybody === undefined) return 'order-arguments';
  const performers: ToldPerformer[] = [];
  for (let i = 2; i < args.length; i += 3) {
    const name = textOf(args[i]);
    const stopped = pressedOf(args[i + 1]);
    const where = textOf(args[i + 2]);
    const stage = TOLD_STAGES.find(one => one === where);
    if (name === undefined || stopped === undefined || stage === undefined) {
      return 'order-arguments';
    }
    performers.push({ name, stopped, stage });
  }
  return { kind: 'performers', teller, everybody, performers, repeated: true };
}

/** Who tells, the digest of its show, and how it is. */
function readShow(words: readonly (string | undefined)[]): ShowOrder | OrderRejectReason {
  const [word, digest, is] = words;
  const teller = TELLERS.find(one => one === word);
  const state = MACHINE_STATES.find(one => one === is);
  if (teller === undefined || digest === undefined || state === undefined || words.length !== 3) {
    return 'order-arguments';
  }
  return { kind: 'show', teller, digest, state, repeated: true };
}

/** The arguments that `readOrder` takes of it. */
export function performersToArgs({
  teller,
  everybody,
  performers,
}: Pick<PerformersOrder, 'teller' | 'everybody' | 'performers'>): OscArgument[] {
  return [
    { type: 's', value: teller },
    { type: 'i', value: everybody ? 1 : 0 },
    ...performers.flatMap(({ name, stopped, stage }): OscArgument[] => [
      { type: 's', value: name },
      { type: 'i', value: stopped ? 1 : 0 },
      { type: 's', value: stage },
    ]),
  ];
}

function textOf(argument: OscArgument | undefined): string | undefined {
  if (argument === undefined || !('type' in argument)) return undefined;
  return argument.type === 's' || argument.type === 'S' ? argument.value : undefined;
}

function readEnable(address: string, args: readonly OscArgument[]): Order | OrderRejectReason {
  if (!address.startsWith(ORDER_ADDRESSES.enable)) return 'no-order';
  const name = address.slice(ORDER_ADDRESSES.enable.length);
  const hazard = ENABLED_CLASSES.find(one => one === name);
  if (hazard === undefined) return 'no-order';
  if (args.length > 1) return 'order-arguments';
  const held = args.length === 0 ? true : pressedOf(args[0]);
  return held === undefined ? 'order-arguments' : { kind: 'enable', hazard, held };
}

function isNotANumber(argument: OscArgument | undefined): boolean {
  return argument !== undefined && 'value' in argument && Number.isNaN(argument.value);
}

/** Written so that NaN is not pressed. */
function pressedOf(argument: OscArgument | undefined): boolean | undefined {
  if (argument === undefined || !('type' in argument)) return undefined;
  switch (argument.type) {
    case 'i':
    case 'f':
    case 'd':
      return argument.value > 0;
    case 'T':
      return true;
    case 'F':
      return false;
    default:
      return undefined;
  }
}
