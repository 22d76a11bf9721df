import { enumerated } from '../stage/enumerated.js';
import { unreachable } from '../stage/unreachable.js';

/** What a machine of a pair does on one network. */
export const PAIR_PARTS = [
  /** Receivers take the main machine. */
  'leads',
  /** The main machine has just begun, or was out: is there a standby that has taken over? */
  'listens',
  /** The main machine sends below the standby until its light is the same. */
  'comes back',
  /** The standby: receivers take the main machine. */
  'waits',
  /** The standby: the main machine is gone, and receivers take this one. */
  'stands in',
] as const;
export type PairPart = (typeof PAIR_PARTS)[number];

/** How the other machine is. `ended`: it has said that it stops. `comes back`: the main machine, below this standby. */
export const OTHER_MACHINES = ['heard', 'comes back', 'ended', 'silent', 'never heard'] as const;

/** Whether both machines run the same show. `unknown`: the other one does not say which it runs. */
export const OTHER_SHOWS = ['same', 'differ', 'unknown'] as const;
export type OtherShows = (typeof OTHER_SHOWS)[number];

/** Two machines run one show: which part this one plays, network by network. */
export interface PairStatus {
  readonly machine: 'main' | 'standby';
  readonly shows: OtherShows;
  readonly parts: readonly PairPartStatus[];
}

type Named = Readonly<Record<PairStatus['machine'], readonly { readonly address: string }[]>>;

type Parts = Pick<PairStatus, 'machine' | 'parts'>;

export interface PairPartStatus {
  /** Interface of the network; several are joined by a comma. */
  readonly interface: string;
  readonly part: PairPart;
  /** ISO 8601, UTC. */
  readonly since: string;
  /** Missing if it says nothing while it waits, like a standby on Art-Net. */
  readonly other?: (typeof OTHER_MACHINES)[number] | undefined;
  /** Address of the other machine when it was last heard, and the time (ISO 8601, UTC). */
  readonly address?: string | undefined;
  readonly lastHeard?: string | undefined;
  /** If it comes back: since when. */
  readonly backSince?: string | undefined;
}

interface OutputStatus {
  readonly interface: string;
  readonly trouble?: string | undefined;
  readonly heldBack?: true | undefined;
}

/** Whether there is another machine, or was: a main machine listens for a standby where none was ever set up. */
export function hasOther(pair: Parts | undefined): boolean {
  if (pair === undefined) return false;
  const wasHeard = ({ other }: PairPartStatus) => other !== undefined && other !== 'never heard';
  return pair.machine === 'standby' || pair.parts.some(wasHeard);
}

/** Whether receivers take the light of the other machine, on some network, as far as this one knows. */
export function otherHasLight({ machine, parts }: Parts): boolean {
  return parts.some(part => isOthers(machine, part));
}

/** The same on every network. */
export function otherHasAllLight({ machine, parts }: Parts): boolean {
  return parts.every(part => isOthers(machine, part));
}

/** Receivers take the other machine there, as far as this one knows. */
function isOthers(machine: PairStatus['machine'], { part, other }: PairPartStatus): boolean {
  return other === 'heard' && (machine === 'standby' ? part === 'waits' : part !== 'leads');
}

/**
 * Whether receivers take this machine there, as far as it knows. While a main machine listens it sends below a standby
 * that may be there, and where nothing leaves it nobody can take it.
 */
export function hasLight(
  machine: PairStatus['machine'],
  part: PairPartStatus,
  outputs: readonly OutputStatus[],
): boolean {
  if (part.part === 'listens' || isOthers(machine, part)) return false;
  const interfaces = part.interface.split(', ');
  const here = outputs.filter(one => interfaces.includes(one.interface));
  return here.length === 0 || here.some(one => one.trouble === undefined && one.heldBack !== true);
}

/** One line, or one for each group of networks if the parts differ. */
export function pairInWords(pair: Parts): string[] {
  const byWords = new Map<string, string[]>();
  for (const part of pair.parts) {
    const words = partInWords(pair.machine, part);
    byWords.set(words, [...(byWords.get(words) ?? []), part.interface]);
  }
  if (byWords.size === 1) return [...byWords.keys()];
  return [...byWords].map(([words, interfaces]) => `on ${interfaces.join(', ')}: ${words}`);
}

/**
 * What is wrong with the pair now.
 * @param silentSince since when tracking that was heard here has been silent, ISO 8601
 * @param stopped labels of the performers who are stopped here
 * @param named the addresses of the two in the show: the main machine is told who is stopped if it comes back
 */
export function pairTroubles(
  { machine, parts }: Parts,
  silentSince: string | undefined,
  stopped: readonly string[] = [],
  { main, standby }: Named = { main: [], standby: [] },
): { readonly what: string; readonly since: string }[] {
  if (machine === 'standby') return [...standbyTroubles(parts), ...mayBeLost(parts, stopped, main)];
  const troubles = [...mainTroubles(parts), ...standbyGone(parts, standby)];
  const there = parts.find(({ part, other }) => part === 'leads' && other === 'heard');
  if (silentSince === undefined || there === undefined) return troubles;
  return [
    ...troubles,
    {
      what: 'tracking is silent here, and the standby may still have it: if its status says so, end the daemon of this machine, and receivers take the standby',
      since: silentSince,
    },
  ];
}

/**
 * Of stops that were given at a standby: nobody tells the main machine of them while it has the light, and this machine
 * does not know whether it has them too.
 */
export function stopsOfStandby(
  pair: Parts,
  own: readonly { readonly label: string; readonly since: string }[],
): { readonly what: string; readonly since: string }[] {
  const [since] = own.map(one => one.since).sort();
  const leads = pair.parts.find(part => isOthers(pair.machine, part));
  if (pair.machine === 'main' || leads === undefined || since === undefined) return [];
  const labels = own.map(({ label }) => label);
  const [who, they] = [enumerated(labels, MOST_NAMED), own.length === 1 ? 'is' : 'are'];
  const what = `${who} ${they} stopped at this standby, but the main machine${placeOf(leads)} has the light: check that ${who} ${they} stopped there too`;
  return [{ what, since }];
}

/** @param named its addresses in the show */
function standbyGone(parts: readonly PairPartStatus[], named: Named['standby']) {
  const gone = parts.find(({ part, other }) => part === 'leads' && other === 'silent');
  if (gone !== undefined) {
    const what = `its standby${placeOf(gone)} is no longer heard: nobody takes over if this machine dies`;
    return [{ what, since: gone.lastHeard ?? gone.since }];
  }
  const never = parts.find(({ other }) => other === 'never heard');
  const isMissed = ({ part, other }: PairPartStatus) =>
    part === 'leads' && (other === undefined || other === 'never heard');
  if (never === undefined || !parts.every(isMissed)) return [];
  const address = named.length === 0 ? undefined : enumerated(named.map(one => one.address));
  const what = `the standby${placeOf({ address })} has not been heard: nobody takes over if this machine dies`;
  return [{ what, since: never.since }];
}

/** The troubles that the words of its part already contain. */
export function saidByPart(pair: Parts | undefined): ReadonlySet<string> {
  if (pair === undefined) return new Set();
  const all = pair.machine === 'standby' ? standbyTroubles(pair.parts) : mainTroubles(pair.parts);
  return new Set(all.map(({ what }) => what));
}

function machineAt(machine: PairStatus['machine'], address: string | undefined): string {
  return `${machine === 'main' ? 'the main machine' : 'the standby'}${placeOf({ address })}`;
}

/** @param machine the role of the other machine */
export function otherShowInWords(
  machine: PairStatus['machine'],
  shows: OtherShows,
  address: string | undefined,
): string {
  const who = machineAt(machine, address);
  switch (shows) {
    case 'same':
      return `${who} runs the same show`;
    case 'differ':
      return `${who} runs another show than this machine, and the light may jump at a take-over: put the same file on both, and reload`;
    case 'unknown':
      return `${who} no longer says which show it runs`;
    default:
      return unreachable(shows);
  }
}

/** Of a standby that says nothing, where its light would be no sign of it. @param never it never has */
export function standbyMissed(address: string | undefined, never: true | undefined): string {
  const is = never === true ? 'has not said' : 'no longer says';
  return `the standby${placeOf({ address })} ${is} that it is there: unless it runs, nobody takes over if this machine dies`;
}

/** @param machine the role of the other machine */
export function otherTrackingInWords(
  machine: PairStatus['machine'],
  silent: boolean,
  address: string | undefined,
): string {
  const who = machineAt(machine, address);
  if (!silent) return `${who} hears tracking again, or this machine hears none either`;
  return machine === 'main'
    ? `${who} hears no tracking, and this standby does: what receivers take is the main machine's safe look`
    : `${who} hears no tracking, and this machine does: if it takes over, its light is at the safe look`;
}

/** A main machine that comes back may never hear of stops that were given here while it was gone. */
function mayBeLost(
  parts: readonly PairPartStatus[],
  stopped: readonly string[],
  main: readonly { readonly address: string }[],
) {
  const back = parts.find(({ other }) => other === 'comes back');
  if (back === undefined || stopped.length === 0) return [];
  const who = enumerated(stopped, MOST_NAMED);
  const is = stopped.length === 1 ? 'is' : 'are';
  const rest =
    main.length === 0
      ? 'may not know it: give it the stop before it leads'
      : `is told so at ${enumerated(main.map(one => one.address))}: check there that the stop holds before it leads`;
  const what = `${who} ${is} stopped here, and the main machine ${rest}`;
  return [{ what, since: back.backSince ?? back.since }];
}

const MOST_NAMED = 6;

/** Receivers take the light of the standby. */
function mainTroubles(parts: readonly PairPartStatus[]) {
  const below = parts.find(({ part, other }) => part === 'comes back' && other === 'heard');
  if (below === undefined) return [];
  const what = `the standby${placeOf(below)} has the light until that of this machine is the same`;
  return [{ what, since: below.since }];
}

function standbyTroubles(parts: readonly PairPartStatus[]) {
  const standsIn = parts.find(({ part }) => part === 'stands in');
  if (standsIn === undefined) return [];
  const { other, since, backSince = since, lastHeard = since } = standsIn;
  const at = placeOf(standsIn);
  if (other === 'comes back') return [{ what: comesBackInWords(at), since: backSince }];
  const what = `the main machine${at} ${goneInWords(other)}: this one stands in`;
  return [{ what, since: lastHeard }];
}

function comesBackInWords(at: string): string {
  return `the main machine${at} is back, below this one: it leads once its light is the same, and within 10 s of being live`;
}

function goneInWords(other: PairPartStatus['other']): string {
  if (other === 'ended') return 'has ended';
  return other === 'never heard' ? 'has not been heard' : 'is silent';
}

function partInWords(machine: PairStatus['machine'], { part, other, address }: PairPartStatus) {
  const at = placeOf({ address });
  switch (part) {
    case 'leads':
      return `main machine, leads${leadsWith(other, at)}`;
    case 'listens':
      return 'main machine, listens for a standby before it leads';
    case 'comes back':
      return `main machine, comes back: the standby${at} has the light until this one is the same`;
    case 'waits':
      if (other === 'comes back') return `standby, has the light: ${comesBackInWords(at)}`;
      return other === 'heard'
        ? `standby, waits: the main machine${at} has the light`
        : `standby, waits: the main machine${at} ${other === 'never heard' ? 'has not been heard yet' : 'is not heard just now'}`;
    case 'stands in':
      return `${machine.toUpperCase()}, STANDS IN: ${
        other === 'comes back'
          ? comesBackInWords(at)
          : `the main machine${at} ${goneInWords(other)}`
      }`;
    default:
      return unreachable(part);
  }
}

function leadsWith(other: PairPartStatus['other'], at: string): string {
  switch (other) {
    case 'heard':
      return `, standby${at} heard`;
    case 'ended':
      return `, standby${at} has ended`;
    // These are among the troubles.
    case 'comes back':
    case 'silent':
    case 'never heard':
    case undefined:
      return '';
    default:
      return unreachable(other);
  }
}

function placeOf({ address }: Pick<PairPartStatus, 'address'>): string {
  return address === undefined ? '' : ` at ${address}`;
}
