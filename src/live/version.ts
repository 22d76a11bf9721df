/**
 * The snapshot stream: one JSON object a line. First the stage, then what happened in the last ten minutes, then a
 * snapshot up to ten times a second, and events as they happen. Fields may be added within a version; none is taken
 * away or changes its meaning. Metres, seconds, degrees and per cent; shares are 0..1.
 */
export const LIVE_VERSION = 1;

export const EVENT_LEVELS = ['debug', 'info', 'warn', 'error'] as const;
