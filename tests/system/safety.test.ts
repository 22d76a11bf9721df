import { createSocket, type Socket } from 'node:dgram';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import {
  checkJson,
  Daemon,
  lampwright,
  SALT_LANTERN,
  SacnReceiver,
  Trackers,
  until,
  variantOf,
} from './support.js';

/** Ports and addresses of this file's own. */
const POSITIONS = 19_510;
const ORDERS = 19_511;
const RECEIVER = '127.0.0.91';
const STOVE = 0;
const HAZE = 30;

let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let sacn: SacnReceiver;
let trackers: Trackers;
let desk: Socket;
let held: NodeJS.Timeout | undefined;
let safe: readonly number[];

function order(address: string, value?: number, from = desk): void {
  const args = value === undefined ? [] : [{ type: 'i' as const, value }];
  from.send(encodePacket({ address: `/lampwright/${address}`, args }), ORDERS, '127.0.0.1');
}

/** A hand on the enable, as a desk repeats it. */
function hold(isHeld: boolean): void {
  clearInterval(held);
  held = isHeld ? setInterval(() => order('enable/atmospheric', 1), 100) : undefined;
}

beforeEach(async () => {
  show = variantOf(SALT_LANTERN, [
    ['port: 9010', `port: ${POSITIONS}`],
    ['port: 9011', `port: ${ORDERS}`],
    ['to: [127.0.0.1]', `to: [${RECEIVER}]`],
  ]);
  const result = await checkJson(show.file);
  safe = result.show?.safeLook['1'] ?? [];
  sacn = await SacnReceiver.open(1, RECEIVER);
  trackers = new Trackers(POSITIONS);
  desk = createSocket('udp4');
  daemon = Daemon.run(show.file);
  trackers.place(1, 2, 6);
  await until('the stove is lit', () => sacn.last[STOVE] === 217, 20);
});

afterEach(async () => {
  hold(false);
  desk.close();
  trackers.close();
  sacn.close();
  await daemon.stop();
  show.remove();
});

const engineHasTheLight = () =>
  daemon.log.filter(({ kind }) => kind === 'lights').at(-1)?.to === 'live';

/**
 * Presses until it counts, as a technician does: a machine that stands still for a moment has the enable taken anew, and
 * none counts before the light is back from the safe look.
 */
async function pressForHaze(what: string): Promise<void> {
  const gates = (gate: string) =>
    daemon.log.filter(line => line.kind === 'enable' && line.gate === gate).length;
  for (let presses = 0; presses < 5; presses++) {
    await until('the engine has the light', engineHasTheLight, 20);
    const refused = gates('latched-off');
    hold(true);
    await until(what, () => sacn.last[HAZE] === 31 || gates('latched-off') > refused);
    if (sacn.last[HAZE] === 31) return;
    const released = gates('off');
    hold(false);
    await until('the enable is not held', () => gates('off') > released);
  }
  expect.fail(`${what}: refused five times`);
}

describe('orders over the network', () => {
  it('stop takes the light to its safe values in a second, resume brings it back; strangers are not heard', async () => {
    const stranger = createSocket('udp4');
    await new Promise<void>(resolve => stranger.bind(0, '127.0.0.92', resolve));
    order('stop', undefined, stranger);
    await until(
      'the stranger is counted',
      () =>
        daemon.log.some(
          line => line.kind === 'dropped' && JSON.stringify(line).includes('sender-not-allowed'),
        ),
      15,
    );
    stranger.close();
    expect(sacn.last[STOVE]).toBe(217);

    order('stop', 1);
    const stoppedS = performance.now() / 1000;
    await until('the stove is at its safe value', () => sacn.last[STOVE] === safe[STOVE]);
    // operatorStop.fade 1 s, and some ticks of a busy machine.
    expect(performance.now() / 1000 - stoppedS).toBeLessThan(2);
    expect(daemon.log.some(line => line.kind === 'stopped' && line.everybody === true)).toBe(true);
    order('resume', 1);
    await until('the stove is lit again', () => sacn.last[STOVE] === 217);
  });

  it('haze comes only while its enable is held, drops with the engine, and needs the enable taken anew', async () => {
    expect(sacn.last[HAZE]).toBe(0);
    // 12 per cent of 255.
    await pressForHaze('there is haze');
    const first = daemon.enginePid;
    const before = sacn.packets.length;
    daemon.signalEngine('SIGKILL');
    await until('the haze is off', () => sacn.last[HAZE] === 0);
    const dropped = sacn.packets.slice(before).map(packet => packet.slots[HAZE]);
    // At once: from 31 to 0 with nothing between.
    expect(dropped.every(level => level === 0 || level === 31)).toBe(true);
    await until('a new engine runs', () => daemon.enginePid !== first);
    expect(daemon.log.filter(({ kind }) => kind === 'enables-dropped')).toMatchObject([
      {
        msg: expect.stringMatching(
          /^.+ \(atmospheric\) dropped: the engine ended\. Release, and press again$/,
        ),
      },
    ]);
    await until('the engine has the light', engineHasTheLight, 20);
    expect(sacn.last[HAZE]).toBe(0);
    hold(false);
    await until('the enable is not held', () =>
      daemon.log.some(line => line.kind === 'enable' && line.gate === 'off'),
    );
    await pressForHaze('there is haze again');
    hold(false);
    await until('the haze is off', () => sacn.last[HAZE] === 0);
  });
});

it('lampwright safety prints the sheet, as text, as JSON and as a page', async () => {
  const text = await lampwright(['safety', SALT_LANTERN]);
  expect(text).toMatchObject({ code: 0, stderr: '' });
  expect(text.stdout).toContain('tracker silent');
  const json = await lampwright(['safety', SALT_LANTERN, '--json']);
  expect(JSON.parse(json.stdout)).toMatchObject({ show: 'The Salt Lantern' });
  const page = await lampwright(['safety', SALT_LANTERN, '--html', '/nowhere/at/all.html']);
  expect(page.code).toBe(2);
  expect(await lampwright(['safety', 'no-such.show.yaml'])).toMatchObject({ code: 2 });
});
