import type { Show } from '../../show/model/model.js';

/** Whether the sockets of the one show serve the other. */
export function sendsAlike(a: Show, b: Show): boolean {
  const sent = ({ name, outputs, universes }: Show) => JSON.stringify([name, outputs, universes]);
  return sent(a) === sent(b);
}
