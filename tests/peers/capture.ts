import { execFileSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { until } from '../system/support.js';
import { spawn } from '../tethered.js';

/** What tcpdump takes from an interface, decoded by the dissectors of tshark. */
export class Capture {
  private constructor(
    private readonly folder: string,
    private readonly file: string,
    private readonly tcpdump: ReturnType<typeof spawn>,
  ) {}

  /**
   * @param filter of libpcap
   * @param where a network namespace and an interface in it; the loopback interface without
   */
  static async open(
    filter: string,
    where?: { readonly host: string; readonly interface: string },
  ): Promise<Capture> {
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-capture-'));
    const file = join(folder, 'light.pcap');
    const there = where === undefined ? [] : ['ip', 'netns', 'exec', where.host];
    // Each packet at once, written as it comes; by its own standard output, as it gives up the rights to our folder.
    const options = ['-i', where?.interface ?? 'lo', '-U', '--immediate-mode', '-w', '-', filter];
    const [command = '', ...rest] = [...there, 'tcpdump', ...options];
    const to = openSync(file, 'w');
    const tcpdump = spawn(command, rest, { stdio: ['ignore', to, 'pipe'] });
    closeSync(to);
    let said = '';
    tcpdump.stderr?.on('data', text => {
      said += String(text);
    });
    await until('the capture runs', () => said.includes('listening on'));
    return new Capture(folder, file, tcpdump);
  }

  async end(): Promise<void> {
    await sleep(300); // the capture's own buffer
    this.tcpdump.kill('SIGINT');
    await new Promise(resolve => this.tcpdump.once('exit', resolve));
  }

  /** A row a packet that the display filter lets through, a cell a field. */
  fields(filter: string, names: readonly string[]): string[][] {
    const wanted = names.flatMap(name => ['-e', name]);
    const args = ['-r', this.file, '--enable-heuristic', 'acn', '-o', 'acn.dmx_enable:TRUE'];
    return execFileSync('tshark', [...args, '-Y', filter, '-T', 'fields', ...wanted], {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'ignore'],
    })
      .trim()
      .split('\n')
      .map(line => line.split('\t'));
  }

  remove(): void {
    rmSync(this.folder, { recursive: true });
  }
}
