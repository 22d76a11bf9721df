import { z } from 'zod';
import { HEARD_BUT } from '../safety/heard-but.js';
import { PHASES } from '../safety/watchdog.js';
import { CONDITIONS } from '../safety/watchdog-table.js';
import { CONFIDENCE_PARTS } from '../tracking/confidence.js';
import { OTHER_MACHINES, OTHER_SHOWS, PAIR_PARTS } from './pair-words.js';
import { REFUSALS } from './turned-away.js';

const since = z.string().describe('ISO 8601, UTC.');
const names = z.array(z.string());
const troubled = z.array(
  z.object({ tracker: z.string(), performer: z.string(), performerLabel: z.string(), since }),
);

/** What `lampwright tell STATE_DIR status --json` says: docs/reference/status.md. */
export const StatusSchema = z.object({
  show: z.string(),
  light: z.enum(['live', 'partly', 'safe look', 'not sent', 'other machine']),
  leftAlone: names,
  highlighted: z.string().optional().describe('Fixture or group that is highlighted.'),
  cue: z.object({ name: z.string(), label: z.string(), since }).optional(),
  rehearsal: z.object({ what: z.string(), since }).optional(),
  pair: z
    .object({
      machine: z.enum(['main', 'standby']),
      shows: z
        .enum(OTHER_SHOWS)
        .describe('Whether both machines run the same show; `unknown`: the other does not say.'),
      parts: z.array(
        z.object({
          interface: z
            .string()
            .describe('Interface of the network; several are separated by commas.'),
          part: z.enum(PAIR_PARTS),
          since,
          other: z
            .enum(OTHER_MACHINES)
            .optional()
            .describe(
              'The other machine; `comes back`: the main machine is heard, below this standby. Missing if it sends nothing while it waits, like a standby with Art-Net.',
            ),
          address: z.string().optional().describe('Last known address of the other machine.'),
          lastHeard: since.optional(),
          backSince: since.optional(),
        }),
      ),
    })
    .optional()
    .describe(
      'The pair of machines that run this show. Missing: no other machine was heard, and none is named in the show.',
    ),
  supervisor: z.object({
    phase: z.enum(['live', 'losing', 'safe', 'rearming', 'returning']),
    cause: z.string(),
    since,
  }),
  engine: z.object({ pid: z.number().optional(), since }),
  performers: z.array(
    z.object({
      name: z.string(),
      label: z.string(),
      state: z.enum(['live', 'returning', 'lost', 'not heard', 'stopped', 'off stage']),
      phase: z.enum(PHASES),
      cause: z.enum(CONDITIONS).optional(),
      since,
      heardBut: z
        .enum(HEARD_BUT)
        .optional()
        .describe('Of `not heard`: positions do come, and why they are not followed.'),
      stoppedBy: z
        .string()
        .optional()
        .describe('Who stopped them: a user, the panel at an address, an address, a desk.'),
      doubt: z
        .enum(CONFIDENCE_PARTS)
        .optional()
        .describe('Of `lost` with the cause `confidence-low`: its lowest part now.'),
      wearsNone: z.literal(true).optional(),
    }),
  ),
  heads: z.array(
    z.object({
      fixture: z.string(),
      label: z.string(),
      performer: z.string().optional(),
      performerLabel: z.string().optional(),
      mapping: z.string().optional(),
      pinnedTo: z.string().optional(),
      since,
    }),
  ),
  stops: z.object({
    everybody: z.boolean(),
    by: z.string().optional().describe('Who stopped everybody; missing: not known.'),
    performers: names,
    performerLabels: names,
  }),
  feed: z.object({
    silent: z.boolean(),
    since,
    positionsPerS: z.number(),
    datagramsPerS: z.number(),
    droppedPerS: z.number(),
  }),
  deskLostSince: since.optional(),
  silentTrackers: troubled,
  frozenTrackers: troubled,
  apartTrackers: z.array(
    z.object({
      performer: z.string(),
      performerLabel: z.string(),
      trackers: names,
      apartM: z.number(),
      since,
    }),
  ),
  lowBatteries: z.array(
    z.object({
      tracker: z.string(),
      performer: z.string().optional(),
      performerLabel: z.string().optional(),
      charge: z.number(),
      since,
    }),
  ),
  desk: z.array(
    z.object({
      name: z.string(),
      protocol: z.enum(['sacn', 'artnet']),
      universe: z.number(),
      interface: z.string(),
      state: z.enum(['heard', 'gone', 'not heard']),
      since,
      sources: z.array(
        z.object({
          name: z.string(),
          address: z.string(),
          priority: z.number().optional(),
          leads: z.boolean().describe('Whether its levels are used.'),
        }),
      ),
      gone: z.string().optional().describe('If it is gone: what happens to its levels.'),
      ground: z.number().optional().describe('Universe of the show that lies on top of it.'),
      slots: z.array(
        z.object({
          slot: z.number().describe('From 1.'),
          fine: z.number().nullable(),
          kind: z.string(),
          does: z.string(),
          gone: z.string().describe('What happens to it while the desk is lost.'),
        }),
      ),
      trouble: z.string().optional(),
    }),
  ),
  outputs: z.array(
    z.object({
      name: z.string(),
      protocol: z.enum(['sacn', 'artnet']),
      interface: z.string(),
      universes: z.array(z.number()),
      trouble: z.string().optional(),
      heldBack: z.literal(true).optional(),
      since: since.optional(),
    }),
  ),
  delays: z
    .array(
      z.object({
        part: z.enum(['network', 'wait', 'tick', 'pipe', 'send', 'whole']),
        counts: z
          .array(z.number())
          .describe('Count in each bin; the last one is above all limits.'),
        sumS: z.number(),
      }),
    )
    .describe(
      'How long positions took from measurement to the last packet of their frame, since the start.',
    ),
  notSent: names.describe(
    'Names of fixtures whose universe is not being sent at the moment, although an output of this machine should send it.',
  ),
  outputsElsewhere: z
    .array(z.string())
    .describe('Names of the outputs that other machines send (`run --outputs`).'),
  turnedAway: z
    .array(
      z.object({
        reason: z.enum(REFUSALS),
        count: z.number(),
        recent: z.number().describe('In the last ten minutes.'),
        from: z.string().optional().describe('Who sent the last one.'),
        last: z.string().describe('When the last one came; ISO 8601, UTC.'),
      }),
    )
    .describe('What the panel has turned away since its process started, by reason.'),
  positions: z.array(
    z.object({
      name: z.string(),
      protocol: z.enum(['osc', 'psn']),
      receiver: z.string(),
      to: z.string(),
      rateHz: z.number(),
      aheadS: z.number(),
      trouble: z.string().optional(),
    }),
  ),
  troubles: z.array(z.object({ what: z.string(), since })),
});
