// Each fault: how it is brought about, what has to come of it, and how it is cleared.
import { execFileSync } from 'node:child_process';
import { closeSync, mkdirSync, openSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { watchBurden } from './burden.mjs';
import { engineLateS, engineSpeaksOf, heardAgain, lostS, restartS, wayS } from './declared.mjs';
import { DESK_FAULTS } from './faults-desk.mjs';
import { FLOOD_FAULTS } from './faults-flood.mjs';
import { LIFE_FAULTS } from './faults-life.mjs';
import { WIRE_FAULTS } from './faults-wire.mjs';
import {
  giveAddress,
  HOSTS,
  setCable,
  setInterface,
  setRate,
  takeAddress,
  udpSockets,
} from './hosts.mjs';
import { until } from './rig.mjs';
import { TIMES } from './show.mjs';

/** Most of Linux's default send buffer (net.core.wmem_default, 208 KiB), less than one more packet of 512 slots. */
const FULL_BYTES = 180 * 1024;
/** Pan and tilt of the heads that follow somebody, as shares of their ranges. */
const aimOf = rig => {
  const slots = rig.capture.latest('artnet', 2);
  return [0, 2, 40, 42].map(slot => (slots[slot] * 256 + slots[slot + 1]) / 65535);
};
/** Two centimetres of noise, four metres away, are 0.3 degrees; 270 degrees of tilt are the smaller range. */
const AIM_NOISE = 0.003;

/**
 * name; quick: part of the short form; declaredS: time to safe, undefined where the light must stay;
 * whose: whose light goes, undefined for all; mayGo: light may go, or stay; mostGapS: 1 unless said
 * otherwise; cue: whose safe look is reached, of the first unless said; unseen: what is sent meanwhile does not arrive, so that the step over the gap is not ours;
 * restarts: how often the supervisor ends and is started again, 0 unless said; ends: universes that end;
 * mostLost: packets of which no number may come and go unseen; shims: needs what is in shims/; records: it
 * records; show(text): the show that is run; how, options: see `Daemon`;
 * ola: false where two sources are heard at a time, and each receiver mixes them in its own way;
 * waited: packets wait on the way, and come at once;
 * inject(rig); clear(rig): what ends it, or nothing; check(rig): what else has to hold.
 */
export const FAULTS = [
  {
    name: 'engine killed',
    quick: true,
    declaredS: wayS,
    inject: rig => rig.daemon.signalEngine('SIGKILL'),
  },
  {
    name: 'engine stopped (hangs)',
    quick: true,
    declaredS: engineLateS,
    inject: rig => rig.daemon.signalEngine('SIGSTOP'),
  },
  {
    name: 'slow ticks (400 ms each)',
    declaredS: engineLateS,
    how: { misbehaves: true, env: { MISBEHAVIOUR: 'slow', MISBEHAVIOUR_MS: '400' } },
    inject: rig => rig.daemon.signalEngine('SIGUSR2'),
    // Frames come, each too late to be trusted: the light goes to safe and stays there.
    async clear(rig) {
      await engineSpeaksOf(rig, 'ticks-late');
      rig.daemon.signalEngine('SIGKILL');
    },
  },
  {
    name: 'memory growth (640 MiB/s)',
    declaredS: wayS + 3,
    how: { misbehaves: true, env: { MISBEHAVIOUR: 'hungry' } },
    inject: rig => rig.daemon.signalEngine('SIGUSR2'),
    check: rig =>
      rig.daemon.told('engine-too-large').length > 0 || 'nobody said that it is too large',
  },
  {
    name: 'tracker silent',
    quick: true,
    declaredS: lostS,
    whose: ['ines'],
    inject: rig => rig.order({ silence: 1 }),
    clear: rig => rig.place('ines'),
    check: rig => rig.stayedLive('gull') || 'the other performer lost their light',
  },
  {
    name: 'feed silent',
    quick: true,
    declaredS: lostS,
    inject(rig) {
      rig.order({ silence: 1 });
      rig.order({ silence: 3 });
    },
    clear(rig) {
      rig.place('ines');
      rig.place('gull');
    },
  },
  {
    name: 'frozen feed',
    declaredS: 2 * TIMES.frozen + lostS,
    inject: rig => rig.order({ freeze: true }),
    clear: rig => rig.order({ freeze: false }),
  },
  {
    name: 'a jump of 3 m',
    // Out where they were, a move in the dark, up where they are: not by way of the safe look.
    mayGo: true,
    async inject(rig) {
      rig.order({ jump: [1, 'once'] });
      await sleep(4000);
    },
    clear: rig => rig.order({ jump: [] }),
  },
  {
    name: 'jumps of 3 m, four a second',
    // Half of the reports are of another place: they may be doubted, or the performer; the light must not jump.
    mayGo: true,
    async inject(rig) {
      rig.order({ jump: [1, 'often'] });
      await sleep(4000);
    },
    clear: rig => rig.order({ jump: [] }),
  },
  ...FLOOD_FAULTS,
  {
    name: 'send buffer full',
    quick: true,
    // The wire takes some 4 packets a second, until the socket has no room; and the light changes.
    mayGo: true,
    mostGapS: Number.POSITIVE_INFINITY,
    waited: true,
    options: ['--trace-ticks'],
    async inject(rig) {
      rig.place('ines');
      await sleep(1000);
      rig.aimedAt = aimOf(rig);
      rig.burden = watchBurden(rig);
      setRate('lwca', '20kbit');
      for (let i = 0; i < 50; i++) {
        rig.place('ines', 0.8 * Math.sin(i / 3), 0.8 * Math.cos(i / 3));
        rig.place('gull', 0.8 * Math.cos(i / 3), 0.8 * Math.sin(i / 3));
        await sleep(100);
      }
      rig.toSendBytes = Math.max(...udpSockets('lwca').map(one => one.toSendBytes));
      rig.burden.end();
    },
    async clear(rig) {
      rig.place('ines');
      rig.place('gull');
      // Slower than packets overtake each other between the processors of this machine.
      setRate('lwca', '2mbit');
      await heardAgain(rig);
      const isOn = (share, i) => Math.abs(share - rig.aimedAt[i]) < AIM_NOISE;
      await until('the heads aim where they did', () => aimOf(rig).every(isOn), 5);
    },
    check(rig) {
      const { words, wrong } = rig.burden.result(rig);
      const refused = rig.daemon.told('send-failed').reduce((sum, { count }) => sum + count, 0);
      rig.note = `${(rig.toSendBytes / 1024).toFixed(0)} KiB waited in the kernel; ${refused} packets were not sent, and told of; ${words}`;
      if (refused === 0) return 'nobody told that packets were not sent';
      if (rig.toSendBytes < FULL_BYTES) return 'the send buffer was not full';
      return wrong ?? true;
    },
  },
  {
    name: 'lighting interface down and up',
    quick: true,
    mostGapS: Number.POSITIVE_INFINITY,
    unseen: true,
    inject: async () => {
      setInterface('lwca', 'down');
      await sleep(3000);
    },
    async clear(rig) {
      setInterface('lwca', 'up');
      await heardAgain(rig);
    },
    // The feed comes by the same interface here, so that performers are lost as well.
    mayGo: true,
    check: rig =>
      (rig.daemon.told('interface-lost').length > 0 &&
        rig.daemon.told('interface-back').length > 0) ||
      'loss or return of the interface was not told of',
  },
  {
    name: 'cable out and in',
    mostGapS: Number.POSITIVE_INFINITY,
    unseen: true,
    inject: async () => {
      setCable('lwca', 'down');
      await sleep(3000);
    },
    async clear(rig) {
      setCable('lwca', 'up');
      await heardAgain(rig);
    },
    mayGo: true,
    check: rig =>
      rig.daemon.log.some(({ reason }) => String(reason).includes('no carrier')) ||
      rig.daemon.told('carrier-lost').length > 0 ||
      'the loss of the carrier was not told of',
  },
  {
    name: 'address of the interface changes',
    ola: false,
    mayGo: true,
    mostGapS: 3,
    unseen: true,
    inject: async () => {
      takeAddress('lwca', HOSTS.lwca);
      giveAddress('lwca', '10.81.0.77');
      await sleep(4000);
    },
    async clear(rig) {
      takeAddress('lwca', '10.81.0.77');
      giveAddress('lwca', HOSTS.lwca);
      await heardAgain(rig);
    },
    check: rig =>
      rig.daemon.told('interface-back').length >= 2 || 'the new address was not told of',
  },
  {
    name: 'input port taken while the engine restarts',
    declaredS: wayS,
    async inject(rig) {
      const taker =
        "require('node:dgram').createSocket({type:'udp4',reuseAddr:true}).bind(9010,()=>console.log(1))";
      rig.daemon.signalEngine('SIGKILL');
      // Until it has the port: the old engine's socket goes with it.
      rig.taker = rig.beside('lwca', [process.execPath, '-e', taker]);
      await sleep(4000);
    },
    clear: rig => rig.taker.kill('SIGKILL'),
  },
  {
    name: 'supervisor killed, restarted in 0.1 s',
    quick: true,
    declaredS: restartS,
    mostGapS: 2,
    restarts: 1,
    state: true,
    inject: rig => rig.daemon.signal('SIGKILL'),
    check: rig => rig.daemon.told('state-restored').length > 0 || 'operator state was not restored',
  },
  {
    name: 'show reloaded (SIGHUP)',
    quick: true,
    // Patch and outputs are the same: it goes on from the light that is out.
    state: true,
    async inject(rig) {
      // The same text would be no reload: the show runs as it says already.
      writeFileSync(rig.show.file, `${rig.show.text}\n# edited\n`);
      rig.daemon.signal('SIGHUP');
      await engineSpeaksOf(rig, 'reloaded');
    },
    clear: rig => writeFileSync(rig.show.file, rig.show.text),
    check: rig => rig.daemon.told('reloaded').length > 0 || 'it was not loaded',
  },
  {
    name: 'bad show reloaded (SIGHUP)',
    async inject(rig) {
      writeFileSync(rig.show.file, rig.show.text.replace('zone: stove', 'zone: stoev'));
      rig.daemon.signal('SIGHUP');
      await engineSpeaksOf(rig, 'reload-refused');
      writeFileSync(rig.show.file, rig.show.text);
    },
  },
  {
    name: 'second daemon on another machine by mistake',
    ola: false,
    // Both have the same inputs and send the same; which of the two a receiver shows is its own affair.
    mayGo: true,
    async inject(rig) {
      rig.second = rig.start('lwcb');
      // It comes up below the one that is heard, then takes the lead as the main machine of a pair does.
      const conflict = () => rig.daemon.told('other-source').some(one => one.conflict);
      await until('a conflict is told of', conflict, 20);
    },
    clear: async rig => {
      await rig.second.stop();
    },
    ignoresSteps: true,
  },
  {
    name: 'main machine dies, standby takes over',
    ola: false,
    quick: true,
    standby: true,
    mostGapS: 3.5,
    stays: true,
    async inject(rig) {
      await rig.daemon.stop(rig.daemon.signal('SIGKILL'));
      await until(
        'the standby stands in',
        () => rig.standby.told('pair').some(one => one.to === 'standing-in'),
        10,
      );
      await sleep(1000);
    },
    async clear(rig) {
      rig.daemon = rig.start('lwca', ['--state-dir', rig.stateFolder]);
      await until(
        'the main machine leads',
        () => rig.daemon.told('pair').some(one => one.to === 'leading'),
        30,
      );
    },
  },
  {
    name: 'log pipe closed',
    async inject(rig) {
      rig.daemon.closeLog();
      await sleep(1500);
    },
  },
  {
    name: 'log reader stalls',
    // Nobody reads; the pipe fills.
    options: ['--trace-ticks'],
    async inject(rig) {
      process.kill(rig.daemon.pid, 0);
      rig.daemon.stallLog();
      await sleep(3000);
    },
  },
  {
    name: 'disk full (log, state and recording)',
    quick: true,
    disk: true,
    state: true,
    async inject(rig) {
      try {
        writeFileSync(join(rig.disk, 'fill'), Buffer.alloc(2 << 20));
      } catch {
        // That is what it is for.
      }
      await rig.tell(rig.stateFolder, 'assign', '7', 'gull');
      await sleep(3000);
    },
    clear: rig => rmSync(join(rig.disk, 'fill')),
  },
  ...LIFE_FAULTS,
  ...DESK_FAULTS,
  ...WIRE_FAULTS,
];

/** A small disk of its own. */
export function makeDisk(folder) {
  const disk = join(folder, 'disk');
  mkdirSync(disk, { recursive: true });
  execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=1m', 'tmpfs', disk]);
  return { disk, log: openSync(join(disk, 'show.log'), 'a') };
}

export function removeDisk({ disk, log }) {
  closeSync(log);
  execFileSync('umount', ['-l', disk]);
}
