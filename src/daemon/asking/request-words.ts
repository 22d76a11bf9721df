import type { OperatorAction } from '../../engine/values/operator-action.js';
import { ENABLED_CLASSES } from '../../protocols/osc/orders.js';
import { printable } from '../../stage/printable.js';

/** Snapshots a second that somebody may ask for. */
export const MOST_LIVE_HZ = 10;
const LEAST_LIVE_HZ = 0.1;

const OF_A_NAME = [
  'assign',
  'unassign',
  'stop',
  'resume',
  'off',
  'on',
  'cue',
  'highlight',
  'mapping',
  'pin',
  'unpin',
  'hold',
  'release',
] as const;
/** The first words of a request, for completion. */
export const REQUEST_VERBS = [...OF_A_NAME, 'rehearsal', 'reload', 'status'] as const;
export type IncompleteVerb = (typeof OF_A_NAME)[number];

/** They make light safe, ask, or report a fact: done however late they come. */
const AT_ANY_TIME: ReadonlySet<string | undefined> = new Set([
  'stop',
  'release',
  'status',
  'watch',
  'rehearsal',
]);
/** For requests based on what somebody sees: later they would be a surprise, seconds. */
const DONE_WITHIN_S = 3;
/** A person who holds an enable has to see the stage. */
const HELD_WITHIN_S = 1;

/** How long after it was asked a request may still be carried out, seconds; undefined: however late. */
export function doneWithinS(verb: string | undefined): number | undefined {
  if (AT_ANY_TIME.has(verb)) return undefined;
  return verb === 'hold' ? HELD_WITHIN_S : DONE_WITHIN_S;
}

/** Added to a highlight that is wanted although people are on stage. */
const WHILE_TRACKED = 'while-tracked';

/** What a person at the machine may ask of a running daemon. */
export type Request =
  | { readonly kind: 'operate'; readonly action: OperatorAction }
  | { readonly kind: 'reload'; readonly by?: string | undefined }
  /** Something was left out that only the show knows: who, which tracker, which cue. */
  | {
      readonly kind: 'incomplete';
      readonly verb: IncompleteVerb;
      readonly tracker?: string | undefined;
    }
  /** Positions are played: the status says so. `what` undefined: it is over. */
  | {
      readonly kind: 'rehearsal';
      readonly what: string | undefined;
      /** It is over by itself after so long, seconds; undefined: when somebody says so. */
      readonly holdsS?: number | undefined;
    }
  | { readonly kind: 'status' }
  /** The snapshot stream, on this connection. */
  | { readonly kind: 'watch'; readonly rateHz: number };

/**
 * The words of a request, as typed; or what would be right.
 * @param by who asks, in words
 * @param hand for holding an enable: tells apart several holds of whoever asks
 */
export function parseRequest(
  words: readonly string[],
  by?: string,
  hand?: string,
): Request | string {
  const [verb, tracker, performer, ...rest] = words;
  const asked = { cause: 'command', ...(by === undefined ? {} : { by }) } as const;
  if (verb === 'assign' && tracker !== undefined && performer !== undefined && rest.length === 0) {
    return { kind: 'operate', action: { kind: 'assign', tracker, performer, ...asked } };
  }
  if (verb === 'unassign' && tracker !== undefined && performer === undefined) {
    return { kind: 'operate', action: { kind: 'unassign', tracker, ...asked } };
  }
  const isOfPerformer = verb === 'stop' || verb === 'resume' || verb === 'off' || verb === 'on';
  if (isOfPerformer && tracker !== undefined && performer === undefined) {
    const whom = tracker === 'everybody' ? undefined : tracker;
    return { kind: 'operate', action: { kind: verb, performer: whom, ...asked } };
  }
  if (verb === 'reload' && tracker === undefined) {
    return { kind: 'reload', ...(by === undefined ? {} : { by }) };
  }
  if (verb === 'cue' && tracker !== undefined && performer === undefined) {
    const to = tracker === 'next' || tracker === 'back' ? tracker : { name: tracker };
    return { kind: 'operate', action: { kind: 'cue', to, ...asked } };
  }
  if (verb === 'cue' && (tracker === 'next' || tracker === 'back') && performer !== undefined) {
    if (rest.length === 0) {
      return {
        kind: 'operate',
        action: { kind: 'cue', to: tracker, from: performer, ...asked },
      };
    }
  }
  if (verb === 'highlight' && tracker !== undefined && rest.length === 0) {
    const isOff = tracker === 'off' && performer === undefined;
    if (isOff) return { kind: 'operate', action: { kind: verb, fixture: undefined, ...asked } };
    if (performer === undefined || performer === WHILE_TRACKED) {
      const how = performer === undefined ? {} : ({ whileTracked: true } as const);
      return { kind: 'operate', action: { kind: verb, fixture: tracker, ...how, ...asked } };
    }
  }
  if (verb === 'pin' && tracker !== undefined && performer !== undefined && rest.length === 0) {
    return { kind: 'operate', action: { kind: 'pin', fixture: tracker, performer, ...asked } };
  }
  if (verb === 'unpin' && tracker !== undefined && performer === undefined) {
    const action = { kind: 'pin', fixture: tracker, performer: undefined, ...asked } as const;
    return { kind: 'operate', action };
  }
  if (verb === 'mapping' && (tracker === 'off' || tracker === 'on') && performer !== undefined) {
    if (rest.length === 0) {
      const off = tracker === 'off';
      return { kind: 'operate', action: { kind: verb, mapping: performer, off, ...asked } };
    }
  }
  if ((verb === 'hold' || verb === 'release') && performer === undefined) {
    const hazard = ENABLED_CLASSES.find(one => one === tracker);
    const held = verb === 'hold';
    if (hazard !== undefined) {
      const whose = hand === undefined ? {} : { hand };
      return { kind: 'operate', action: { kind: 'hold', hazard, held, ...whose, ...asked } };
    }
  }
  if (verb === 'rehearsal' && tracker !== undefined && rest.length === 0) {
    const request = rehearsal(tracker, performer);
    if (request !== undefined) return request;
  }
  if (verb === 'status' && tracker === undefined) return { kind: 'status' };
  if (verb === 'watch' && performer === undefined) {
    const rateHz = tracker === undefined ? MOST_LIVE_HZ : Number(tracker);
    if (rateHz >= LEAST_LIVE_HZ && rateHz <= MOST_LIVE_HZ) return { kind: 'watch', rateHz };
    return `watch takes snapshots a second, from ${LEAST_LIVE_HZ} to ${MOST_LIVE_HZ}.`;
  }
  const incomplete = OF_A_NAME.find(one => one === verb);
  if (incomplete !== undefined && performer === undefined) {
    return { kind: 'incomplete', verb: incomplete, tracker };
  }
  return 'it takes: assign TRACKER PERFORMER, unassign TRACKER, stop PERFORMER, resume PERFORMER, off PERFORMER, on PERFORMER (or everybody), cue NAME (or next, or back), highlight FIXTURE (or off; while-tracked after it where people are on stage), pin HEAD PERFORMER, unpin HEAD, mapping off NAME, mapping on NAME, hold CLASS, release CLASS (atmospheric, strobe or laser), rehearsal NAME (or off), reload, or status. A name of several words goes in quotes.';
}

/** No name is longer, and no rehearsal. */
const LONGEST_NAME = 100;
const LONGEST_S = 86_400;

function rehearsal(what: string, forS: string | undefined): Request | undefined {
  if (what === 'off')
    return forS === undefined ? { kind: 'rehearsal', what: undefined } : undefined;
  const holdsS = forS === undefined ? undefined : Number(forS);
  if (holdsS !== undefined && !(holdsS > 0 && holdsS <= LONGEST_S)) return undefined;
  return { kind: 'rehearsal', what: printable(what).slice(0, LONGEST_NAME), holdsS };
}
