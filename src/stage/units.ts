/**
 * Units that are easily mixed up are branded; metres and seconds are plain numbers whose names end
 * in the unit. Degrees exist only in files and on screens, radians everywhere else.
 */
declare const unit: unique symbol;

export type Radians = number & { readonly [unit]: 'rad' };
export type Degrees = number & { readonly [unit]: 'deg' };

const RADIANS_PER_DEGREE = Math.PI / 180;

export function toRadians(angle: Degrees): Radians {
  return (angle * RADIANS_PER_DEGREE) as Radians;
}

export function toDegrees(angle: Radians): Degrees {
  return (angle / RADIANS_PER_DEGREE) as Degrees;
}
