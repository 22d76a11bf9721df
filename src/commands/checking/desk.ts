import {
  type DeskChart,
  type DeskUniverseChart,
  deskChart,
  deskChartCsv,
} from '../../sheets/desk-chart.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { refuse } from '../terminal/refuse.js';
import { print, styled } from '../terminal/terminal.js';
import { writeText } from '../terminal/text-files.js';

export const DESK_HELP = `usage: lampwright desk SHOW [--json] [--csv FILE] [--force]

Prints a chart to patch the desk: the slots that it drives, what each does, and what remains when the desk is gone.

  --csv FILE   also writes it as a table
  --json       everything, for programs

examples:
  lampwright desk config/salt-lantern.show.yaml
  lampwright desk my.show.yaml --csv desk.csv
  lampwright desk my.show.yaml --json | jq '.universes[].slots[] | {slot, does}'

exit codes: 0 ok, 1 the show has errors, 2 bad usage, no such file, or a table that can't be written`;

const misuse = misuseOf('desk');

export async function desk(args: Arguments): Promise<number> {
  const loaded = loadShow(args.positionals[0] ?? '');
  if (!loaded.ok) return refuse(loaded.problems);
  const chart = deskChart(loaded.show);
  const table = args.values.csv;
  if (typeof table === 'string') {
    const why = writeText(table, deskChartCsv(chart));
    if (why !== undefined) return misuse(`can't write ${table}: ${why}.`);
  }
  print(args.values.json === true ? JSON.stringify(chart, undefined, 2) : text(chart));
  return EXIT.ok;
}

function text({ show, universes, cues }: DeskChart): string {
  if (universes.length === 0) {
    return `${show} listens to no desk. Put the universes to listen to under \`desk\` in the show file.`;
  }
  return [
    styled('bold', `${show}: what the desk drives`),
    ...universes.flatMap(universeText),
    ...(cues.length === 0 ? [] : ['', styled('bold', 'cues by number'), ...cues.map(cueText)]),
  ].join('\n');
}

function cueText({ number, name, label }: DeskChart['cues'][number]): string {
  return `  ${String(number).padStart(4)}  ${label === name ? name : `${label} (${name})`}`;
}

function universeText(one: DeskUniverseChart): string[] {
  const wire =
    one.protocol === 'sacn'
      ? `sACN universe ${one.universe}`
      : `Art-Net Port-Address ${one.universe}`;
  const head = ['', styled('bold', `${one.name}: ${wire}, on ${one.interface}`)];
  if (one.ground !== null) head.push(`  ground of universe ${one.ground} of the show`);
  if (one.slots.length === 0) return head;
  const width = Math.max(4, ...one.slots.map(({ does }) => does.length));
  return [
    ...head,
    `  ${'slot'.padEnd(9)}${'does'.padEnd(width + 2)}desk gone`,
    ...one.slots.map(({ slot, fine, does, gone }) => {
      const place = fine === null ? String(slot) : `${slot} + ${fine}`;
      return `  ${place.padEnd(9)}${does.padEnd(width + 2)}${gone}`;
    }),
  ];
}
