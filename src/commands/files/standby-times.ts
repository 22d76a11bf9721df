import type { SupervisorEvent } from '../../daemon/supervisor.js';
import type { StandbyTime } from '../../reporting/causes/held-light.js';

export interface Act {
  readonly atS: number;
  readonly event: SupervisorEvent;
}

/** When the standby had the light, from the events of either machine of a pair. */
export function standbyTimes(acts: readonly Act[]): StandbyTime[] {
  const times: StandbyTime[] = [];
  /** Times that have not ended yet, by lighting network. */
  const open = new Map<string | undefined, Omit<StandbyTime, 'untilS'>>();
  /** Of those, where it is this machine. */
  const ours = new Set<string | undefined>();
  const end = (where: string | undefined, untilS: number | undefined) => {
    const one = open.get(where);
    if (one !== undefined) times.push({ ...one, untilS });
    open.delete(where);
  };
  for (const { atS, event } of acts) {
    // The streams of a standby end with it; of a main machine that ends, its standby has the light all the same.
    if (event.kind === 'stopped') for (const where of [...ours]) end(where, atS);
    if (event.kind !== 'pair') continue;
    const { interface: where, to, hadLightForS = 0 } = event;
    if (to === 'standing-in' || to === 'joining' || event.comesBack === true) {
      if (to !== 'joining') ours.add(where);
      const fromS = atS - hadLightForS;
      if (!open.has(where)) open.set(where, { interface: where, fromS, why: whyOf(event) });
    } else end(where, atS);
  }
  for (const where of open.keys()) end(where, undefined);
  return times.sort((a, b) => a.fromS - b.fromS);
}

function whyOf(event: Extract<SupervisorEvent, { kind: 'pair' }>): string {
  if (event.to === 'joining') {
    return event.artnetRefused === true
      ? 'Art-Net of this machine was refused'
      : 'this machine, the main one, came back below it';
  }
  if (event.ended === true) return 'the main machine had ended';
  if (event.comesBack === true) return 'the main machine came back below it';
  if (event.neverHeard === true) return 'the main machine had not been heard since its start';
  return 'the main machine was silent';
}
