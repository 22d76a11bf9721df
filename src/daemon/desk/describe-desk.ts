import { listed } from '../../engine/events/event-words.js';
import { printable } from '../../stage/printable.js';
import { unreachable } from '../../stage/unreachable.js';
import type { Entry } from '../log/log-entry.js';
import type { DeskEvent, DeskSource, WhenGone } from './events.js';

/** An event of the desk in words, with its weight. */
export function describeDesk(event: DeskEvent): Entry {
  switch (event.kind) {
    case 'desk-heard':
      return {
        level: 'info',
        text: `desk "${event.input}" is heard${event.afterS === undefined ? '' : ` again, after ${event.afterS.toFixed(0)} s`}: ${sourcesInWords(event.sources)}`,
        data: event,
      };
    case 'desk-gone': {
      const { last, ended, input } = event;
      const who = last === undefined ? '' : ` (${sourceInWords(last)})`;
      return {
        level: 'error',
        text: `desk "${input}"${who} ${ended ? 'has ended its stream' : 'is silent'}: ${goneInWords(event)}`,
        data: event,
      };
    }
    case 'desk-silent':
      return {
        level: 'warn',
        text: `desk "${event.input}" has not been heard since the start: is it on, does it send this universe, and on this network?`,
        data: event,
      };
    case 'desk-sources':
      return {
        level: event.sources.length > 1 ? 'warn' : 'info',
        text: `desk "${event.input}" is heard from ${sourcesInWords(event.sources)}`,
        data: event,
      };
    case 'desk-dropped': {
      const told = Object.entries(event.drops).map(
        ([reason, count]) => `${count} ${DROP_WORDS[reason] ?? reason}`,
      );
      return {
        level: 'warn',
        text: `packets from the desk that were not used: ${told.join('; ')}`,
        data: event,
      };
    }
    case 'desk-deaf':
      return {
        level: 'error',
        text: `${desksInWords(event.inputs)} can't be heard on ${event.interface}: ${event.reason}`,
        data: event,
      };
    case 'desk-listens':
      return {
        level: 'info',
        text: `${desksInWords(event.inputs)} can be heard on ${event.interface} again`,
        data: event,
      };
    case 'desk-flood':
      return {
        level: 'warn',
        text: `far more comes in on ${event.interface} than a desk sends: ${desksInWords(event.inputs)} may not be heard for ${event.forS} s. Look for a program that sends far too fast`,
        data: event,
      };
    default:
      return unreachable(event);
  }
}

const DROP_WORDS: Readonly<Record<string, string>> = {
  unreadable: 'could not be read',
  late: 'came late or twice (by their numbers)',
  preview: 'were for previews only',
  'too-many-sources': 'from sources beyond the four that are used',
  'third-source': 'from an Art-Net source beyond the two that are used',
};

/** "its last levels are held, but signal rack goes to 100 %; its fixtures with `ground: safe` fall back on the show's own safe values" */
export function goneInWords({ gone, goneApart = [], leavesSafe = false }: WhenGone): string {
  const apart = goneApart.map(one => `signal ${one.signal} ${ofSignal(one.gone)}`);
  const but = apart.length === 0 ? '' : `, but ${listed(apart)}`;
  const safe = leavesSafe ? "; what had its safe values from it uses the show's own" : '';
  return `${ofAll(gone)}${but}${safe}`;
}

function ofAll(gone: WhenGone['gone']): string {
  if (gone === 'hold') return 'its last levels are held';
  if (gone === 'unknown') return 'whatever depends on it goes to its safe values';
  return `its levels go to ${percent(gone)}`;
}

function ofSignal(gone: WhenGone['gone']): string {
  if (gone === 'hold') return 'stays as it was';
  if (gone === 'unknown') return 'is not known, and what depends on it goes to its safe values';
  return `goes to ${percent(gone)}`;
}

function percent(share: number): string {
  return `${Math.round(share * 100)} %`;
}

/** Each of them, and of several which counts. */
export function sourcesInWords(sources: readonly DeskSource[]): string {
  const [only] = sources;
  if (only !== undefined && sources.length === 1) return sourceInWords(only);
  const leading = sources.filter(({ leads }) => leads);
  const all = sources.map(sourceInWords).join(' and ');
  const [first] = leading;
  const counts =
    leading.length > 1 || first === undefined
      ? 'the highest level of each slot counts'
      : `${printable(first.name)} counts`;
  return `${sources.length} sources, ${all}: ${counts}`;
}

function sourceInWords({ name, address, priority }: DeskSource): string {
  const at = name === address ? address : `"${printable(name)}" at ${address}`;
  return priority === undefined ? at : `${at}, priority ${priority}`;
}

function desksInWords(inputs: readonly string[]): string {
  return `${inputs.length === 1 ? 'desk' : 'desks'} ${inputs.map(one => `"${one}"`).join(', ')}`;
}
