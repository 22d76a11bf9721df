import type { LiveSnapshot } from './schema.js';
import type { LiveStage } from './stage-schema.js';

export interface ActingMapping {
  readonly title: string;
  /** As in the snapshot, of the one of them that acts farthest. */
  readonly level: number;
  readonly shows: number;
  readonly off: boolean;
}

/**
 * What acts in the cue that is on, or is switched off, as whoever wrote the show counts it: a rule for several heads is a
 * mapping of each in the snapshot, one after the other, and one here.
 */
export function actingMappings(
  stage: Pick<LiveStage, 'mappings'>,
  engine: Pick<NonNullable<LiveSnapshot['engine']>, 'mappings'> | null,
): ActingMapping[] {
  const acting: ActingMapping[] = [];
  let before: string | undefined;
  for (const [index, { title }] of stage.mappings.entries()) {
    const of = engine?.mappings[index];
    if (of === undefined || !(of.acts > 0 || of.off)) continue;
    const { level, shows, off } = of;
    const last = title === before ? acting.pop() : undefined;
    before = title;
    acting.push({
      title,
      level: Math.max(level, last?.level ?? 0),
      shows: Math.max(shows, last?.shows ?? 0),
      off: off && (last?.off ?? true),
    });
  }
  return acting;
}
