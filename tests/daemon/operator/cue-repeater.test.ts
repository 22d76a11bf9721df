import { createSocket, type Socket } from 'node:dgram';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { CueRepeater, type CueToRepeat } from '../../../src/daemon/operator/cue-repeater.js';
import { Rig } from '../../engine/harness.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

let standby: Socket;
let heard: Buffer[];

const showFor = (port: number, more = '') =>
  `${configShow('minimal')}cues: { prologue: {}, storm: {} }\noperator: { port: ${port}${more} }\n`;

beforeEach(async () => {
  heard = [];
  standby = createSocket('udp4');
  standby.on('message', bytes => heard.push(bytes));
  await new Promise<void>(resolve => standby.bind(0, '127.0.0.1', resolve));
});
afterEach(() => {
  standby.close();
});

it('tells the standby which cue is on, as an order that its engine takes, and that is no sign of a desk', async () => {
  const { port } = standby.address();
  const show = showOf(showFor(port, ', standby: 127.0.0.1'));
  let said: CueToRepeat | undefined;
  // Real packets on a clock that the test moves on.
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new CueRepeater(() => said);
  vi.advanceTimersByTime(3000);
  said = { show, cue: 1 };
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(1));
  repeater.close();
  vi.useRealTimers();

  const rig = new Rig(showFor(port, ', desk: reported'));
  rig.run(8);
  expect(rig.view.deskLost).toBe(true);
  rig.receive(heard[0] as Buffer, rig.nowS, 1, '10.0.0.11');
  rig.tick();
  expect(rig.view.cue?.name).toBe('storm');
  expect(rig.view.deskLost).toBe(true);
});
