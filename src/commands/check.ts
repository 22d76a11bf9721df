import { type Show, SLOTS_PER_UNIVERSE } from '../show/model.js';
import { formatProblem } from '../show/problem.js';
import { safeLook } from '../show/safe-look.js';
import type { Arguments } from './cli.js';
import { EXIT } from './exit-codes.js';
import { type LoadedShow, loadShow } from './show-file.js';
import { complain, print, styled } from './terminal.js';

export const CHECK_HELP = `usage: lampwright check SHOW [--json]

Reads a show file as \`run\` would, says all that is wrong with it, and opens no socket.

  --json    the result as JSON: { ok, errors, show: { performers, zones, fixtures, universes, safeLook } }

examples:
  lampwright check config/salt-lantern.show.yaml
  lampwright check my.show.yaml --json | jq '.errors[].message'

exit codes: 0 the show is right, 1 it has errors, 2 bad usage or no such file`;

export async function check(args: Arguments): Promise<number> {
  const file = args.positionals[0] ?? '';
  const loaded = loadShow(file);
  if (args.values.json === true) print(JSON.stringify(asJson(loaded), undefined, 2));
  else if (loaded.ok) print(table(file, loaded.show));
  else {
    for (const problem of loaded.problems) complain(formatProblem(problem));
    const count = loaded.problems.length;
    complain(styled('red', `${count} ${count === 1 ? 'error' : 'errors'}.`, process.stderr));
  }
  return exitCode(loaded);
}

export function exitCode(loaded: LoadedShow): number {
  if (loaded.ok) return EXIT.ok;
  return loaded.problems[0]?.code === 'file-unreadable' ? EXIT.usage : EXIT.failed;
}

function asJson(loaded: LoadedShow): unknown {
  if (!loaded.ok) return { ok: false, errors: loaded.problems, show: null };
  const { show } = loaded;
  return {
    ok: true,
    errors: [],
    show: {
      name: show.name,
      performers: show.performers.map(one => one.name),
      zones: show.zones.map(one => one.name),
      fixtures: show.fixtures.map(one => one.name),
      universes: show.universes,
      safeLook: safeLookByUniverse(show),
    },
  };
}

function safeLookByUniverse(show: Show): Record<string, number[]> {
  const levels = safeLook(show);
  return Object.fromEntries(
    show.universes.map((universe, index) => [
      String(universe),
      [...levels.subarray(index * SLOTS_PER_UNIVERSE, (index + 1) * SLOTS_PER_UNIVERSE)],
    ]),
  );
}

function table(file: string, show: Show): string {
  const lines = [
    `${styled('green', 'ok')}  ${show.name}  (${file})`,
    `    ${show.performers.length} performers: ${show.performers.map(p => `${p.label} (tracker ${p.trackers.map(({ id }) => id).join(', ')})`).join(', ')}`,
    `    ${show.zones.length} zones: ${show.zones.map(z => z.label).join(', ') || 'none'}`,
    `    ${show.outputs.length} outputs: ${show.outputs
      .map(
        o =>
          `${o.name} (${o.protocol}, ${o.universes.length} universes, ${o.rateHz} Hz, from ${o.interface})`,
      )
      .join(', ')}`,
    '',
    `    ${'fixture'.padEnd(20)}${'patch'.padEnd(12)}${'safe look'}`,
  ];
  for (const fixture of show.fixtures) {
    const universe = show.universes[fixture.universe];
    const patch = `${universe}/${(fixture.firstSlot % SLOTS_PER_UNIVERSE) + 1}`;
    const values = fixture.profile.channels.map(
      (channel, i) => `${channel.attribute} ${Number((fixture.safe[i] ?? 0).toFixed(1))}`,
    );
    lines.push(`    ${fixture.name.padEnd(20)}${patch.padEnd(12)}${values.join(', ')}`);
  }
  return lines.join('\n');
}
