import { z } from 'zod';
import { GATE_STATES } from '../safety/enable.js';
import { PHASES } from '../safety/watchdog.js';
import { CONDITIONS } from '../safety/watchdog-table.js';
import { CONFIDENCE_PARTS } from '../tracking/confidence.js';

const share = z.number().describe('0..1');
const PlaceSchema = z.object({ x: z.number(), y: z.number(), z: z.number() });

export const PerformerSchema = z.object({
  name: z.string(),
  phase: z.enum(PHASES).describe('Where they stand with the watchdog.'),
  cause: z.enum(CONDITIONS).optional().describe('Why they are not live.'),
  trust: share.describe('From safe values only, 0, to live ones only, 1.'),
  confidence: z.object({
    value: share,
    reason: z.enum(CONFIDENCE_PARTS).optional().describe('The part that is least.'),
    parts: z.record(z.enum(CONFIDENCE_PARTS), z.number()),
  }),
  place: PlaceSchema.optional().describe('At the moment of light; missing: never heard.'),
  region: z
    .object({ alongM: z.number(), acrossM: z.number(), headingDeg: z.number() })
    .optional()
    .describe('Two standard deviations about the place: the ellipse in which they likely are.'),
  speedMps: z.number(),
  silentForS: z.number().optional(),
  aheadS: z.number().optional().describe('How far their light is predicted ahead.'),
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
      performer: z.string().optional().describe('Who wears it; missing: a spare.'),
      silentForS: z.number().optional().describe('Missing: never heard.'),
      battery: share.optional(),
      quality: share.optional(),
      outliers: share.optional().describe('Share of its reports of late that were outliers.'),
    }),
  ),
  zones: z.array(z.object({ name: z.string(), presence: share })),
  fixtures: z
    .array(
      z.object({
        values: z
          .array(z.number())
          .describe('Of each channel, as the engine asks for it; in the order of the stage.'),
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
          .describe('Where it is at the height at which it aims at whom it follows.'),
        safe: z
          .array(z.number())
          .optional()
          .describe(
            'Safe value of each channel just now, where the desk gives it (`ground: safe`).',
          ),
        safeFor: z
          .array(z.string())
          .optional()
          .describe(
            'Performers who are not believed, for whom it shows its safe value; and titles of mappings whose signals are not known.',
          ),
        follows: z.string().optional().describe('Whom it follows.'),
        holds: z
          .array(z.string())
          .optional()
          .describe('Of whom it follows the middle, of a head that does; who is lost is left out.'),
        behindDeg: z.number().optional().describe('From its beam to the point that it aims at.'),
        reachable: z.boolean().optional(),
        dark: z.enum(HEAD_DARK).optional().describe('Why a head is dark.'),
        darkFor: z.string().optional().describe('The keep-out, or whom it has lost.'),
      }),
    )
    .describe('In the order of the stage.'),
  mappings: z
    .array(
      z.object({
        acts: share.describe('How far the cue lets it act.'),
        level: share.describe('How far it is driven, whoever is believed.'),
        shows: share.describe(
          'How far it acts on the light: its level, as far as whoever it goes by is believed.',
        ),
        off: z.boolean().describe('An operator has it off.'),
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
        .describe('Who has a hand on its enable, one for each; missing: nobody.'),
    }),
  ),
  conditions: z.array(z.object({ name: z.string(), truth: z.enum(['no', 'unknown', 'yes']) })),
  cueShare: share.optional().describe('How far the crossfade to the cue has come.'),
  counters: z
    .record(z.string(), z.number())
    .describe('Since the engine began: positions, datagrams, and what was dropped, by reason.'),
});
export type LiveEngine = z.infer<typeof EngineSchema>;
export type LivePerformer = z.infer<typeof PerformerSchema>;
