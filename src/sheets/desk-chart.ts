import { basisOf } from '../show/model/basis.js';
import { mappingTitle } from '../show/model/mapping-words.js';
import type { DeskDoes, DeskInputPlan, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { unreachable } from '../stage/unreachable.js';

/** What the desk drives, slot by slot, to patch it by. */
export interface DeskChart {
  readonly show: string;
  readonly universes: readonly DeskUniverseChart[];
  /** Numbers of the cues, for a slot that brings them on by number. */
  readonly cues: readonly {
    readonly number: number;
    readonly name: string;
    readonly label: string;
  }[];
}

export interface DeskUniverseChart {
  readonly name: string;
  readonly protocol: 'sacn' | 'artnet';
  readonly universe: number;
  readonly interface: string;
  /** Universe of the show that lies on it; null: none does. */
  readonly ground: number | null;
  readonly slots: readonly DeskSlot[];
}

export interface DeskSlot {
  /** Counted from 1. */
  readonly slot: number;
  /** The second slot of 16 bits; null: it has 8. */
  readonly fine: number | null;
  /** Signal or order. */
  readonly kind: 'signal' | DeskDoes['kind'];
  /** In a technician's words: what it does, and what a lost desk leaves of it. */
  readonly does: string;
  readonly gone: string;
}

export function deskChart(show: Show): DeskChart {
  return {
    show: show.name,
    universes: show.desk.map((plan, index): DeskUniverseChart => {
      const slots = [...signalSlots(show, index), ...orderSlots(show, index)];
      const { name, protocol, universe, interface: on, ground } = plan;
      return {
        name,
        protocol,
        universe,
        interface: on,
        ground: ground === undefined ? null : (show.universes[ground] ?? null),
        slots: slots.sort((a, b) => a.slot - b.slot),
      };
    }),
    cues: show.orders.some(({ does }) => does.kind === 'cue' && does.to === 'number')
      ? show.cues.map(({ name, label }, i) => ({ number: i + 1, name, label }))
      : [],
  };
}

function signalSlots(show: Show, input: number): DeskSlot[] {
  return show.signals.signals.flatMap(({ name, source }, index): DeskSlot[] => {
    if (source.kind !== 'slot' || source.desk !== input) return [];
    const drives = drivenBy(show, index);
    return [
      {
        slot: source.coarse + 1,
        fine: source.fine === undefined ? null : source.fine + 1,
        kind: 'signal',
        does: `signal ${name}: ${drives.length === 0 ? 'drives nothing' : drives.join('; ')}`,
        gone: goneWords(source.gone),
      },
    ];
  });
}

/** "drives sea; master of storm; condition lit" */
function drivenBy(show: Show, signal: number): string[] {
  const drives: string[] = [];
  const masters: string[] = [];
  const over: string[] = [];
  const rests: string[] = [];
  show.mappings.forEach((mapping, index) => {
    const title = mappingTitle(show, index);
    const isBy = mapping.kind === 'signal' && mapping.by?.includes(signal) === true;
    if (isBy && mapping.isMaster === true) {
      over.push(...mapping.fixtures.map(one => show.fixtures[one]?.label ?? ''));
    } else if (mapping.master === signal) masters.push(title);
    else if (isBy) drives.push(title);
    else if (basisOf(show, mapping).signals.has(signal)) rests.push(title);
  });
  const conditions = show.signals.conditions.flatMap(({ name, test }) =>
    test.kind === 'threshold' && test.signal === signal ? [name] : [],
  );
  const said = (words: string, all: readonly string[]) =>
    all.length === 0 ? [] : [`${words} ${enumerated([...new Set(all)], 12)}`];
  return [
    ...said('drives', drives),
    ...said('master of', masters),
    ...said('master over', over),
    ...said('has a part in', rests),
    ...said('condition', conditions),
  ];
}

function goneWords(gone: DeskInputPlan['gone']): string {
  switch (gone) {
    case 'hold':
      return 'stays as it was';
    case 'unknown':
      return 'unknown: to safe values';
    default:
      return `goes to ${Number((100 * gone).toFixed(1))} %`;
  }
}

function orderSlots(show: Show, input: number): DeskSlot[] {
  return show.orders.flatMap(({ desk, slot, does }): DeskSlot[] =>
    desk === input
      ? [{ slot: slot + 1, fine: null, kind: does.kind, ...orderWords(show, does) }]
      : [],
  );
}

const RISE = 'when it rises through 50 %';
const WHILE = 'while above a half';

function orderWords(show: Show, does: DeskDoes): Pick<DeskSlot, 'does' | 'gone'> {
  const stays = 'stays as it was';
  const whom = (names: readonly string[]) =>
    names.length === 0
      ? 'everybody'
      : enumerated(
          names.map(name => show.performers.find(one => one.name === name)?.label ?? name),
          12,
        );
  switch (does.kind) {
    case 'cue': {
      const { to } = does;
      if (to === 'number') return { does: 'cue whose number is the level', gone: stays };
      if (to === 'next' || to === 'back') return { does: `cue ${to}, ${RISE}`, gone: stays };
      const label = show.cues.find(({ name }) => name === to.name)?.label ?? to.name;
      return { does: `cue ${label}, ${RISE}`, gone: stays };
    }
    case 'stop':
      return { does: `stops ${whom(does.performers)}, ${does.held ? WHILE : RISE}`, gone: stays };
    case 'off':
      return {
        does: `sends ${whom(does.performers)} off stage, ${does.held ? WHILE : RISE}`,
        gone: stays,
      };
    case 'resume':
      return { does: `resumes ${whom(does.performers)}, ${RISE}`, gone: stays };
    case 'on':
      return { does: `takes ${whom(does.performers)} back on stage, ${RISE}`, gone: stays };
    case 'enable':
      return { does: `enables ${does.hazard}, ${WHILE}`, gone: 'released: drops at once' };
    default:
      return unreachable(does);
  }
}

/** RFC 4180, a line a slot. */
export function deskChartCsv({ universes }: DeskChart): string {
  const rows = universes.flatMap(one =>
    one.slots.map(({ slot, fine, does, gone }) => [
      one.name,
      one.protocol,
      String(one.universe),
      String(slot),
      fine === null ? '' : String(fine),
      does,
      gone,
    ]),
  );
  const head = ['name', 'protocol', 'universe', 'slot', 'fine', 'does', 'desk gone'];
  return `${[head, ...rows].map(row => row.map(cell).join(',')).join('\r\n')}\r\n`;
}

function cell(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
