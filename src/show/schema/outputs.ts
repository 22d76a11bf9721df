import { z } from 'zod';
import { DEFAULT_PRIORITY, MAX_PRIORITY } from '../../protocols/sacn/options.js';
import { DEFAULT_RATE_HZ, MAX_RATE_HZ } from '../../protocols/transmission.js';
import { Address4 } from './parts.js';

/** Where levels are sent, and how. */

const UniverseList = z
  .array(
    z.union([
      z.int().min(0).max(63999),
      z.string().regex(/^\d{1,5}-\d{1,5}$/, 'a range of universes such as "1-8"'),
    ]),
  )
  .min(1)
  .meta({ description: 'Universes of the show: numbers, or ranges such as "1-8".' });

const outputCommon = {
  interface: z.string().min(1).meta({
    description: 'Address or name of the interface to send from: that of the lighting network.',
  }),
  universes: UniverseList,
  offset: z.int().min(-63999).max(63999).default(0).meta({
    description: 'Added to the universe of the show to get the one on the wire.',
  }),
  rate: z.number().min(1).max(MAX_RATE_HZ).default(DEFAULT_RATE_HZ).meta({
    description: 'Packets a second while levels change; never above the 44 of DMX512.',
  }),
};

const SacnOutput = z.strictObject({
  protocol: z.literal('sacn').meta({ description: 'Streaming ACN, ANSI E1.31.' }),
  ...outputCommon,
  to: z
    .union([
      z.literal('multicast'),
      z
        .array(z.union([z.literal('multicast'), Address4]))
        .min(1)
        .max(64),
    ])
    .default('multicast')
    .meta({
      description:
        '`multicast`, or a list of the addresses of the receivers (unicast), which may include `multicast`. All of them get one stream.',
    }),
  priority: z.int().min(0).max(MAX_PRIORITY).default(DEFAULT_PRIORITY).meta({
    description: 'E1.31 priority, 0 to 200; receivers take the source with the highest.',
  }),
  addressPriority: z.boolean().default(false).meta({
    description:
      'Also send per-address priority (START code 0xDD): receivers that know it take only the slots of our fixtures from us, at this priority; others take the universe as a whole.',
  }),
  sync: z.int().min(1).max(63999).optional().meta({
    description:
      'Synchronization address: receivers hold the levels of all universes of a beat until a synchronization packet for this universe arrives (E1.31 section 11).',
  }),
});

const ArtnetOutput = z.strictObject({
  protocol: z.literal('artnet').meta({ description: 'Art-Net 4.' }),
  ...outputCommon,
  to: z.array(Address4).min(1).max(64).meta({
    description:
      'Addresses of nodes that are always sent the levels, whether they answer or not. Other nodes that answer and put out the universe get them as well, unless `poll` is off.',
  }),
  sync: z.boolean().default(false).meta({
    description:
      'Nodes hold the levels of all universes of a beat until an ArtSync arrives. A node that is merging two sources ignores it.',
  }),
  poll: z
    .boolean()
    .optional()
    .meta({
      description:
        'Ask the nodes who they are (ArtPoll), send to those that put out a universe of ours, and warn when one is missing. On by default, except on the loopback ' +
        'interface, where the answers would collide with a receiver on the same machine.',
    }),
});

export const Output = z.discriminatedUnion('protocol', [SacnOutput, ArtnetOutput]);

export type OutputFile = z.output<typeof Output>;
