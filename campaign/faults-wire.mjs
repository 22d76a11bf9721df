// Faults of who owns the wire, of the wire itself, and of the machine's clock; see faults.mjs.
import { existsSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { engineSpeaksOf, heardAgain, lostS, restartS, wayS } from './declared.mjs';
import { spoilCable } from './hosts.mjs';
import { until } from './rig.mjs';

/** Failed sends that are not tried again, and who or what makes them. */
const SEND_ERRORS = {
  EPERM: 'a firewall',
  EIO: 'a driver',
  ENOMEM: 'no memory',
  EMSGSIZE: 'an MTU',
  ENETUNREACH: 'no route',
  EINVAL: 'an address that is none',
};
const HOUR_S = 3600;
const ARTNET_PORT = 6454;
const LOSS = 0.2;
const DELAY_MS = 30;
/** Of the show of that fault only. */
const DROPPED = 9;

/** Both walk about their places, so that the light changes. */
async function walk(rig, forS) {
  for (let i = 1; i <= forS * 10; i++) {
    rig.place('ines', 0.8 * Math.sin(i / 3), 0.8 * Math.cos(i / 3));
    rig.place('gull', 0.8 * Math.cos(i / 3), 0.8 * Math.sin(i / 3));
    await sleep(100);
  }
}

function goBack(rig) {
  rig.place('ines');
  rig.place('gull');
}

export const WIRE_FAULTS = [
  {
    name: 'started twice on one machine, then as a standby',
    quick: true,
    mostLost: 0,
    async inject(rig) {
      rig.seconds = [];
      for (const options of [[], ['--standby']]) {
        rig.seconds.push(await rig.runBeside('lwca', rig.daemon, options));
      }
    },
    check(rig) {
      for (const { code, said } of rig.seconds) {
        if (code !== 3) return `the second one ended with ${code}: ${said}`;
        if (!said.includes(`process ${rig.daemon.pid} `)) return `it did not say who runs: ${said}`;
      }
      return existsSync(join(rig.stateFolder, 'control.sock')) || 'the control socket was removed';
    },
  },
  {
    name: 'input port taken at the start after a kill, for 5 s',
    declaredS: restartS,
    mostGapS: 2,
    restarts: 1,
    async inject(rig) {
      // As soon as the engine lets it go, before the next one has it.
      const taker = `const take = () => { const socket = require('node:dgram').createSocket('udp4');
        socket.on('error', () => setTimeout(take, 1)).bind(9010, () => console.log('taken')); }; take();`;
      rig.taker = rig.beside('lwca', [process.execPath, '-e', taker]);
      let taken = false;
      rig.taker.stdout.once('data', () => {
        taken = true;
      });
      await sleep(500);
      rig.daemon.signal('SIGKILL');
      await until('the port is taken', () => taken, 5);
      await sleep(5000);
    },
    clear: rig => rig.taker.kill('SIGKILL'),
    check: rig =>
      rig.daemon.log.some(({ msg }) => /port 9010\b/.test(msg) || /:9010\b/.test(msg)) ||
      'nobody told that the port is taken',
  },
  {
    name: 'show renamed by a reload',
    declaredS: wayS + 0.5,
    async inject(rig) {
      writeFileSync(rig.show.file, rig.show.text.replace('name: The Salt', 'name: The Other Salt'));
      rig.daemon.signal('SIGHUP');
      await engineSpeaksOf(rig, 'reloaded');
    },
  },
  {
    name: 'universe dropped by a reload',
    declaredS: wayS + 0.5,
    ends: [DROPPED],
    show: text => text.replace('universes: [1] }', `universes: [1, ${DROPPED}] }`),
    async inject(rig) {
      writeFileSync(rig.show.file, rig.show.text);
      rig.daemon.signal('SIGHUP');
      await engineSpeaksOf(rig, 'reloaded');
    },
    check(rig) {
      const its = rig.capture.packets.filter(({ universe }) => universe === DROPPED);
      const ends = its.map(({ terminated }) => terminated);
      // E1.31 6.2.6: three, and nothing after them.
      const first = ends.indexOf(true);
      return (first > 0 && ends.length === first + 3) || 'it did not end with three packets';
    },
  },
  {
    name: `${100 * LOSS} % of all packets lost, the rest ${DELAY_MS} ms late`,
    // Each receiver of Art-Net has packets of its own.
    ola: false,
    // They walk: the light may go where they are not.
    mayGo: true,
    // An unchanged level comes each 0.9 s: four lost in a row are 1 in 600.
    mostGapS: 4.6,
    shims: true,
    async inject(rig) {
      const soFar = rig.daemon.log.length;
      const mend = await spoilCable('lwca', rig.wire, LOSS, DELAY_MS, rig.seed);
      await walk(rig, 6);
      rig.saidMeanwhile = JSON.stringify(rig.daemon.log.slice(soFar));
      mend();
    },
    async clear(rig) {
      goBack(rig);
      await heardAgain(rig);
    },
    leastLost: 10,
    check: rig =>
      !/tracker-silent|feed-silent/.test(rig.saidMeanwhile) || 'a performer was given up',
  },
  {
    name: `sends refused (${Object.keys(SEND_ERRORS).join(', ')})`,
    quick: true,
    mayGo: true,
    // As long as one lasts, and the second in which unchanged levels come.
    mostGapS: 2.4,
    shims: true,
    async inject(rig) {
      for (const error of Object.keys(SEND_ERRORS)) {
        rig.orders.refuseSends(error);
        await walk(rig, 1);
        rig.orders.refuseSends(undefined);
        goBack(rig);
        await heardAgain(rig);
        await sleep(500);
      }
    },
    check(rig) {
      const told = rig.daemon.told('send-failed').map(({ reason }) => reason);
      const untold = Object.keys(SEND_ERRORS).filter(
        error => !told.some(one => one.includes(error)),
      );
      rig.note = `${rig.orders.refused} sends refused`;
      return untold.length === 0 || `nobody told of ${untold.join(', ')}`;
    },
  },
  {
    name: 'sends refused for 3 s with ENOBUFS',
    mayGo: true,
    // libuv keeps such a packet, and tries it again until it is taken.
    waited: true,
    mostGapS: 4.4,
    shims: true,
    async inject(rig) {
      rig.orders.refuseSends('ENOBUFS');
      await walk(rig, 3);
      rig.orders.refuseSends(undefined);
    },
    async clear(rig) {
      goBack(rig);
      await heardAgain(rig);
    },
    check: rig => rig.daemon.told('send-failed').length > 0 || 'nobody told of it',
  },
  {
    name: 'one of two outputs refused, and the supervisor killed',
    // What it sent last, and not what the other one did meanwhile, is where it begins.
    mayGo: true,
    // Its second output is sACN on a universe for which OLA has an Art-Net port.
    ola: false,
    restarts: 1,
    mostGapS: 9,
    shims: true,
    show: text => text.replace('universes: [1] }', 'universes: [1, 2] }'),
    async inject(rig) {
      rig.orders.refuseSends('EPERM', ARTNET_PORT);
      await walk(rig, 3);
      rig.daemon.signal('SIGKILL');
      await sleep(2500);
      rig.orders.refuseSends(undefined);
    },
    async clear(rig) {
      goBack(rig);
      await heardAgain(rig);
    },
    check: rig => rig.daemon.told('output-rejoins').length > 0 || 'it did not begin where it was',
  },
  {
    name: 'Art-Net of the main machine refused, with a standby',
    ola: false,
    standby: true,
    stays: true,
    // 1.25 s until it is given up, and 2.5 s until the standby knows.
    mostGapS: 4.5,
    shims: true,
    async inject(rig) {
      const parts = () => rig.daemons.flatMap(daemon => daemon.told('pair'));
      rig.orders.refuseSends('EPERM', ARTNET_PORT);
      await until('it is given up', () => parts().some(one => one.artnetRefused), 10);
      await until('the standby has it', () => parts().some(one => one.to === 'standing-in'), 10);
      const before = parts().length;
      await sleep(12_000);
      rig.changes = parts().length - before;
    },
    async clear(rig) {
      rig.orders.refuseSends(undefined);
      const leads = () => rig.daemon.told('pair').at(-1)?.to === 'leading';
      await until('the main machine leads again', leads, 30);
    },
    check: rig => rig.changes === 0 || `${rig.changes} changes while it was refused`,
  },
  {
    name: 'clock stepped by an hour, on and back',
    shims: true,
    async inject(rig) {
      for (const seconds of [HOUR_S, 0, -HOUR_S, 0]) {
        rig.orders.stepClock(seconds);
        await sleep(200);
        // Something to say, with the time.
        rig.daemon.signal('SIGUSR2');
        await sleep(1800);
      }
    },
    check: rig =>
      [HOUR_S, -HOUR_S].every(seconds =>
        rig.daemon.log.some(
          ({ time, heardS }) => Math.abs(Date.parse(time) / 1000 - heardS - seconds) < 60,
        ),
      ) || 'the clock was not stepped',
  },
  {
    name: 'feed silent, and the clock stepped by an hour',
    declaredS: lostS,
    shims: true,
    async inject(rig) {
      rig.order({ silence: 1 });
      rig.order({ silence: 3 });
      await sleep(200);
      rig.orders.stepClock(-HOUR_S);
      await sleep(1000);
      rig.orders.stepClock(HOUR_S);
    },
    clear(rig) {
      rig.orders.stepClock(0);
      goBack(rig);
    },
  },
];
