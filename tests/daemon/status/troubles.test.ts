import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import type { SupervisorEvent } from '../../../src/daemon/beats/supervisor-options.js';
import type { EngineCounters, EngineNews } from '../../../src/daemon/engine/engine-link.js';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { StatusBook } from '../../../src/daemon/status/book.js';
import { TROUBLE_KINDS } from '../../../src/daemon/status/troubles.js';
import { Rig } from '../../engine/harness.js';
import { HOUSE } from '../../engine/shows.js';

type Kind = (typeof TROUBLE_KINDS)[number] | 'refused' | 'output' | 'node';
type Tell = (book: StatusBook) => void;

const ART_NET = HOUSE.replace(
  'outputs:',
  'outputs:\n  nodes: { protocol: artnet, interface: 127.0.0.1, to: [127.0.0.9], universes: [1] }',
);
const SHOW = new Rig(ART_NET).show;

const says =
  (...events: SupervisorEvent[]): Tell =>
  book => {
    for (const event of events) book.hear(event, 1000);
  };
const engine = (event: EngineNews) => says({ kind: 'engine', event });
const lighting = (event: LightingEvent) => says({ kind: 'lighting', event });
const told =
  (key: Parameters<StatusBook['trouble']>[0], what: string): Tell =>
  book =>
    book.trouble(key, what, 1000);
const unkept = (what: 'accepted-show' | 'identity' | 'last-look') =>
  says({ kind: 'unkept', what, file: 'f', reason: 'the disk is full' });

const counters = (refused: number): EngineCounters => {
  const { counters: all } = new Rig(HOUSE).view;
  return {
    ...all,
    ...{ datagrams: refused, lateTicks: 0, framesSkipped: 0, messagesDropped: 0 },
    ...{ heapUsed: 0, rss: 0, drops: { ...all.drops, 'sender-not-allowed': refused } },
  };
};

/** One of each, as the daemon says it. Those without words of the book's own are as run.ts has them. */
const EACH: Readonly<Record<Kind, Tell>> = {
  engine: says({ kind: 'engine-ended', how: 'crashed', reason: 'it was killed.', again: 0.1 }),
  stale: says({ kind: 'show-stale' } as SupervisorEvent),
  reload: says({ kind: 'reload-refused', problems: [], by: 'anna' } as SupervisorEvent),
  state: says({ kind: 'state-unsaved', file: 'f', reason: 'the disk is full' }),
  'accepted-show': unkept('accepted-show'),
  identity: unkept('identity'),
  'last-look': unkept('last-look'),
  control: told('control', 'no orders can be taken by `lampwright tell`: its socket is gone'),
  recording: engine({
    kind: 'recording',
    state: 'faulty',
    message: 'nothing can be recorded to /r: the disk is full; the show goes on without',
  }),
  enable: engine({
    ...{ kind: 'enable', gate: 'latched-off', wasOn: true, reason: 'safe-look' },
    outputs: [{ fixture: 'hazer', hazard: 'atmospheric' }],
  }),
  rejoin: says({ kind: 'light-rejoins', universes: [1, 2], forS: 6, fixtures: 3 }),
  panel: book =>
    book.hearPanel({ kind: 'panel', state: 'gone', reason: 'it was killed', again: 1 }, 1000),
  pair: says({ kind: 'pair', artnetRefused: true } as SupervisorEvent),
  'other-show': says({
    ...{ kind: 'other-show', machine: 'standby', shows: 'differ', address: '10.0.0.12' },
  }),
  'other-tracking': says({
    ...{ kind: 'other-tracking', machine: 'standby', silent: true, address: '10.0.0.12' },
  }),
  senders: told(
    'senders',
    'tracker 1 is sent by two at once: 10.0.0.5 (input stage, 25 a second) and 10.0.0.6 (input stage, 25 a second)',
  ),
  'battery-unit': engine({ kind: 'battery-unit', tracker: '1', performer: 'ines', charge: 80 }),
  highlight: engine({ kind: 'highlight', fixture: 'stove', on: true } as EngineNews),
  mapping: engine({ kind: 'mapping', mapping: 'warmth', off: true } as EngineNews),
  signal: engine({ kind: 'signal', signal: 'train', silent: true } as EngineNews),
  input: engine({
    kind: 'input-fault',
    message: 'input "stage" hears nothing: interface eth1 is gone',
  }),
  receiver: told('receiver sound', "receiver sound can't be told: interface eth1 is gone"),
  errand: lighting({
    kind: 'errand-failed',
    errand: 'ArtPoll',
    interface: '127.0.0.1',
    reason: 'send EPERM',
  }),
  source: lighting({
    ...{ kind: 'other-source', protocol: 'sacn', name: 'desk', address: '10.0.0.9' },
    ...{ conflict: true },
  } as LightingEvent),
  nodes: lighting({ kind: 'nodes-unsteady' } as LightingEvent),
  interfaces: lighting({ kind: 'interfaces-unread', reason: 'no memory' }),
  refused: book => {
    says({ kind: 'engine-started', pid: 42 })(book);
    book.count(counters(0), 1000);
    book.count(counters(50), 1001);
  },
  output: lighting({
    ...{ kind: 'send-failed', interface: '127.0.0.1', output: 'nodes' },
    ...{ reason: 'send ENETUNREACH', count: 3, sent: 4 },
  }),
  node: lighting({ kind: 'node-silent', ip: '127.0.0.9' } as LightingEvent),
};

/** What stands in back quotes in the first column of the page's table, each as a pattern. */
function rows(): RegExp[] {
  const page = readFileSync('docs/reference/status.md', 'utf8');
  const [, table = ''] = page.split('\n## Troubles\n');
  const first = [...table.matchAll(/^\| (.*?) \| /gm)].map(([, cell = '']) => cell);
  return first
    .flatMap(cell => [...cell.matchAll(/``(.+?)``|`([^`]+)`/g)])
    .map(([, double, single]) => (double ?? single ?? '').split('…'))
    .map(parts => parts.map(part => part.replace(/[.*+?^${}()|[\]\\]/g, '\\$&')).join('.*'))
    .map(pattern => new RegExp(`^${pattern}`));
}

it.each(Object.entries(EACH))('has a row for the trouble "%s" in the page', (_, tell) => {
  const book = new StatusBook(SHOW, 900);
  tell(book);
  const { troubles } = book.status(1002);
  expect(troubles).toHaveLength(1);
  const fits = rows().filter(row => row.test(troubles[0]?.what ?? ''));
  // One that fits anything would say nothing.
  expect([troubles[0]?.what, fits.length]).toEqual([troubles[0]?.what, 1]);
});

it('has one of each kind that the code knows', () => {
  expect(Object.keys(EACH)).toEqual(expect.arrayContaining([...TROUBLE_KINDS]));
});
