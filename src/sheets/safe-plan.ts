import { type Floor, SHAPES } from '../drawing/floor.js';
import { INK } from '../drawing/ink.js';
import { beamOnFloor } from '../show/model/beam-place.js';
import type { FixturePlan, Show } from '../show/model/model.js';
import { safeValues } from '../show/model/safe-look.js';
import { escaped } from '../stage/markup.js';
import { showFloor } from './rig-plan.js';
import { type SafeLight, safeLights } from './safe-lights.js';

/** Of a lamp whose colour the show doesn't say. */
const LAMP = '#ffe9a8';
const RAYS = 8;

/** The safe look of a cue on the stage: what is lit, how bright and in which colour, and where dark heads are parked. */
export function safePlan(show: Show, cue: number, isSmall = false): Floor {
  const floor = showFloor(show, isSmall);
  const lights = safeLights(show, cue);
  lights.forEach((light, index) => {
    if (light.level !== 0) beam(floor, show, light, index, cue);
  });
  for (const light of lights) parked(floor, light);
  for (const { label, position, isHead, level, colour, sentence } of lights) {
    if (position === undefined) continue;
    const bright = level === undefined ? 'desk' : `${Number(level.toFixed(1))} %`;
    const isDark = level === 0;
    // Haze and other things that give no light.
    if (level === undefined && sentence === 'off') continue;
    const words = isDark ? ['dark'] : [bright, ...(colour === undefined ? [] : [colour.word])];
    floor.mark({
      at: position,
      ...(isDark ? (isHead ? DARK_HEAD : DARK) : litShape(level ?? 50, colour?.hex ?? LAMP)),
      lines: isSmall ? (isDark ? [] : [bright]) : [label, ...words],
      title: `${label}: ${sentence}`,
    });
  }
  return floor;
}

const DARK_HEAD = { shape: SHAPES.head, half: 7 };
const DARK = { shape: SHAPES.fixed, half: 6 };

/** A disc with rays, the larger the brighter. */
function litShape(level: number, fill: string): { readonly shape: string; readonly half: number } {
  const radius = 4.5 + level / 22;
  const rays = Array.from({ length: RAYS }, (_, i) => {
    const angle = (2 * Math.PI * i) / RAYS;
    const at = (far: number) =>
      `${(far * Math.cos(angle)).toFixed(1)} ${(far * Math.sin(angle)).toFixed(1)}`;
    return `M${at(radius + 2)}L${at(radius + 5)}`;
  });
  return {
    half: radius + 5,
    shape: `<circle r="${radius.toFixed(1)}" fill="${fill}" stroke="${INK.text}" stroke-width="1.4"/><path d="${rays.join('')}" stroke="${INK.text}" stroke-width="1.4"/>`,
  };
}

/** What a lit head lights of the floor. */
function beam(floor: Floor, show: Show, light: SafeLight, index: number, cue: number): void {
  const plan = show.fixtures[index] as FixturePlan;
  const rim = beamOnFloor(plan, safeValues(show, cue, index));
  if (light.lands === undefined || rim.length === 0) return;
  const fill = light.colour?.hex ?? LAMP;
  floor.draw(
    `<polygon points="${floor.points(rim.map(({ x, y }) => [x, y] as const))}" fill="${fill}" fill-opacity="0.5" stroke="${INK.light}" stroke-width="0.8"><title>${escaped(light.label)}</title></polygon>`,
  );
}

/** From a head to where it points. */
function parked(floor: Floor, { position, lands, level, isHead }: SafeLight): void {
  if (!isHead || position === undefined || lands === undefined) return;
  const [x, y] = [floor.x(lands.x), floor.y(lands.y)];
  const dash = level === 0 ? ' stroke-dasharray="3 3"' : '';
  floor.draw(
    `<path d="M${floor.x(position.x)} ${floor.y(position.y)}L${x} ${y}" stroke="${INK.quiet}" stroke-width="0.9"${dash}/>`,
    `<path d="M${x} ${y}m-4 0h8m-4 -4v8" stroke="${INK.text}" stroke-width="1.4"/>`,
  );
}

/** What the marks mean. */
export function safeKey(show: Show): string {
  const marks = [
    'discs with rays are lit fixtures, larger when brighter, with level and colour',
    'rings are dark heads, with a broken line to the cross where they are parked',
    ...(show.exits.length > 0 ? ['dotted areas are exits of the stage'] : []),
    ...(show.keepOuts.length > 0 ? ['no lit beam enters the red areas'] : []),
  ];
  return `On the plan ${marks.join('; ')}. Way-out signs and emergency lighting are the venue's own: they are not in the show file, nor on this plan.`;
}
