// A second receiver that is not ours: OLA (Debian's ola), with an E1.31 and an Art-Net port, and its recorder.
import { chownSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { spawnOn } from './hosts.mjs';

/** olad refuses to be root; Debian's user of no rights. */
const NOBODY = 65534;
/** All but E1.31 and Art-Net: they would look for hardware, or send. */
const OFF =
  'dummy espnet ftdidmx gpio karate kinet milinst opendmx openpixelcontrol osc pathport renard sandnet shownet spi stageprofi uartdmx usbdmx usbserial';
/** As OLA keeps it: plug-in, device, input, port = universe. 11 is E1.31, 2 is Art-Net. */
const PATCH = { sacn: '11-1-I-0', artnet: '2-1-I-0' };
const SENDS = { sacn: '11-1-O-0', artnet: '2-1-O-0' };
const STARTS_WITHIN_S = 10;

export class Ola {
  #folder;
  #daemon;
  #recorder;
  #recording;
  #universes;
  #frames;

  /**
   * @param universes { protocol: universe }, each a number of its own, Art-Net's below 16
   * @param sends those that it sends instead of recording them: a desk
   */
  static async open(host, universes, sends = false) {
    const ola = new Ola();
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-ola-'));
    ola.#folder = folder;
    ola.#universes = universes;
    ola.#recording = join(folder, 'show');
    for (const plugin of OFF.split(' ')) {
      writeFileSync(join(folder, `ola-${plugin}.conf`), 'enabled = false\n');
    }
    const ports = Object.entries(universes).map(
      ([protocol, one]) => `${(sends ? SENDS : PATCH)[protocol]} = ${one}\n`,
    );
    writeFileSync(join(folder, 'ola-port.conf'), ports.join(''));
    chownSync(folder, NOBODY, NOBODY);
    const asNobody = ['setpriv', `--reuid=${NOBODY}`, `--regid=${NOBODY}`, '--clear-groups'];
    const options = ['-c', folder, '--no-http', '--no-register-with-dns-sd', '-l', '3'];
    ola.#daemon = spawnOn(host, [...asNobody, 'olad', ...options]);
    await said(ola.#daemon, 'olad', text =>
      ['ArtNet', 'E1.31 (sACN)'].every(plugin => text.includes(`Started ${plugin}`)),
    );
    const list = Object.values(universes).join(',');
    ola.#recorder = spawnOn(host, ['ola_recorder', '-r', ola.#recording, '-u', list, '-l', '3']);
    return ola;
  }

  /** Ends both. @returns { atS, protocol, universe, slots }, as the capture has them; atS from the first */
  async close() {
    await ended(this.#recorder, 'SIGINT');
    await ended(this.#daemon, 'SIGTERM');
    if (this.#frames === undefined) {
      this.#frames = readShow(readFileSync(this.#recording, 'latin1'), this.#universes);
      rmSync(this.#folder, { recursive: true });
    }
    return this.#frames;
  }
}

/**
 * OLA's show file: a head, then for each packet a line of its universe and slots, and between two a line of the
 * milliseconds that passed. Those are cut to whole ones, half of one too few on average; 0 is between the packets
 * of one beat.
 */
function readShow(text, universes) {
  const [head, ...lines] = text.split('\n');
  if (head !== 'OLA Show') throw new Error(`this is no show of OLA: ${head}`);
  const protocols = Object.entries(universes);
  const frames = [];
  let atS = 0;
  for (const line of lines) {
    const [first, levels] = line.split(' ');
    if (levels === undefined) {
      if (Number(first) > 0) atS += (Number(first) + 0.5) / 1000;
      continue;
    }
    const universe = Number(first);
    const protocol = protocols.find(([, one]) => one === universe)?.[0];
    frames.push({ atS, protocol, universe, slots: Uint8Array.from(levels.split(','), Number) });
  }
  return frames;
}

function ended(child, signal) {
  if (child.exitCode !== null || child.signalCode !== null) return undefined;
  const gone = new Promise(resolve => child.once('exit', resolve));
  child.kill(signal);
  return gone;
}

/** What a program says until something holds. */
function said(child, name, holds) {
  return new Promise((resolve, reject) => {
    let text = '';
    const late = setTimeout(
      () => reject(new Error(`${name} said ${text}`)),
      STARTS_WITHIN_S * 1000,
    );
    const hear = part => {
      text += part;
      if (!holds(text)) return;
      clearTimeout(late);
      resolve();
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    child.once('exit', code => reject(new Error(`${name} ended with ${code}: ${text}`)));
  });
}
