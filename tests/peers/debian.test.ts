import { execFile } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, expect, it } from 'vitest';

const run = promisify(execFile);

/** A minute where the machine has much else to do. */
const TRIED_WITHIN_MS = 240_000;

let folder: string;
/** @returns the path of a package of this version */
async function build(version: string, into: string, umask = '022'): Promise<string> {
  const out = join(folder, into);
  const command = `umask ${umask}; exec "$@"`;
  const made = [process.execPath, 'scripts/package-deb.mjs', '--out', out, '--version', version];
  await run('sh', ['-c', command, 'sh', ...made], {
    env: { ...process.env, SOURCE_DATE_EPOCH: '1796000000' },
  });
  return join(out, `lampwright_${version}_all.deb`);
}

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-debian-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

// What is installed goes into a layer in memory over this machine's files, and leaves with it.
const LAYER = `
mount -t tmpfs layer "$1"
mkdir "$1/upper" "$1/work" "$1/root"
mount -t overlay overlay -o "lowerdir=/,upperdir=$1/upper,workdir=$1/work" "$1/root"
mount -t tmpfs tmp "$1/root/tmp"
exec scripts/debian/try.sh "$1/root" "$2" "$3"`;

it(
  'installs, runs as its unit would, upgrades with all that is kept, and leaves nothing behind',
  async () => {
    const [before, after] = await Promise.all([build('0.0.9', 'a'), build('0.1.0', 'b')]);
    const layer = join(folder, 'layer');
    mkdirSync(layer);
    const { stdout } = await run('unshare', [
      ...['--mount', 'sh', '-ec', LAYER, 'sh', layer, before, after],
    ]);
    expect(stdout.trim().split('\n')).toEqual([
      'held: installed; its show passes the check',
      'held: systemd has nothing to say against its unit, and starts it with the machine',
      'held: its manual pages have no faults',
      'held: bash completes it',
      'held: runs as its unit would, and answers',
      'held: its panel opens',
      'held: ends cleanly',
      'held: upgraded: show, identity and what people told it are kept',
      'held: removed: the program is gone, show and state are kept',
      'held: installed again after a removal: it starts',
      "held: purged: the venue's own show stays",
      'held: upgraded from a version whose show was a conffile: no question, and the show is kept',
      'held: purged with the show of the package: nothing is left',
    ]);
    // Reproducible: the same bytes from another folder, under another umask.
    const again = await build('0.1.0', 'c', '077');
    expect(readFileSync(again).equals(readFileSync(after))).toBe(true);
  },
  TRIED_WITHIN_MS,
);

it(
  'runs under systemd: restarts, watchdog, reloads, an upgrade and a purge',
  async () => {
    const made = await build('0.1.0', 'd');
    const layer = join(folder, 'booted');
    const told = join(folder, 'told');
    mkdirSync(layer);
    writeFileSync(told, '');
    const { stderr } = await run('unshare', [
      ...['--pid', '--fork', '--kill-child', '--mount', '--net', '--uts', '--ipc', '--cgroup'],
      ...['scripts/debian/boot.sh', layer, made, told],
    ]).catch(fault => fault as { readonly stderr: string });
    expect(readFileSync(told, 'utf8').trim().split('\n'), stderr).toEqual([
      'held: installed: systemd has started it, and its panel opens',
      'held: its exposure is 1.5 at most',
      'held: killed: it runs again, and knows who was stopped',
      'held: hung: its watchdog kills it, and it runs again',
      'held: reload: takes a changed show and refuses a broken one; a restart runs the one that was accepted',
      'held: upgraded: it was started again, and knows who was stopped',
      'held: stopped: it ends cleanly, and an upgrade leaves it stopped',
      'held: purged: it has ended, and its state is gone',
    ]);
  },
  TRIED_WITHIN_MS,
);
