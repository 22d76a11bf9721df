import type { OperatorAction } from '../../engine/operator-action.js';

/** What a person at the machine may ask of a running daemon. */
export type Request =
  | { readonly kind: 'operate'; readonly action: OperatorAction }
  | { readonly kind: 'reload'; readonly by?: string | undefined }
  | { readonly kind: 'status' };

/**
 * The words of a request, as typed; or what would be right.
 * @param by who asks, in words
 */
export function parseRequest(words: readonly string[], by?: string): Request | string {
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
  if (verb === 'status' && tracker === undefined) return { kind: 'status' };
  return 'it takes: assign TRACKER PERFORMER, unassign TRACKER, stop PERFORMER, resume PERFORMER, off PERFORMER, on PERFORMER (or everybody), cue NAME (or next, or back), reload, or status. A name of several words goes in quotes.';
}
