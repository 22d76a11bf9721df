import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { lookAtMachine } from '../daemon/listening/look-at-machine.js';
import { checkDoctor } from '../readiness/doctor.js';
import { checkTable } from './check-table.js';
import type { Arguments } from './dispatch.js';
import { EXIT } from './exit-codes.js';
import { textOption } from './option-values.js';
import { refuse } from './refuse.js';
import { loadShow } from './show-file.js';
import { print, styled } from './terminal.js';

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
    shippedUnit: fileURLToPath(new URL('../../systemd/lampwright@.service', import.meta.url)),
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
  const file = new URL('../../package.json', import.meta.url);
  const { engines } = JSON.parse(readFileSync(file, 'utf8')) as { engines: { node: string } };
  return engines.node.replace(/^>=/, '');
}
