import { createHash } from 'node:crypto';
import { hostname } from 'node:os';
import type { Show } from '../show/model.js';

/** How the two machines of a pair know each other. */
export function sourceNameOf(show: Show, standby: boolean): string {
  return `lampwright ${standby ? 'standby ' : ''}${show.name}`;
}

/**
 * The CID of E1.31 5.6: the same for a show on a machine whenever it runs, and another elsewhere; also
 * another for the standby, as the two machines may be copies with one name.
 */
export function sourceIdentity(showName: string, standby: boolean): Uint8Array {
  const part = standby ? '\0standby' : '';
  const digest = createHash('sha256')
    .update(`lampwright\0${hostname()}\0${showName}${part}`)
    .digest();
  const cid = Uint8Array.from(digest.subarray(0, 16));
  // A UUID of version 8 (made by its own rule) and of the variant of RFC 9562.
  cid[6] = ((cid[6] ?? 0) & 0x0f) | 0x80;
  cid[8] = ((cid[8] ?? 0) & 0x3f) | 0x80;
  return cid;
}
