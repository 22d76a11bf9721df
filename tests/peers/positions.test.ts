import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, Trackers, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

const PORT = 9051;
let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let trackers: Trackers;

beforeEach(() => {
  show = variantOf('config/minimal.show.yaml', [
    [
      'mappings:',
      `receivers:
  sound: { address: 127.0.0.1, port: ${PORT} }
positions:
  rack: { to: sound, protocol: osc, address: "/source/{id}", arguments: [x, y, tracked, state, performer], unit: cm, rate: 10 }
mappings:`,
    ],
  ]);
  trackers = new Trackers();
  daemon = Daemon.run(show.file);
});
afterEach(async () => {
  trackers.close();
  await daemon.stop();
  show.remove();
});

it('positions are read by oscdump (liblo): not heard, tracked, lost', async () => {
  // Line by line, as a pipe would keep it back.
  const dump = spawn('stdbuf', ['-oL', 'oscdump', String(PORT)]);
  let said = '';
  dump.stdout.on('data', (text: Buffer) => {
    said += text.toString();
  });
  try {
    await until('nobody was heard', () => said.includes('not heard'), 20);
    trackers.place(1, 2, 3);
    await until('she is tracked', () => said.includes('"tracked"'), 20);
    trackers.silence(1);
    // Also before the light would follow for the first time.
    const isLost = () => said.lastIndexOf('"lost"') > said.lastIndexOf('"tracked"');
    await until('she is lost', isLost, 20);
  } finally {
    dump.kill();
  }
  const lines = said.trim().split('\n');
  const of = (state: string) => lines.filter(line => line.includes(`"${state}"`)).at(-1);
  expect(of('not heard')).toMatch(
    /\/source\/1 ffiss 300\.000000 200\.000000 0 "not heard" "ines"$/,
  );
  expect(of('tracked')).toMatch(
    /\/source\/1 ffiss (19\d|20\d)\.\d+ (29\d|30\d)\.\d+ 1 "tracked" "ines"$/,
  );
  expect(of('lost')).toMatch(
    /\/source\/1 ffiss (19\d|20\d)\.\d+ (29\d|30\d)\.\d+ 0 "lost" "ines"$/,
  );
});
