import { OUT_AFTER_S } from '../../daemon/beats/pair.js';
import { SOURCE_GONE_AFTER_S } from '../../daemon/lighting/partner.js';
import type { SupervisorEvent } from '../../daemon/supervisor.js';
import type { StandbyTime } from '../../reporting/causes/held-light.js';

export interface Act {
  readonly atS: number;
  readonly event: SupervisorEvent;
}

/** It gives way within a beat of saying that it stood still. */
const AFTER_STILL_S = 1;

/** When the standby had the light, from the events of either machine of a pair. */
export function standbyTimes(acts: readonly Act[]): StandbyTime[] {
  const times: StandbyTime[] = [];
  /** Times that have not ended yet, by lighting network. */
  const open = new Map<string | undefined, Omit<StandbyTime, 'untilS'>>();
  /** Of those, where it is this machine. */
  const ours = new Set<string | undefined>();
  /** Of a main machine of which nothing left: when that began, and in words, by lighting network. */
  const out = new Map<string | undefined, { readonly fromS: number; readonly why: string }>();
  /** Networks where no standby had been heard by then: one that is there afterwards was started meanwhile. */
  const without = new Set<string | undefined>();
  let still: { readonly atS: number; readonly forS: number } | undefined;
  const end = (where: string | undefined, untilS: number | undefined) => {
    const one = open.get(where);
    if (one !== undefined) times.push({ ...one, untilS });
    open.delete(where);
  };
  for (const { atS, event } of acts) {
    // The streams of a standby end with it; of a main machine that ends, its standby has the light all the same.
    if (event.kind === 'stopped') for (const where of [...ours]) end(where, atS);
    if (event.kind === 'stood-still') still = { atS, forS: event.forS };
    if (event.kind !== 'pair') continue;
    const { interface: where, to, hadLightForS = 0 } = event;
    if (to === 'standing-in' || to === 'joining' || event.comesBack === true) {
      if (to !== 'joining') ours.add(where);
      const dropped = to === 'joining' ? out.get(where) : undefined;
      const isNew = to === 'joining' && without.delete(where);
      const why = dropped?.why ?? (isNew ? `${whyOf(event)}; ${STARTED_MEANWHILE}` : whyOf(event));
      const droppedS = (dropped?.fromS ?? Number.POSITIVE_INFINITY) + SOURCE_GONE_AFTER_S;
      const fromS = Math.min(atS - hadLightForS, droppedS);
      if (!open.has(where)) open.set(where, { interface: where, fromS, why });
    } else {
      end(where, atS);
      const stood = still !== undefined && atS - still.atS < AFTER_STILL_S ? still : undefined;
      if (to === 'leading') {
        out.delete(where);
        without.delete(where);
      } else if (event.from !== 'leading' || to !== 'listening') continue;
      else if (event.withoutStandby === true) without.add(where);
      else if (stood !== undefined)
        out.set(where, { fromS: stood.atS - stood.forS, why: STOOD_STILL });
      else out.set(where, { fromS: atS - OUT_AFTER_S, why: SENT_NOTHING });
    }
  }
  for (const where of open.keys()) end(where, undefined);
  return times.sort((a, b) => a.fromS - b.fromS);
}

const STOOD_STILL = 'this machine, the main one, had stood still';
const STARTED_MEANWHILE = 'the standby was started before that, at a time not known here';
const SENT_NOTHING = 'nothing could be sent from this machine, the main one';

function whyOf(event: Extract<SupervisorEvent, { kind: 'pair' }>): string {
  if (event.to === 'joining') {
    return event.artnetRefused === true
      ? 'Art-Net of this machine was refused'
      : 'this machine, the main one, came back below it';
  }
  if (event.ended === true) return 'the main machine had ended';
  // It may have begun before the main machine was there at all.
  if (event.to === 'standing-by') return 'the main machine was not leading';
  if (event.comesBack === true) return 'the main machine came back below it';
  if (event.neverHeard === true) return 'the main machine had not been heard since its start';
  return 'the main machine was silent';
}
