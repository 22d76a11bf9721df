import { execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { until } from '../system/support.js';

/** What tshark has on an interface, decoded by its own dissectors. */
export class Capture {
  private constructor(
    private readonly folder: string,
    private readonly file: string,
    private readonly tshark: ReturnType<typeof spawn>,
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
    const args = ['-i', where?.interface ?? 'lo', '-f', filter, '-w', file, '-q'];
    const [command = '', ...rest] = [...there, 'tshark', ...args];
    const tshark = spawn(command, rest, {
      stdio: ['ignore', 'ignore', 'pipe'],
    });
    let said = '';
    tshark.stderr.on('data', text => {
      said += String(text);
    });
    await until('the capture runs', () => said.includes('Capturing'));
    return new Capture(folder, file, tshark);
  }

  async end(): Promise<void> {
    await sleep(300); // the capture's own buffer
    this.tshark.kill('SIGINT');
    await new Promise(resolve => this.tshark.once('exit', resolve));
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
