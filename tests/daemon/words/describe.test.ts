import { describe, expect, it } from 'vitest';
import type { DeskEvent } from '../../../src/daemon/desk/events.js';
import type { EngineCounters, EngineNews } from '../../../src/daemon/engine/engine-link.js';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import type { SupervisorEvent } from '../../../src/daemon/supervisor.js';
import { describe as inWords } from '../../../src/daemon/words/describe.js';
import { describeDrops, describeMerged } from '../../../src/daemon/words/describe-drops.js';
import { createCounters, type DropReason } from '../../../src/engine/values/counters.js';
import { ENABLE_REASONS } from '../../../src/engine/values/enable-reasons.js';
import { HEARD_BUT } from '../../../src/safety/heard-but.js';
import { PHASES } from '../../../src/safety/watchdog.js';
import { CONDITIONS } from '../../../src/safety/watchdog-table.js';
import { type Labels, NAMES_AS_LABELS } from '../../../src/show/model/labels.js';

/** Events of every kind, by kind: one that is added without an example here does not compile. */
type Examples<Event extends { readonly kind: string }> = {
  readonly [K in Event['kind']]: readonly Extract<Event, { kind: K }>[];
};

const PERFORMER = {
  kind: 'performer',
  performer: 'gull',
  from: 'live',
  to: 'losing',
  cause: 'tracker-silent',
  silentForS: 0.52,
  confidence: 0.314,
} as const;

const ENGINE: Examples<EngineNews> = {
  performer: [
    PERFORMER,
    { ...PERFORMER, from: 'returning', to: 'live', cause: undefined },
    ...CONDITIONS.map(cause => ({ ...PERFORMER, cause })),
    ...PHASES.map(to => ({ ...PERFORMER, to })),
  ],
  action: [
    {
      kind: 'action',
      of: 'condition',
      name: 'at-the-table',
      on: 'enter',
      receiver: 'sound',
      address: '/table',
      args: [1, 'low', true],
    },
  ],
  'off-stage': [
    { kind: 'off-stage', performers: ['ines'], state: 'away', exit: 'door' },
    { kind: 'off-stage', performers: ['ines', 'gull'], state: 'away' },
    { kind: 'off-stage', performers: ['ines'], state: 'leaving', cause: 'command', by: 'x' },
    { kind: 'off-stage', performers: ['ines'], state: 'away', cause: 'restored' },
    { kind: 'off-stage', performers: ['ines'], state: 'on' },
    { kind: 'off-stage', performers: ['ines'], state: 'on', cause: 'command' },
  ],
  'heard-but': [
    ...HEARD_BUT.map(but => ({ kind: 'heard-but', performer: 'ines', but }) as const),
    { kind: 'heard-but', performer: 'ines', but: undefined },
  ],
  feed: [
    { kind: 'feed', silent: true, performers: ['ines', 'gull'] },
    { kind: 'feed', silent: false, performers: [] },
  ],
  signal: [
    { kind: 'signal', signal: 'wind', silent: true, silentForS: 2.01 },
    { kind: 'signal', signal: 'wind', silent: true, silentForS: 2.01, neverHeard: true },
    { kind: 'signal', signal: 'wind', silent: false, silentForS: 0 },
  ],
  mapping: [
    { kind: 'mapping', mapping: 'stove', off: true, cause: 'command', by: 'x' },
    { kind: 'mapping', mapping: 'stove', off: false, cause: 'command' },
    { kind: 'mapping', mapping: 'stove', off: true, cause: 'restored' },
  ],
  pin: [
    { kind: 'pin', fixture: 'head-back', performer: 'gull', cause: 'command', by: 'x' },
    { kind: 'pin', fixture: 'head-back', performer: undefined, cause: 'command' },
    { kind: 'pin', fixture: 'head-back', performer: 'gull', cause: 'restored' },
  ],
  highlight: [
    { kind: 'highlight', fixture: 'spot', on: true, cause: 'command', by: 'x' },
    { kind: 'highlight', fixture: 'spot', on: false, cause: 'command' },
    { kind: 'highlight', fixture: 'spot', on: false, reason: 'time' },
    { kind: 'highlight', fixture: 'spot', on: false, reason: 'stopped' },
    { kind: 'highlight', fixture: 'spot', on: false, reason: 'tracked' },
    { kind: 'highlight', fixture: 'spot', on: false, reason: 'stalled' },
  ],
  cue: [
    { kind: 'cue', cue: 'storm', previous: 'prologue', fadeS: 3, cause: 'command', by: '10.0.0.5' },
    { kind: 'cue', cue: 'storm', previous: 'prologue', fadeS: 0, cause: 'restored' },
  ],
  zone: [
    { kind: 'zone', performer: 'ines', zone: 'stove', inside: true },
    { kind: 'zone', performer: 'ines', zone: 'stove', inside: false },
  ],
  entered: [
    { kind: 'entered', condition: 'at-the-table', entered: true },
    { kind: 'entered', condition: 'at-the-table', entered: false },
  ],
  turn: [{ kind: 'turn', fixture: 'head-back', performer: 'gull', panDeg: 271.2 }],
  'hand-over': [
    { kind: 'hand-over', fixture: 'head-back', performer: 'gull', previous: undefined },
    { kind: 'hand-over', fixture: 'head-back', performer: 'ines', previous: 'gull' },
    { kind: 'hand-over', fixture: 'head-back', performer: undefined, previous: 'ines' },
    {
      kind: 'hand-over',
      fixture: 'head-back',
      performer: undefined,
      previous: 'ines',
      mapping: 'two',
    },
  ],
  'keep-out': [
    { kind: 'keep-out', fixture: 'head-back', keepOut: 'audience', barred: true },
    { kind: 'keep-out', fixture: 'head-back', keepOut: 'audience', barred: false },
  ],
  reach: [
    { kind: 'reach', fixture: 'head-back', reachable: false, missedByDeg: 12.34 },
    { kind: 'reach', fixture: 'head-back', reachable: true, missedByDeg: 0 },
  ],
  tracker: [
    { kind: 'tracker', tracker: '7', performer: 'ines', change: 'assigned', cause: 'command' },
    { kind: 'tracker', tracker: '7', performer: 'ines', change: 'unassigned', cause: 'restored' },
  ],
  'battery-unit': [
    { kind: 'battery-unit', tracker: '7', performer: 'ines', charge: 95 },
    { kind: 'battery-unit', tracker: '9', charge: 15 },
  ],
  'operator-refused': [
    {
      kind: 'operator-refused',
      action: { kind: 'assign', tracker: '7', performer: 'nobody', cause: 'command' },
      reason: 'the show has no performer "nobody"',
    },
    {
      kind: 'operator-refused',
      action: { kind: 'unassign', tracker: '9', cause: 'command' },
      reason: 'nobody wears tracker 9',
    },
  ],
  stopped: [
    {
      kind: 'stopped',
      performers: ['ines'],
      everybody: false,
      cause: 'command',
      by: '10.0.0.5',
      stillStopped: ['ines', 'gull'],
      stopOfEverybody: false,
    },
  ],
  resumed: [
    {
      kind: 'resumed',
      performers: ['ines'],
      everybody: false,
      cause: 'command',
      stillStopped: ['gull'],
      stopOfEverybody: true,
    },
    {
      kind: 'resumed',
      performers: [],
      everybody: true,
      cause: 'restored',
      stillStopped: [],
      stopOfEverybody: false,
    },
  ],
  'operator-done': [
    {
      kind: 'operator-done',
      action: { kind: 'assign', tracker: '7', performer: 'ines', cause: 'command', id: 1 },
      changed: true,
      takenFrom: 'gull',
      stillStopped: [],
      stopOfEverybody: false,
    },
  ],
  'tracker-contact': [
    {
      kind: 'tracker-contact',
      tracker: '2',
      performer: 'ines',
      heard: false,
      silentForS: 2.02,
      others: ['1'],
    },
    { kind: 'tracker-contact', tracker: '2', performer: 'ines', heard: false, others: ['1', '3'] },
    { kind: 'tracker-contact', tracker: '2', performer: 'ines', heard: true, others: ['1'] },
    {
      kind: 'tracker-contact',
      tracker: '2',
      performer: 'ines',
      heard: false,
      silentForS: 9,
      others: [],
      told: true,
    },
  ],
  battery: [
    { kind: 'battery', tracker: '2', performer: 'ines', low: true, charge: 0.19 },
    { kind: 'battery', tracker: '7', low: false, charge: 0.9 },
  ],
  'tracker-frozen': [
    { kind: 'tracker-frozen', tracker: '2', performer: 'ines', frozen: true },
    { kind: 'tracker-frozen', tracker: '2', performer: 'ines', frozen: false },
  ],
  'trackers-apart': [
    { kind: 'trackers-apart', performer: 'dov', trackers: ['5', '9'], apartM: 3.42 },
    { kind: 'trackers-apart', performer: 'dov', trackers: [], apartM: 0 },
  ],
  'sensor-clock': [
    { kind: 'sensor-clock', input: 'tracking', steppedS: -0.2 },
    { kind: 'sensor-clock', input: 'tracking', steppedS: 5 },
  ],
  stalled: [{ kind: 'stalled', stalledS: 3.2 }],
  desk: [
    { kind: 'desk', lost: true, required: true },
    { kind: 'desk', lost: true, required: false },
    { kind: 'desk', lost: false, required: false },
  ],
  enable: [
    { gate: 'on' as const, wasOn: false, reason: undefined, by: '10.0.0.5' },
    ...ENABLE_REASONS.map(reason => ({
      gate: ['released', 'not-repeated', 'hand-gone'].includes(reason)
        ? ('off' as const)
        : ('latched-off' as const),
      wasOn: reason !== 'engine-started',
      reason,
    })),
  ].map(one => ({
    kind: 'enable' as const,
    outputs: [{ fixture: 'hazer', hazard: 'atmospheric' as const }],
    ...one,
  })),
  'input-fault': [{ kind: 'input-fault', message: 'input "tracking" lost its socket: gone.' }],
  recording: [
    { kind: 'recording', state: 'faulty', message: 'nothing can be recorded to rec: full' },
    { kind: 'recording', state: 'well', message: 'recording to rec again' },
  ],
  'input-back': [{ kind: 'input-back', message: 'input "tracking" listens again' }],
  tick: [{ kind: 'tick', startS: 1, tookS: 0.001, datagrams: 3 }],
};

const OTHER_SOURCE = {
  kind: 'other-source',
  protocol: 'sacn',
  universes: [1, 2],
  name: 'desk',
  address: '10.0.0.9',
  priority: 100,
  ourPriority: 100,
  taken: 'both',
  conflict: false,
  sameIdentity: false,
  partner: undefined,
  otherShow: false,
} as const;
const STANDBY_SOURCE = {
  ...OTHER_SOURCE,
  universes: [1],
  name: 'lampwright standby The Salt Lantern',
  address: '10.0.0.12',
  priority: 99,
  partner: 'standby',
} as const;
const MAIN = {
  name: 'lampwright The Salt Lantern',
  address: '10.0.0.11',
  partner: 'main',
} as const;
const MAIN_SOURCE = { ...STANDBY_SOURCE, ...MAIN, priority: 100, ourPriority: 99 } as const;
const OTHER_ARTNET = {
  ...STANDBY_SOURCE,
  protocol: 'artnet',
  priority: undefined,
  ourPriority: undefined,
} as const;

const LIGHTING: Examples<LightingEvent> = {
  'interface-lost': [{ kind: 'interface-lost', interface: 'eth0', reason: 'it is gone' }],
  'interface-back': [
    { kind: 'interface-back', interface: 'eth0', address: '10.0.0.2' },
    { kind: 'interface-back', interface: 'eth0', address: '10.0.0.2', changes: 40 },
  ],
  'artnet-held': [
    { kind: 'artnet-held', interface: 'eth0', held: true },
    { kind: 'artnet-held', interface: 'eth0', held: false },
  ],
  'send-failed': [
    {
      kind: 'send-failed',
      interface: 'eth0',
      output: 'a',
      reason: 'send EPERM',
      count: 1,
      sent: 0,
    },
    {
      kind: 'send-failed',
      interface: 'eth0',
      output: 'a',
      reason: 'send EPERM',
      count: 1,
      sent: 0,
      began: true,
    },
    {
      kind: 'send-failed',
      interface: 'eth0',
      output: 'a',
      reason: 'send EPERM',
      count: 40,
      sent: 9,
    },
  ],
  'sent-again': [
    { kind: 'sent-again', interface: 'eth0', output: 'a', count: 1, forS: 0 },
    { kind: 'sent-again', interface: 'eth0', output: 'a', count: 2400, forS: 61.2 },
  ],
  'errand-failed': (['ArtPoll', 'ArtPollReply', 'Universe Discovery'] as const).map(errand => ({
    kind: 'errand-failed',
    interface: 'eth0',
    errand,
    reason: 'send EPERM',
  })),
  'errand-sent': [{ kind: 'errand-sent', interface: 'eth0', errand: 'ArtPoll' }],
  'sends-ended': [
    {
      kind: 'sends-ended',
      interface: 'eth0',
      outputs: [{ output: 'a', count: 1, forS: 0.4 }],
      errands: ['ArtPoll'],
    },
    { kind: 'sends-ended', interface: 'eth0', outputs: [], errands: ['Universe Discovery'] },
  ],
  'left-ended': [{ kind: 'left-ended', universes: [3, 4] }],
  'poll-port-taken': [{ kind: 'poll-port-taken', interface: 'eth0' }],
  'node-found': [
    { kind: 'node-found', ip: '10.0.0.7', name: 'stove', portAddresses: [1, 1059] },
    { kind: 'node-found', ip: '10.0.0.7', name: 'stove', portAddresses: [] },
  ],
  'node-gone': [{ kind: 'node-gone', ip: '10.0.0.7', name: 'stove' }],
  'nodes-unsteady': [{ kind: 'nodes-unsteady', came: 240, went: 239 }],
  'nodes-steady': [{ kind: 'nodes-steady' }],
  'node-silent': [{ kind: 'node-silent', ip: '10.0.0.7', output: 'practicals' }],
  'node-is-partner': [{ kind: 'node-is-partner', ip: '10.0.0.12', output: 'practicals' }],
  'nodes-displaced': [{ kind: 'nodes-displaced', count: 12, most: 1024 }],
  'port-address-crowded': [
    { kind: 'port-address-crowded', portAddress: 3, output: 'heads', nodes: 65, most: 64 },
  ],
  'port-address-unheard': [{ kind: 'port-address-unheard', portAddress: 3, output: 'heads' }],
  'output-rejoins': [
    { kind: 'output-rejoins', interface: 'eth0', output: 'heads', universes: [3] },
    { kind: 'output-rejoins', interface: 'eth0', output: 'heads', universes: [3, 4] },
  ],
  'carrier-lost': [{ kind: 'carrier-lost', interface: 'eth0' }],
  'carrier-back': [{ kind: 'carrier-back', interface: 'eth0' }],
  'interfaces-unread': [{ kind: 'interfaces-unread', reason: 'too many open files' }],
  'interfaces-read': [{ kind: 'interfaces-read' }],
  'other-source': [
    { ...OTHER_SOURCE, priority: 100, taken: 'both', conflict: true },
    { ...OTHER_SOURCE, name: 'lampwright', taken: 'both', conflict: true, sameIdentity: true },
    { ...OTHER_SOURCE, priority: 50, taken: 'ours' },
    { ...OTHER_ARTNET, partner: undefined, name: '10.0.0.9', taken: 'both', conflict: true },
    { ...STANDBY_SOURCE, taken: 'ours' },
    { ...STANDBY_SOURCE, ourPriority: 98, taken: 'theirs' },
    { ...STANDBY_SOURCE, taken: 'ours', otherShow: true },
    { ...MAIN_SOURCE, taken: 'theirs' },
    { ...MAIN_SOURCE, priority: 98, taken: 'ours' },
    { ...OTHER_ARTNET, taken: 'theirs' },
    { ...OTHER_ARTNET, taken: 'both' },
    { ...OTHER_ARTNET, ...MAIN, taken: 'theirs' },
  ],
  'other-source-gone': [
    {
      kind: 'other-source-gone',
      protocol: 'sacn',
      name: 'desk',
      address: '10.0.0.9',
      partner: undefined,
    },
    {
      kind: 'other-source-gone',
      protocol: 'sacn',
      name: 'lampwright standby The Salt Lantern',
      address: '10.0.0.12',
      partner: 'standby',
    },
  ],
  'broadcast-left-out': [
    {
      kind: 'broadcast-left-out',
      interface: 'eth0',
      address: '10.0.0.255',
      output: 'practicals',
    },
  ],
  'more-sources': [
    { kind: 'more-sources', more: 1 },
    { kind: 'more-sources', more: 56 },
  ],
  'listener-closed': [{ kind: 'listener-closed', interface: 'eth0', forS: 10 }],
};

const AT_THE_DESK = { name: 'main desk', address: '10.0.0.9', priority: 100, leads: true };
const SPARE_DESK = { name: 'spare\u0007', address: '10.0.0.8', priority: 50, leads: false };

const DESK: Examples<DeskEvent> = {
  'desk-heard': [
    { kind: 'desk-heard', input: 'stage', sources: [AT_THE_DESK] },
    { kind: 'desk-heard', input: 'stage', sources: [AT_THE_DESK, SPARE_DESK], afterS: 12.4 },
  ],
  'desk-gone': [
    { kind: 'desk-gone', input: 'stage', last: AT_THE_DESK, ended: false, gone: 'hold' },
    { kind: 'desk-gone', input: 'stage', last: undefined, ended: true, gone: 0.25 },
    { kind: 'desk-gone', input: 'control', last: SPARE_DESK, ended: false, gone: 'unknown' },
    {
      kind: 'desk-gone',
      input: 'control',
      last: undefined,
      ended: false,
      gone: 'hold',
      goneApart: [
        { signal: 'rack', gone: 1 },
        { signal: 'train', gone: 'unknown' },
      ],
      leavesSafe: true,
    },
  ],
  'desk-silent': [{ kind: 'desk-silent', input: 'stage' }],
  'desk-sources': [
    {
      kind: 'desk-sources',
      input: 'stage',
      sources: [AT_THE_DESK, { ...SPARE_DESK, priority: 100, leads: true }],
    },
    {
      kind: 'desk-sources',
      input: 'stage',
      sources: [{ ...AT_THE_DESK, name: '10.0.0.9', priority: undefined }],
    },
  ],
  'desk-dropped': [
    { kind: 'desk-dropped', drops: { unreadable: 1, late: 12, 'too-many-sources': 3 } },
  ],
  'desk-deaf': [
    { kind: 'desk-deaf', interface: 'eth1', inputs: ['stage'], reason: 'no such interface' },
  ],
  'desk-listens': [{ kind: 'desk-listens', interface: 'eth1', inputs: ['stage', 'control'] }],
  'desk-flood': [{ kind: 'desk-flood', interface: 'eth1', inputs: ['stage'], forS: 2 }],
};

const SUPERVISOR: Examples<SupervisorEvent> = {
  desk: Object.values(DESK)
    .flat()
    .map(event => ({ kind: 'desk', event })),
  lights: [
    {
      kind: 'lights',
      from: 'live',
      to: 'losing',
      cause: 'the engine is gone',
      condition: 'engine-dead',
    },
    { kind: 'lights', from: 'returning', to: 'live', cause: 'the engine is well' },
    {
      kind: 'lights',
      from: 'losing',
      to: 'rearming',
      cause: 'the engine is well',
      except: [1, 2],
    },
  ],
  'engine-started': [{ kind: 'engine-started', pid: 4711 }],
  'engine-ended': [
    { kind: 'engine-ended', how: 'crashed', reason: 'it was ended by SIGKILL', again: 0.1 },
    {
      kind: 'engine-ended',
      how: 'hung',
      reason: 'no frame came for 1.1 s, so it was killed',
      again: 0.1,
    },
  ],
  'enables-dropped': [
    { kind: 'enables-dropped', outputs: [{ fixture: 'mist', hazard: 'atmospheric' }] },
  ],
  'engine-said': [{ kind: 'engine-said', line: 'out of memory' }],
  engine: Object.values(ENGINE)
    .flat()
    .map(event => ({ kind: 'engine', event })),
  lighting: Object.values(LIGHTING)
    .flat()
    .map(event => ({ kind: 'lighting', event })),
  'engine-too-large': [{ kind: 'engine-too-large', rssMiB: 800, limitMiB: 768 }],
  'ticks-late': [
    { kind: 'ticks-late', late: 12, inS: 10 },
    { kind: 'ticks-late', late: 160, inS: 10, because: 'engine-stood-still' },
  ],
  'frames-lost': [
    { kind: 'frames-lost', late: 3, skipped: 2, messages: 0, inS: 10 },
    { kind: 'frames-lost', late: 0, skipped: 0, messages: 1, inS: 10 },
  ],
  'realtime-policy': [{ kind: 'realtime-policy', policy: 'SCHED_FIFO' }],
  'state-restored': [{ kind: 'state-restored', file: '/s/operator.json', entries: 2 }],
  'state-of-other-show': [
    { kind: 'state-of-other-show', file: '/s/operator.json', show: 'Hamlet' },
  ],
  'state-unreadable': [
    { kind: 'state-unreadable', file: '/s/operator.json', reason: 'it is not JSON' },
  ],
  'state-unsaved': [{ kind: 'state-unsaved', file: '/s/operator.json', reason: 'ENOSPC' }],
  'state-saved': [{ kind: 'state-saved', file: '/s/operator.json' }],
  'stop-kept': [
    {
      kind: 'stop-kept',
      change: {
        kind: 'stopped',
        performers: ['ines', 'tobias'],
        everybody: true,
        cause: 'command',
        by: '10.0.0.5',
        stillStopped: ['ines', 'tobias'],
        stopOfEverybody: true,
      },
    },
  ],
  'orders-lost': [
    { kind: 'orders-lost', count: 1 },
    { kind: 'orders-lost', count: 3 },
  ],
  'input-blocked': [
    { kind: 'input-blocked', problems: ['input "a" can\'t listen on 0.0.0.0:9010: taken.'] },
  ],
  'show-stale': [{ kind: 'show-stale', problems: ['a.show.yaml:3:1: zone is missing.'] }],
  unkept: (['accepted-show', 'identity', 'last-look'] as const).map(what => ({
    kind: 'unkept',
    what,
    file: '/var/lib/cid',
    reason: 'the disk is full',
  })),
  kept: (['accepted-show', 'identity', 'last-look'] as const).map(what => ({
    kind: 'kept',
    what,
    file: '/var/lib/cid',
  })),
  reloaded: [
    { kind: 'reloaded', show: 'One lamp' },
    { kind: 'reloaded', show: 'One lamp', because: 'the engine was just restarting' },
  ],
  'reload-unneeded': [
    { kind: 'reload-unneeded', show: 'One lamp', by: 'SIGHUP' },
    { kind: 'reload-unneeded', show: 'One lamp', engineFault: 'the port is taken.' },
  ],
  'reload-stuck': [{ kind: 'reload-stuck', show: 'One lamp', problems: ['no such interface.'] }],
  'reload-refused': [
    { kind: 'reload-refused', problems: ['a.show.yaml:1:1 this is not YAML.'] },
    { kind: 'reload-refused', problems: ['the port is taken.'], goesBack: true },
  ],
  pair: [
    ...(['listening', 'joining', 'leading', 'standing-by', 'standing-in'] as const).map(to => ({
      kind: 'pair' as const,
      from: 'listening' as const,
      to,
    })),
    { kind: 'pair', from: 'listening', to: 'joining', keepsArtnet: true },
    { kind: 'pair', from: 'joining', to: 'leading', differs: true },
    { kind: 'pair', from: 'standing-in', to: 'standing-by', stopped: ['ines'] },
    {
      kind: 'pair',
      from: 'standing-in',
      to: 'standing-by',
      stopped: ['ines', 'gull'],
      isTold: true,
    },
    { kind: 'pair', from: 'leading', to: 'joining', only: 'sacn' },
    { kind: 'pair', from: 'leading', to: 'joining', only: 'artnet' },
    { kind: 'pair', from: 'listening', to: 'joining', keepsArtnet: true, only: 'artnet' },
    { kind: 'pair', from: 'leading', to: 'joining', artnetRefused: true },
    { kind: 'pair', from: 'standing-by', to: 'standing-in', ended: true },
  ],
  'other-show': [
    { kind: 'other-show', machine: 'standby', shows: 'differ', address: '10.0.0.12' },
    { kind: 'other-show', machine: 'main', shows: 'same', address: '10.0.0.11' },
    { kind: 'other-show', machine: 'main', shows: 'unknown', address: undefined },
    { kind: 'other-show', machine: 'standby', shows: 'unknown', address: '10.0.0.12' },
    { kind: 'other-show', machine: 'standby', shows: 'unknown', address: undefined, never: true },
    { kind: 'other-show', machine: 'standby', shows: 'unknown', address: '10.0.0.12', ended: true },
  ],
  'other-tracking': [
    { kind: 'other-tracking', machine: 'standby', silent: true, address: '10.0.0.12' },
    { kind: 'other-tracking', machine: 'main', silent: true, address: '10.0.0.11' },
    { kind: 'other-tracking', machine: 'main', silent: false, address: undefined },
  ],
  'light-rejoins': [
    { kind: 'light-rejoins', universes: [2], forS: 8.2, fixtures: 3 },
    { kind: 'light-rejoins', universes: [1, 2], all: true, forS: 0.5, fixtures: 1 },
    { kind: 'light-rejoins', universes: [1, 2], all: true, forS: 0.5, fixtures: 0 },
  ],
  'light-rejoined': [{ kind: 'light-rejoined', forS: 6.13 }],
  'light-resumed': [{ kind: 'light-resumed' }],
  'stood-still': [{ kind: 'stood-still', forS: 3.02 }],
  'service-fault': [{ kind: 'service-fault', reason: 'spawn systemd-notify ENOENT' }],
  'flashes-held': [
    { kind: 'flashes-held', fixtures: ['hatch-wash'], times: 1, longestS: 0.3 },
    { kind: 'flashes-held', fixtures: ['stove', 'window'], times: 4, longestS: 0.4 },
  ],
  'cue-gone': [
    { kind: 'cue-gone', cue: 'departure', on: 'morning' },
    { kind: 'cue-gone', cue: 'departure' },
  ],
  'keep-out-held': [
    { kind: 'keep-out-held', fixtures: ['front-1'], times: 1, longestS: 0.1 },
    { kind: 'keep-out-held', fixtures: ['front-1', 'front-2'], times: 3, longestS: 0.4 },
  ],
  'tracker-senders': [
    {
      kind: 'tracker-senders',
      what: 'tracker 1 is sent by two at once: 10.0.0.5 (input 1, 30 a second) and 10.0.0.6 (input 1, 30 a second)',
    },
    { kind: 'tracker-senders' },
  ],
  stopping: [
    { kind: 'stopping' },
    { kind: 'stopping', handsOver: true },
    { kind: 'stopping', waitsS: 2.7 },
  ],
  stopped: [{ kind: 'stopped' }],
};
const ALL: readonly SupervisorEvent[] = Object.values(SUPERVISOR).flat();

const mark = (name: string) => `<${name}>`;
const MARKED: Labels = {
  performer: mark,
  fixture: mark,
  zone: mark,
  cue: mark,
  exit: mark,
  receiver: mark,
};
const NAMES =
  /"(?:performers?|takenFrom|stillStopped|fixture|zone|cue|previous|exit|receiver)":(\[[^\]]*\]|"[^"]*")/g;

describe('an event', () => {
  it('says of the other machine of a pair which one it is, and whose light receivers take', () => {
    const lines = LIGHTING['other-source']
      .filter(({ partner, otherShow }) => partner !== undefined && !otherShow)
      .map(event => inWords({ kind: 'lighting', event }));
    const standby =
      'the standby of this pair ("lampwright standby The Salt Lantern" at 10.0.0.12) sends on';
    const main = 'the main machine of this pair ("lampwright The Salt Lantern" at 10.0.0.11) sends';
    expect(lines.map(({ level, text }) => `${level}: ${text}`)).toEqual([
      `info: ${standby} universe 1, priority 99, below our 100: receivers take this machine`,
      `info: ${standby} universe 1, priority 99, above our 98: receivers take that one until this machine leads`,
      `info: ${main} on universe 1, priority 100, above our 99: receivers take that one`,
      `info: ${main} on universe 1, priority 98, below our 99: receivers take this machine until that one leads`,
      `info: ${standby} Port-Address 1: this machine sends none until it leads`,
      `warn: ${standby} Port-Address 1: so does this machine, and nodes merge the two. Does the standby hear it (UDP 6454)?`,
      `info: ${main} on Port-Address 1: this machine sends none`,
    ]);
  });

  it('speaks of stops that only the standby was given where this machine was not told of them', () => {
    const led = { kind: 'pair', from: 'joining', to: 'leading', differs: true } as const;
    const text = 'pair: this machine leads, by a crossfade: the light of the standby was different';
    expect(inWords({ ...led, isTold: true })).toMatchObject({ level: 'warn', text });
    expect(inWords(led).text).toBe(
      `${text}. If somebody is stopped there, stop them here too: this machine was not told (\`operator.main\` is not set)`,
    );
  });

  it('tells why a reload goes by the safe look', () => {
    const because = 'the engine was just restarting';
    expect(inWords({ kind: 'reloaded', show: 'One lamp', because, by: 'a save' }).text).toBe(
      'show "One lamp" reloaded (asked by a save): all light goes to the safe look first, because the engine was just restarting; then the new show takes over',
    );
  });

  it.each(ALL)('has words and a weight: $kind $event.kind', event => {
    const { level, text, data } = inWords(event);
    expect(text).toMatch(/\p{L}{4}/u);
    expect(text).not.toMatch(/undefined|null|NaN|\[object|\n/);
    expect(['debug', 'info', 'warn', 'error']).toContain(level);
    // For a machine: the event itself, without its envelope, and with nothing that JSON would lose.
    expect(data).toMatchObject('event' in event ? event.event : event);
    expect(JSON.parse(JSON.stringify(data))).toEqual(data);
  });

  it.each(Object.values(ENGINE).flat())('calls people and things by label: $kind', event => {
    const { text, data } = inWords({ kind: 'engine', event }, MARKED);
    const names = [...JSON.stringify(event).matchAll(NAMES)].flatMap(([, names = '']) =>
      [...names.matchAll(/"([^"]+)"/g)].map(([, name = '']) => name),
    );
    for (const name of names) {
      expect(text.replaceAll(`<${name}>`, '').replace(/ refused: .*/, '')).not.toContain(name);
      // The name for programs, and what to show people beside it.
      expect(JSON.stringify(data)).toContain(`"${name}"`);
      expect(JSON.stringify(data)).toContain(`"<${name}>"`);
    }
  });

  it('tells of no light that is not there: nobody is followed while all is at the safe look', () => {
    const say = (to: 'returning' | 'live', phase: 'live' | 'safe' | 'losing') =>
      inWords(
        { kind: 'engine', event: { ...PERFORMER, from: 'rearming', to } },
        NAMES_AS_LABELS,
        phase,
      ).text;
    expect(say('live', 'live')).toContain('the light follows');
    for (const phase of ['safe', 'losing'] as const) {
      expect(say('live', phase)).toContain('would follow; all light is held at the safe look');
      expect(say('returning', phase)).not.toContain('begins');
    }
  });

  it('of an engine that stood still says that its light goes there, and not that it is there', () => {
    const to = (from: 'live' | 'losing') =>
      inWords({ kind: 'engine', event: { ...PERFORMER, from, to: 'safe', cause: 'engine-late' } })
        .text;
    expect(to('live')).toContain('goes to its safe values with all light (engine late)');
    expect(to('losing')).toContain('the light is at its safe values');
  });

  it('tells what it is about', () => {
    const engine = (event: EngineNews) => inWords({ kind: 'engine', event });
    expect(engine(PERFORMER)).toMatchObject({
      level: 'warn',
      text: 'gull: the light fades to its safe values (tracker silent), confidence 0.31',
    });
    expect(engine(ENGINE.reach[0] as EngineNews)).toMatchObject({
      level: 'warn',
      text: "head-back can't reach its point: 12.3 degrees short",
    });
    expect(inWords(SUPERVISOR['engine-ended'][0] as SupervisorEvent)).toMatchObject({
      level: 'error',
      text: 'engine was killed (SIGKILL): by hand, or because memory ran out; starting it again in 0.1 s',
    });
    expect(inWords(SUPERVISOR['enables-dropped'][0] as SupervisorEvent)).toMatchObject({
      level: 'warn',
      text: 'mist (atmospheric) dropped: the engine ended. Release, and press again',
    });
    const lighting = LIGHTING['send-failed'].map(event => inWords({ kind: 'lighting', event }));
    expect(lighting.map(({ text }) => text)).toEqual([
      'output "a": 1 packet could not be sent from eth0: a firewall of this machine stops them; let UDP out to the receiver (send EPERM)',
      'output "a": packets can\'t be sent from eth0: a firewall of this machine stops them; let UDP out to the receiver (send EPERM)',
      'output "a": 40 packets could not be sent from eth0, 9 could: a firewall of this machine stops them; let UDP out to the receiver (send EPERM)',
    ]);
  });

  it('says what was done, by whom, and what it means', () => {
    const says = (event: EngineNews) => inWords({ kind: 'engine', event }).text;
    const by = 'control socket (user anna uid 1000)';
    const asked = { cause: 'command', by } as const;
    const given = { kind: 'tracker', tracker: '31', change: 'assigned', ...asked } as const;
    expect(says({ ...given, performer: 'esme', takenFrom: 'celia' })).toBe(
      'tracker 31 taken from celia and given to esme (asked by anna)',
    );
    expect(says({ ...PERFORMER, performer: 'celia', wearsNone: true })).toContain(
      'celia: the light fades to its safe values (wears no tracker)',
    );
    expect(says({ ...PERFORMER, cause: 'frozen', wearsNone: true })).toContain(
      '(wears no tracker)',
    );
    expect(says({ ...PERFORMER, cause: 'operator-stop', wearsNone: true })).toContain(
      '(operator stop)',
    );
    const action = { kind: 'assign', tracker: '99', performer: 'esme', ...asked } as const;
    expect(says({ kind: 'operator-refused', action, reason: 'there is none' })).toBe(
      'assign tracker 99 to esme refused (asked by anna): there is none',
    );
    const stop = { kind: 'stop', performer: undefined, id: 1, ...asked } as const;
    const again = { kind: 'operator-done', action: stop, changed: false } as const;
    expect(says({ ...again, stillStopped: ['ines'], stopOfEverybody: true })).toBe(
      'Everybody is already stopped (asked by anna).',
    );
    const sent = { kind: 'off-stage', performers: ['ines'], state: 'leaving', ...asked } as const;
    expect(says(sent)).toBe(
      'ines is sent off (asked by anna): off stage, even while still heard there',
    );
    const stopped = { performers: ['ines'], everybody: false, cause: 'restored' } as const;
    const stops = { stillStopped: ['ines'], stopOfEverybody: false };
    expect(says({ kind: 'stopped', ...stopped, ...stops })).toBe('ines still stopped, as before.');
    expect(says({ kind: 'feed', silent: true, performers: [], neverHeard: true })).toBe(
      'no position has come since the engine started',
    );
    const held = { kind: 'flashes-held', fixtures: ['Hatch wash'] } as const;
    expect(inWords({ ...held, times: 1, longestS: 0.3 })).toMatchObject({
      level: 'info',
      text: 'flash limit: Hatch wash came up 0.30 s late',
    });
    expect(inWords({ ...held, times: 3, longestS: 0.4 }).text).toBe(
      'flash limit: light came up late 3 times, by at most 0.40 s (Hatch wash)',
    );
    const early = { kind: 'flashes-held', times: 1, longestS: 1.02 } as const;
    expect(inWords({ ...early, fixtures: ['Stove', 'Window'], held: ['Window'] }).text).toBe(
      'flash limit: Stove came up late, Window is still held back; at most 1.02 s so far',
    );
    expect(inWords({ ...early, fixtures: ['Stove'], held: ['Stove'] }).text).toBe(
      'flash limit: Stove is still held back; at most 1.02 s so far',
    );
    expect(inWords({ kind: 'cue-gone', cue: 'departure', on: 'morning' })).toMatchObject({
      level: 'warn',
      text: 'cue departure, which was on, is not in the show file any more: cue morning is on',
    });
    expect(inWords({ kind: 'cue-gone', cue: 'departure' }).text).toBe(
      'cue departure, which was on, is not in the show file any more: the show has no cues now',
    );
    const dark = { kind: 'keep-out-held', longestS: 0.1 } as const;
    expect(inWords({ ...dark, fixtures: ['Front 1'], times: 1 })).toMatchObject({
      level: 'warn',
      text: 'Front 1 was kept dark at the output, as the beam would have touched a keep-out: for 0.10 s',
    });
    expect(inWords({ ...dark, fixtures: ['Front 1', 'Front 2'], times: 3 }).text).toBe(
      'Front 1 and Front 2 were kept dark at the output, as the beam would have touched a keep-out: 3 times, for at most 0.10 s',
    );
    expect(
      inWords({ ...dark, fixtures: ['Front 1'], times: 1, longestS: 1.2, held: ['Front 1'] }).text,
    ).toBe(
      'Front 1 is kept dark at the output, as the beam would have touched a keep-out; at most 1.20 s so far',
    );
    expect(inWords({ kind: 'state-restored', file: '/s/o.json', entries: 1 }).text).toBe(
      '1 change made before the restart is in force again, from /s/o.json',
    );
    const changes = [
      { kind: 'stop', performer: undefined, cause: 'restored' },
      { kind: 'assign', tracker: '7', performer: 'ines', cause: 'restored' },
    ] as const;
    const restored = { kind: 'state-restored', file: '/s/o.json', entries: 2, changes } as const;
    expect(inWords(restored).text).toBe(
      '2 changes made before the restart are in force again (stop everybody; assign tracker 7 to ines), from /s/o.json',
    );
  });

  it('light that is not sent, or only just sent again, is not said to be at the safe look', () => {
    const safe = {
      kind: 'lights',
      from: 'losing',
      to: 'safe',
      cause: 'the engine is gone',
    } as const;
    expect(inWords({ ...safe, except: [2] }).text).toBe(
      'all light is at the safe look: the engine is gone. Not there: universe 2, which is not sent, or only just sent again',
    );
    expect(inWords({ ...safe, to: 'rearming', except: [2, 7] }).text).toBe(
      'all light is at the safe look, and the engine is running. Not there: universes 2, 7, which are not sent, or only just sent again',
    );
  });

  it('a clean stop and a reload are no errors', () => {
    for (const condition of ['shutdown', 'show-reload', 'engine-dead'] as const) {
      const event = {
        kind: 'lights',
        from: 'live',
        to: 'losing',
        cause: 'why',
        condition,
      } as const;
      expect(inWords(event).level).toBe(condition === 'engine-dead' ? 'error' : 'info');
    }
  });

  it('hazardous outputs refused for one reason are one line', () => {
    const line = (...outputs: { fixture: string; hazard: 'atmospheric' | 'strobe' }[]) => {
      const how = {
        gate: 'latched-off',
        wasOn: false,
        reason: 'feed-silent',
        by: '10.0.0.5',
      } as const;
      return inWords({ kind: 'engine', event: { kind: 'enable', outputs, ...how } }).text;
    };
    const why = 'refused: tracking is silent. Release, and press again once it is back';
    const haze = { fixture: 'haze', hazard: 'atmospheric' } as const;
    const left = { fixture: 'strobe-left', hazard: 'strobe' } as const;
    expect(line(haze, left)).toBe(
      `haze (atmospheric) and strobe-left (strobe) ${why} (asked by 10.0.0.5)`,
    );
    expect(line(left, { fixture: 'strobe-right', hazard: 'strobe' })).toBe(
      `strobe-left and strobe-right (strobe) ${why} (asked by 10.0.0.5)`,
    );
  });

  it('is an error where the lights or the feed are lost, and none when that is over', () => {
    expect(SUPERVISOR.lights.map(event => inWords(event).level)).toEqual(['error', 'info', 'info']);
    const feed = ENGINE.feed.map(event => inWords({ kind: 'engine', event }).level);
    expect(feed).toEqual(['error', 'info']);
  });
});

describe('drops', () => {
  const counters = (drops: Partial<Record<DropReason, number>>): EngineCounters => ({
    ...createCounters(),
    drops: { ...createCounters().drops, ...drops },
    lateTicks: 0,
    framesSkipped: 0,
    messagesDropped: 0,
    heapUsed: 0,
    rss: 0,
  });

  it('are told since the last report, by reason', () => {
    const before = counters({ 'unknown-tracker': 5, 'inbox-full': 2 });
    const now = {
      ...counters({ 'unknown-tracker': 12, 'inbox-full': 2, 'sender-not-allowed': 1 }),
      latest: { 'unknown-tracker': '77' },
      latestFrom: { 'unknown-tracker': '10.0.0.5', 'sender-not-allowed': '10.0.0.9' },
    };
    expect(describeDrops(now, before)).toEqual({
      level: 'warn',
      text: 'input dropped: 7 positions of a tracker that nobody in the show wears (last: 77 from 10.0.0.5); 1 datagram from a machine that the show does not allow (last: from 10.0.0.9)',
      data: { kind: 'dropped', drops: { 'unknown-tracker': 7, 'sender-not-allowed': 1 } },
    });
  });

  it('are no matter of stops and resumes that were merged: those have a line of their own', () => {
    const merged = (ordersMerged: number) => ({ ...counters({}), ordersMerged });
    expect(describeDrops(merged(3), merged(0))).toBeUndefined();
    expect(describeMerged(merged(3), merged(3))).toBeUndefined();
    expect(describeMerged(merged(12), merged(3))).toEqual({
      level: 'warn',
      text: '9 more stops and resumes came and were carried out: too many at once to be logged one by one. The log has how it ended',
      data: { kind: 'orders-merged', merged: 9 },
    });
    expect(describeMerged(merged(1), undefined)?.text).toMatch(
      /^1 more stop or resume came and was/,
    );
  });

  it('of a full socket are told with the sockets that dropped some', () => {
    const full = (count: number, fullSockets: Readonly<Record<string, number>>) => ({
      ...counters({ 'socket-full': count }),
      fullSockets,
    });
    const before = full(10, { 'UDP 127.0.0.1:40000': 10 });
    const now = full(19, {
      'UDP 127.0.0.1:40000': 10,
      'input "desk" (UDP 0.0.0.0:9011)': 2,
      'input "tracking" (UDP 0.0.0.0:9010)': 7,
    });
    expect(describeDrops(now, before)?.text).toBe(
      'input dropped: at input "desk" (UDP 0.0.0.0:9011) and input "tracking" (UDP 0.0.0.0:9010) 9 datagrams dropped by the system before this program could read them: a flood, or a machine that is too busy',
    );
  });

  it('are all told in the first report, and none where there are none', () => {
    expect(describeDrops(counters({ 'inbox-full': 2 }), undefined)?.text).toBe(
      'input dropped: 2 datagrams more at once than there was room for',
    );
    expect(describeDrops(counters({}), undefined)).toBeUndefined();
    expect(describeDrops(counters({ 'inbox-full': 2 }), counters({ 'inbox-full': 2 }))).toBe(
      undefined,
    );
  });
});

it.each([
  [{ only: 'artnet' }, 'this machine sends nothing', 'sACN'],
  [{ only: 'artnet', keepsArtnet: true }, 'the Art-Net of this machine goes on', 'sACN'],
  [{ only: 'artnet', beginsArtnet: true }, 'nobody sends Art-Net', 'sACN'],
  [{ only: 'sacn' }, 'this machine sends below it', 'Art-Net'],
] as const)('a main machine that comes back names what it sends: %o', (more, says, never) => {
  const { text } = inWords({ kind: 'pair', from: 'listening', to: 'joining', ...more });
  expect(text).toContain(says);
  expect(text).not.toContain(never);
});
