import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { lookAtMachine } from '../../daemon/listening/look-at-machine.js';
import { checkDoctor } from '../../readiness/doctor.js';
import { loadShow } from '../files/show-file.js';
import { checkTable } from '../terminal/check-table.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { textOption } from '../terminal/option-values.js';
import { packageFolder } from '../terminal/package-folder.js';
import { refuse } from '../terminal/refuse.js';
import { print, styled } from '../terminal/terminal.js';

export const DOCTOR_HELP = `usage: lampwright doctor [SHOW] [--state-dir DIR] [--record DIR] [--json]

Looks at this machine: Node, clock and time server, processor clock, memory, open files, priority, receive
buffers, interfaces, cables, multicast, other running lampwrights, and whether the installed service is up to date. With a
show also its interfaces and ports. Each line is pass, warn, fail or unknown, and says what to do.
Sends nothing, and takes two seconds. For the traffic on the networks use \`lampwright networks\`.

  --state-dir DIR   also check that this user can write there, as \`run --state-dir\` would
  --record DIR      the same, as \`run --record\` would
  --json            { ok, checks }

examples:
  lampwright doctor
  lampwright doctor /etc/lampwright/main.show.yaml
  lampwright doctor my.show.yaml --record recordings --json | jq '.checks[] | select(.state != "pass")'

exit codes: 0 nothing failed, 1 a check failed or the show has errors, 2 bad usage or no such file`;

export async function doctor({ positionals: [file], values }: Arguments): Promise<number> {
  const loaded = file === undefined ? undefined : loadShow(file);
  if (loaded !== undefined && !loaded.ok) return refuse(loaded.problems);
  const show = loaded?.show;
  const folders = ['state-dir', 'record'].flatMap(option => {
    const path = textOption(values[option]);
    return path === undefined ? [] : [[option, path] as const];
  });
  const facts = await lookAtMachine({
    show,
    folders: new Map(folders),
    leastNode: leastNode(),
    shippedUnit: join(packageFolder(), 'systemd', 'lampwright@.service'),
  });
  const checks = checkDoctor(show, facts);
  const ok = checks.every(({ state }) => state !== 'fail');
  if (values.json === true) print(JSON.stringify({ ok, checks }, undefined, 2));
  else {
    print(`${styled('bold', show?.name ?? 'No show')}: this machine, for lampwright`);
    for (const line of checkTable(checks)) print(line);
  }
  return ok ? EXIT.ok : EXIT.failed;
}

/** The range in package.json, `>=20.19`. */
function leastNode(): string {
  const file = join(packageFolder(), 'package.json');
  const { engines } = JSON.parse(readFileSync(file, 'utf8')) as { engines: { node: string } };
  return engines.node.replace(/^>=/, '');
}
