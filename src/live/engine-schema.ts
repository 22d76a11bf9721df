import { z } from 'zod';
import { GATE_STATES } from '../safety/enable.js';
import { PHASES } from '../safety/watchdog.js';
import { CONDITIONS } from '../safety/watchdog-table.js';
import { CONFIDENCE_PARTS } from '../tracking/confidence.js';

const share = z.number().describe('0..1');
const PlaceSchema = z.object({ x: z.number(), y: z.number(), z: z.number() });

export const PerformerSchema = z.object({
  name: z.string(),
  phase: z.enum(PHASES).describe('Their phase in the watchdog.'),
  cause: z.enum(CONDITIONS).optional().describe('Why they are not live.'),
  trust: share.describe('0: safe values only; 1: live values only.'),
  confidence: z.object({
    value: share,
    reason: z.enum(CONFIDENCE_PARTS).optional().describe('The lowest part.'),
    parts: z.record(z.enum(CONFIDENCE_PARTS), z.number()),
  }),
  place: PlaceSchema.optional().describe('Place at the moment of light. Missing: never heard.'),
  region: z
    .object({ alongM: z.number(), acrossM: z.number(), headingDeg: z.number() })
    .optional()
    .describe('Error ellipse: two standard deviations about the place.'),
  speedMps: z.number(),
  silentForS: z.number().optional(),
  aheadS: z.number().optional().describe('How far ahead their light is predicted, seconds.'),
  zones: z.array(z.string()),
  trackers: z.array(z.string()),
});

export const HEAD_DARK = ['keep-out', 'turns', 'lost', 'not asked for'] as const;

/** What one engine shows of the tick in which the snapshot was made. */
export const EngineSchema = z.object({
  performers: z.array(PerformerSchema),
  trackers: z.array(
    z.object({
      id: z.string(),
      performer: z.string().optional().describe('Who wears it. Missing: it is a spare.'),
      silentForS: z
        .number()
        .optional()
        .describe('Seconds since its last report. Missing: never heard.'),
      battery: share.optional(),
      quality: share.optional(),
      outliers: share.optional().describe('Share of outliers among its recent reports.'),
    }),
  ),
  zones: z.array(z.object({ name: z.string(), presence: share })),
  fixtures: z
    .array(
      z.object({
        values: z
          .array(z.number())
          .describe('Value of each channel that the engine asks for, in the order of the stage.'),
        beam: z
          .object({
            x: z.number(),
            y: z.number(),
            diameterM: z.number().optional(),
          })
          .optional()
          .describe('Where the beam of a head meets the floor.'),
        beamOn: z
          .object({ x: z.number(), y: z.number(), z: z.number(), diameterM: z.number().optional() })
          .optional()
          .describe('The beam at the height at which the head aims at the performer.'),
        safe: z
          .array(z.number())
          .optional()
          .describe(
            'Present safe value of each channel, if it comes from the desk (`ground: safe`).',
          ),
        safeFor: z
          .array(z.string())
          .optional()
          .describe(
            'Why it shows its safe value: lost performers, and titles of mappings whose signals are unknown.',
          ),
        follows: z.string().optional().describe('The performer whom it follows.'),
        holds: z
          .array(z.string())
          .optional()
          .describe('The performers whose middle the head follows, without those who are lost.'),
        behindDeg: z.number().optional().describe('Angle from its beam to its aim point.'),
        reachable: z.boolean().optional(),
        dark: z.enum(HEAD_DARK).optional().describe('Why a head is dark.'),
        darkFor: z.string().optional().describe('The keep-out, or the performer whom it has lost.'),
      }),
    )
    .describe('In the order of the stage.'),
  mappings: z
    .array(
      z.object({
        acts: share.describe('How far the cue lets it act.'),
        level: share.describe('How far it is driven, whether or not the tracking is trusted.'),
        shows: share.describe(
          'How far it acts on the light: its level, reduced by the trust in its performers.',
        ),
        off: z.boolean().describe('An operator has switched it off.'),
      }),
    )
    .describe('In the order of the stage.'),
  hazards: z.array(
    z.object({
      fixture: z.string(),
      hazard: z.string(),
      gate: z.enum(GATE_STATES),
      heldBy: z
        .array(z.string())
        .optional()
        .describe('Who holds its enable, one entry for each. Missing: nobody.'),
    }),
  ),
  conditions: z.array(z.object({ name: z.string(), truth: z.enum(['no', 'unknown', 'yes']) })),
  cueShare: share.optional().describe('How far the crossfade to the cue has come.'),
  counters: z
    .record(z.string(), z.number())
    .describe('Since the engine started: positions, datagrams, and drops by reason.'),
});
export type LiveEngine = z.infer<typeof EngineSchema>;
export type LivePerformer = z.infer<typeof PerformerSchema>;
