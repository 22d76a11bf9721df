import { statSync } from 'node:fs';
import { networkInterfaces } from 'node:os';
import { setTimeout as sleep } from 'node:timers/promises';
import encodeQr from 'qr';
import { answers, ask } from '../../daemon/asking/ask.js';
import { inPlainWords } from '../../daemon/files/read-file.js';
import { newToken, readToken, readWhere, type TokenRead } from '../../daemon/panel/token.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { complain, print } from '../terminal/terminal.js';

export const PANEL_HELP = `usage: lampwright panel [STATE_DIR] [--new-token] [--json]

Prints the link to the panel of a daemon, with the token that is needed to act, and as a QR code for a phone. STATE_DIR is the
folder that the daemon was started with (run --state-dir); the default is that of the service, /var/lib/lampwright/main. Anybody with the
link can stop and start light: give it only to people who may.

  --new-token   make a new token first: links with the old one no longer work
  --json        { "url", "token", "links", "running": whether a daemon answers }

examples:
  lampwright panel ./state
  sudo lampwright panel
  lampwright panel ./state --new-token

exit codes: 0 ok, 1 no panel has been started there, or no daemon answers there now, 2 bad usage or the folder can't be read`;

const SERVICE_FOLDER = '/var/lib/lampwright/main';
const ANYWHERE: ReadonlySet<string> = new Set(['0.0.0.0', '[::]']);

const AS_ITS_USER = 'Ask as the user that the daemon runs as, or with sudo.';

const misuse = misuseOf('panel');

export async function panel({ positionals, values }: Arguments): Promise<number> {
  const [folder = SERVICE_FOLDER] = positionals;
  let read: TokenRead;
  try {
    // A folder that is gone is not made again: a disk may belong there.
    if (!statSync(folder).isDirectory()) return misuse(`${folder} is not a folder.`);
    read = values['new-token'] === true ? { ok: true, token: newToken(folder) } : readToken(folder);
  } catch (error) {
    const verb = values['new-token'] === true ? 'written' : 'read';
    const isGone = (error as NodeJS.ErrnoException).code === 'ENOENT';
    const why = isGone ? 'there is no such folder' : inPlainWords(error, verb);
    const isBarred = ['EACCES', 'EPERM'].includes((error as NodeJS.ErrnoException).code ?? '');
    const what =
      verb === 'written' && hasToken(folder)
        ? `no new token could be written in ${folder}: ${why}. The old one still works.`
        : `no token in ${folder}: ${why}.`;
    return misuse(`${what}${isBarred ? ` ${AS_ITS_USER}` : ''}`);
  }
  if (!read.ok && read.fault !== undefined) {
    const remedy = read.isUnread
      ? AS_ITS_USER
      : `Make another token: lampwright panel ${folder} --new-token`;
    complain(`${read.fault}. ${remedy}`);
    return EXIT.failed;
  }
  const isNew = values['new-token'] === true;
  const url = readWhere(folder) ?? (isNew ? await whereSoon(folder) : undefined);
  if (read.ok && url === undefined && isNew) {
    const running = (await answers(folder)) !== 'nobody';
    if (values.json === true) {
      print(JSON.stringify({ url: null, token: read.token, links: [], running }));
      return EXIT.ok;
    }
    print(`A new token was made, and links with the old one no longer work: ${read.token}`);
    print(`There is no link: ${await missingOf(folder, true, undefined)}`);
    return EXIT.ok;
  }
  if (!read.ok || url === undefined) {
    complain(await missingOf(folder, read.ok, url));
    return EXIT.failed;
  }
  const { token } = read;
  const links = linksOf(url, token);
  const isAlone = (await answers(folder)) === 'nobody';
  // Making another token succeeds whether or not a daemon runs.
  const code = isAlone && values['new-token'] !== true ? EXIT.failed : EXIT.ok;
  if (values.json === true) {
    print(JSON.stringify({ url, token, links, running: !isAlone }));
    return code;
  }
  const [first = ''] = links;
  if (isAlone) complain(`No daemon answers in ${folder} now: the link opens once one runs there.`);
  print(`The panel ${isAlone ? 'was' : 'is'} at ${url}`);
  print(
    'Whoever has this link may stop and resume, take cues and hold enables. Give it only to those who may.',
  );
  for (const link of links) print(`  ${link}`);
  // One that scans it on another machine can't reach this one's loopback.
  if (/^https?:\/\/(127\.|\[::1\])/.test(first)) {
    print('It listens for this machine only. For a phone: lampwright run ... --panel ADDRESS:7240');
    return code;
  }
  print('');
  process.stdout.write(encodeQr(first, 'ascii', { ecc: 'low' }));
  return code;
}

function hasToken(folder: string): boolean {
  try {
    return readToken(folder).ok;
  } catch {
    return false;
  }
}

/** A panel whose folder was wiped or away writes its address again within a second or two. */
async function whereSoon(folder: string): Promise<string | undefined> {
  for (let looks = 0; looks < 25 && (await answers(folder)) !== 'nobody'; looks++) {
    await sleep(100);
    const url = readWhere(folder);
    if (url !== undefined) return url;
  }
  return undefined;
}

/** A message: why there is no link, and what to do. */
async function missingOf(
  folder: string,
  hasToken: boolean,
  url: string | undefined,
): Promise<string> {
  if (!hasToken && url !== undefined) {
    return `The token of the panel at ${url} was removed. Make another: lampwright panel ${folder} --new-token`;
  }
  if ((await answers(folder)) !== 'nobody') {
    const { status } = await ask(folder, ['status']);
    const why = status?.troubles.find(({ what }) => what.startsWith('no panel: '))?.what;
    if (why !== undefined) {
      return `A daemon answers in ${folder}, but its panel can't run: ${why.replace(/^no panel: |\.$/g, '')}. It is tried again.`;
    }
    return `A daemon answers in ${folder}, but no panel of it listens: it was started without one (--panel off), it has just begun, or its port is taken. lampwright tell ${folder} status and the log say which.`;
  }
  if (hasToken) {
    return `It isn't known where the panel of ${folder} listened last, and no daemon answers there now. Start one: lampwright run SHOW --state-dir ${folder}`;
  }
  return `No panel has been started with ${folder}: start one (lampwright run SHOW --state-dir ${folder}).`;
}

/** The token comes after the `#`: browsers don't send that part, so no log has it. */
function linksOf(url: string, token: string): string[] {
  const { protocol, hostname, port } = new URL(url);
  const hosts = ANYWHERE.has(hostname) ? addresses() : [hostname];
  return hosts.map(host => `${protocol}//${host}${port === '' ? '' : `:${port}`}/#token=${token}`);
}

function addresses(): string[] {
  const all = Object.values(networkInterfaces())
    .flatMap(some => some ?? [])
    .filter(({ family, internal }) => family === 'IPv4' && !internal)
    .map(({ address }) => address);
  // Without any network, this machine itself still gets in.
  return all.length === 0 ? ['127.0.0.1'] : all;
}
