import type { OscMessage } from './encode.js';
import type { OscArgument } from './library.js';

/** What an argument of a message with a performer's position may be. */
export const POSITION_OUT_ROLES = [
  'x',
  'y',
  'z',
  'vx',
  'vy',
  'vz',
  'speed',
  'confidence',
  'tracked',
  'state',
  'performer',
  'label',
  'id',
] as const;
export type PositionOutRole = (typeof POSITION_OUT_ROLES)[number];

/** Of these one has to be there, or a loss could not be said. */
export const ROLES_OF_TRUST = ['confidence', 'tracked', 'state'] as const;

export interface PositionOutTemplate {
  /** OSC address, in which `{performer}` and `{id}` stand for the name and the number. */
  readonly address: string;
  readonly arguments: readonly PositionOutRole[];
}

export interface PositionOut {
  readonly performer: string;
  readonly label: string;
  readonly id: number;
  /** In the receiver's axes and unit. */
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly vx: number;
  readonly vy: number;
  readonly vz: number;
  /** 0 to 1. */
  readonly confidence: number;
  readonly tracked: boolean;
  readonly state: string;
}

export function positionOut(template: PositionOutTemplate, out: PositionOut): OscMessage {
  return {
    address: template.address
      .replaceAll('{performer}', out.performer)
      .replaceAll('{id}', String(out.id)),
    args: template.arguments.map(role => argumentOf(role, out)),
  };
}

function argumentOf(role: PositionOutRole, out: PositionOut): OscArgument {
  switch (role) {
    case 'speed':
      return { type: 'f', value: Math.hypot(out.vx, out.vy, out.vz) };
    case 'tracked':
      return { type: 'i', value: out.tracked ? 1 : 0 };
    case 'id':
      return { type: 'i', value: out.id };
    case 'state':
    case 'performer':
    case 'label':
      return { type: 's', value: out[role] };
    default:
      return { type: 'f', value: out[role] };
  }
}
