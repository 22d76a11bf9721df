// What may happen in a walk (walk.mjs), and what it does to the light.
import { spawnSync } from 'node:child_process';
import { renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { engineLateS, lostS, restartS, wayS } from './declared.mjs';
import { FREE } from './faults-desk.mjs';
import { OSC, startFlood } from './flood.mjs';
import { HOSTS, setCable, setInterface, spoilCable } from './hosts.mjs';
import { TIMES } from './show.mjs';

/** What is to be done in a bout begins within so many seconds of it, less what the last of it takes. */
export const BOUT_S = 9;
const SEND_ERRORS = ['EPERM', 'EIO', 'ENETUNREACH'];
const CUES = ['evening', 'storm', 'dawn'];
/** More than any show has, and little enough to leave two cores something. */
const FLOOD_HZ = 20_000;
const DESK_FLOOD_HZ = 5000;
/** Of the slot that no fixture has, at the desk of the higher priority. */
export const SPARE_LEVEL = 12;

/**
 * What may happen: group: only one of it at a time, and none of the groups that it `meets`, nor in the same bout as those of `never`; forS: least and most seconds from its begin to its end; begin, end: what is done.
 * What it does to the light: declaredS: all light is safe so long after its begin (afterS: after its end), unless it lasted less than
 * actsAfterS; gapS: how long nothing may be heard, beyond how long it lasts where `silent`; unseen: packets meanwhile are lost on the way;
 * endsEngine, endsSupervisor; floods: reports may be lost in what else comes.
 */
export const DEEDS = {
  'engine killed': {
    group: 'engine',
    declaredS: wayS,
    endsEngine: 'crashed',
    begin: ({ rig }) => rig.daemon.signalEngine('SIGKILL'),
  },
  'engine hangs': {
    group: 'engine',
    declaredS: engineLateS,
    endsEngine: 'hung',
    begin: ({ rig }) => rig.daemon.signalEngine('SIGSTOP'),
  },
  'engine stopped for a moment': {
    group: 'engine',
    forS: [0.05, 0.9],
    declaredS: engineLateS,
    actsAfterS: TIMES.engineAfter + 0.1,
    begin({ rig }) {
      const pid = rig.daemon.enginePid;
      process.kill(pid, 'SIGSTOP');
      return pid;
    },
    end: (_, pid) => signalIfThere(pid, 'SIGCONT'),
  },
  'supervisor killed': {
    group: 'supervisor',
    declaredS: restartS,
    gapS: 2,
    endsSupervisor: true,
    begin: ({ rig }) => rig.daemon.signal('SIGKILL'),
  },
  'supervisor stopped for a moment': {
    group: 'supervisor',
    forS: [0.1, 2],
    silent: true,
    gapS: 1.5,
    disturbs: true,
    begin({ rig }) {
      const { pid } = rig.daemon;
      process.kill(pid, 'SIGSTOP');
      return pid;
    },
    end: (_, pid) => signalIfThere(pid, 'SIGCONT'),
  },
  'Ines silent': silence('ines', 1),
  'the Gull silent': silence('gull', 3),
  'feed frozen': {
    group: 'frozen',
    forS: [0.5, 6],
    begin: ({ rig }) => rig.order({ freeze: true }),
    end: ({ rig }) => rig.order({ freeze: false }),
  },
  'a jump of 3 m': {
    group: 'jump',
    forS: [0.5, 3],
    begin: ({ rig }) => rig.order({ jump: [1, 'once'] }),
    end: ({ rig }) => rig.order({ jump: [] }),
  },
  'Ines walks': walk('ines'),
  'the Gull walks': walk('gull'),
  'Ines stopped': stop(['ines'], 'ines'),
  'the Gull stopped': stop(['gull'], 'gull'),
  'everybody stopped': {
    ...stop(['ines', 'gull'], 'everybody'),
    meets: ['stop of ines', 'stop of gull'],
  },
  'mapping stove off': ordered('mapping', ['mapping', 'off', 'stove'], ['mapping', 'on', 'stove']),
  'the lantern highlighted': ordered(
    'highlight',
    ['highlight', 'lantern-glow', 'while-tracked'],
    ['highlight', 'off'],
  ),
  'haze held': ordered('haze', ['hold', 'atmospheric'], ['release', 'atmospheric']),
  'Ines sent off stage': {
    ...ordered('off', ['off', 'ines'], ['on', 'ines']),
    meets: ['feed of ines'],
  },
  'forks refused': {
    group: 'forks',
    forS: [0.5, 3],
    begin: ({ rig }) => rig.orders?.refuseForks('EAGAIN'),
    end: ({ rig }) => rig.orders?.refuseForks(undefined),
  },
  'state folder gone': {
    group: 'state',
    forS: [0.5, 2],
    begin({ rig }) {
      renameSync(rig.stateFolder, `${rig.stateFolder}-gone`);
    },
    end({ rig }) {
      rmSync(rig.stateFolder, { recursive: true, force: true });
      renameSync(`${rig.stateFolder}-gone`, rig.stateFolder);
    },
  },
  'panel killed': { group: 'panel', begin: ({ rig }) => killPanel(rig.daemon.pid) },
  ...Object.fromEntries(
    CUES.map(cue => [`cue ${cue}`, { group: 'cue', begin: ({ tell }) => tell('cue', cue), cue }]),
  ),
  'show edited': reload(text => `${text}\n# edited at ${Date.now()}\n`, 'edited'),
  'a level edited': reload(
    text => text.replace('set: { Dimmer: 55,', `set: { Dimmer: ${50 + (Date.now() % 5)},`),
    'edited',
  ),
  'show broken': reload(text => text.replace('zone: stove', 'zone: stoev'), 'broken'),
  'show renamed': {
    ...reload(text => text.replace('name: The Salt', `name: The ${Date.now()} Salt`), 'renamed'),
    disturbs: true,
  },
  'tracker 7 given to Tobias': {
    group: 'assign',
    begin: ({ tell }) => tell('assign', '7', 'tobias'),
  },
  'tracker 7 taken off': { group: 'assign', begin: ({ tell }) => tell('unassign', '7') },
  'lighting interface down': {
    group: 'network',
    forS: [0.3, 3],
    silent: true,
    unseen: true,
    gapS: 3,
    disturbs: true,
    begin: () => setInterface('lwca', 'down'),
    end: () => setInterface('lwca', 'up'),
  },
  'cable out': {
    group: 'network',
    forS: [0.3, 3],
    silent: true,
    unseen: true,
    gapS: 3,
    disturbs: true,
    begin: () => setCable('lwca', 'down'),
    end: () => setCable('lwca', 'up'),
  },
  ...Object.fromEntries(
    SEND_ERRORS.map(error => [
      `sends refused (${error})`,
      {
        group: 'network',
        forS: [0.2, 2],
        silent: true,
        gapS: 2.4,
        disturbs: true,
        begin: ({ rig }) => rig.orders?.refuseSends(error),
        end: ({ rig }) => rig.orders?.refuseSends(undefined),
      },
    ]),
  ),
  'clock stepped by an hour': {
    group: 'clock',
    forS: [0.5, 4],
    begin: ({ rig }) => rig.orders?.stepClock(3600),
    end: ({ rig }) => rig.orders?.stepClock(0),
  },
  'a bad cable (20 % lost, 30 ms late)': {
    group: 'network',
    forS: [0.5, 3],
    silent: true,
    unseen: true,
    gapS: 3,
    disturbs: true,
    begin: ({ rig }) => rig.wire && spoilCable('lwca', rig.wire, 0.2, 30, 1),
    end: (_, mend) => mend?.(),
  },
  'a flood of noise and strangers': {
    group: 'flood',
    forS: [0.5, 2],
    floods: true,
    begin: ({ rig }) => startFlood(rig, 'lwcg', 'lwca', OSC, { rateHz: FLOOD_HZ, lastsS: 3 }).child,
    end: (_, child) => child.kill('SIGKILL'),
  },
  'desk silent': {
    group: 'desk',
    forS: [0.3, 5],
    begin: ({ rig }) => rig.desk.say({ silent: true }),
    end: ({ rig }) => rig.desk.say({ silent: false }),
  },
  'a second desk, of higher priority': {
    group: 'spare desk',
    forS: [0.5, 4],
    begin({ rig }) {
      const spare = rig.startDesk('spare', 150);
      spare.say({ set: { [FREE]: SPARE_LEVEL } });
      return spare;
    },
    end: (_, { child }) => child.kill('SIGKILL'),
  },
  'a flood of 400 universes beside the desk': {
    group: 'desk flood',
    forS: [0.5, 2],
    floods: true,
    begin({ rig }) {
      const other = rig.startDesk('flood', 1);
      other.say({ silent: true });
      other.say({ flood: [DESK_FLOOD_HZ, HOSTS.lwca] });
      return other;
    },
    end: (_, { child }) => child.kill('SIGKILL'),
  },
  'a standby on another machine': {
    group: 'pair',
    // That it stands in, and what becomes of that, is in the table of faults.
    never: ['supervisor', 'network'],
    forS: [4, 7],
    begin({ rig }) {
      const file = join(rig.show.folder, 'standby.show.yaml');
      writeFileSync(file, rig.show.text);
      return rig.start('lwcb', ['--standby'], { file });
    },
    async end(_, standby) {
      standby.wrongEnd = await standby.stop();
    },
  },
  'SIGUSR1, SIGUSR2 and SIGTSTP': {
    group: 'signals',
    begin({ rig }) {
      for (const signal of ['SIGUSR1', 'SIGUSR2', 'SIGTSTP']) rig.daemon.signal(signal);
    },
  },
};

function silence(who, tracker) {
  return {
    group: `feed of ${who}`,
    forS: [0.1, 7],
    whose: [who],
    declaredS: lostS,
    actsAfterS: TIMES.after + 0.1,
    holds: true,
    begin: ({ rig }) => rig.order({ silence: tracker }),
    end: ({ rig }) => rig.place(who),
  };
}

/** A stop is asked for, and in force once it is answered. */
function stop(whose, who) {
  return {
    group: `stop of ${who}`,
    forS: [0.5, 6],
    whose,
    isStop: true,
    declaredS: wayS,
    holds: true,
    begin: ({ tell }) => tell('stop', who),
    end: ({ tell }) => tell('resume', who),
  };
}

/** What somebody orders, and takes back; at the end of the bout once more, as there may have been nobody to hear it. */
function ordered(group, words, undo) {
  return {
    group,
    undo,
    forS: [0.5, 4],
    begin: ({ tell }) => tell(...words),
    end: ({ tell }) => tell(...undo),
  };
}

function killPanel(supervisor) {
  const { stdout } = spawnSync('ps', ['-o', 'pid=,args=', '--ppid', String(supervisor)]);
  const panel = /^ *(\d+) .* panel/m.exec(String(stdout))?.[1];
  if (panel !== undefined) signalIfThere(Number(panel), 'SIGKILL');
}

function walk(who) {
  return {
    group: `feed of ${who}`,
    forS: [1, 6],
    begin({ rig }) {
      let i = 0;
      return setInterval(() => {
        i += 1;
        rig.place(who, 0.8 * Math.sin(i / 3), 0.8 * Math.cos(i / 3));
      }, 100);
    },
    end({ rig }, timer) {
      clearInterval(timer);
      rig.place(who);
    },
  };
}

function reload(edit, as) {
  return {
    group: 'show',
    reload: as,
    begin({ rig }) {
      writeFileSync(rig.show.file, edit(rig.show.text));
      rig.daemon.signal('SIGHUP');
    },
  };
}

function signalIfThere(pid, signal) {
  try {
    process.kill(pid, signal);
  } catch {
    // It was killed in the meantime.
  }
}

/** Names of deeds that a walk may leave out. */
export const ENDS_SUPERVISOR = names(one => one.endsSupervisor);
export const ENDS_ENGINE = names(one => one.endsEngine);
function names(which) {
  return Object.keys(DEEDS).filter(name => which(DEEDS[name]));
}

/** What is to be done in a bout, and when: { name, atS, forS }, by time. */
export function drawBout(draw, leftOut) {
  const left = Object.keys(DEEDS).filter(name => !leftOut.includes(name));
  const bout = [];
  const count = 3 + Math.floor(draw() * 5);
  for (let i = 0; i < count; i++) {
    const name = left[Math.floor(draw() * left.length)];
    const { forS = [0, 0] } = DEEDS[name];
    const atS = draw() * (BOUT_S - 3);
    const lastsS = forS[0] + draw() * (forS[1] - forS[0]);
    const meets = bout.some(
      one =>
        isNever(DEEDS[one.name], DEEDS[name]) ||
        (exclude(DEEDS[one.name], DEEDS[name]) &&
          atS < one.atS + one.forS + 1 &&
          one.atS < atS + lastsS + 1),
    );
    if (!meets) bout.push({ name, atS, forS: lastsS });
  }
  return bout.sort((a, b) => a.atS - b.atS);
}

function exclude(a, b) {
  return a.group === b.group || a.meets?.includes(b.group) || b.meets?.includes(a.group);
}

function isNever(a, b) {
  return a.never?.includes(b.group) || b.never?.includes(a.group);
}

/**
 * What did not hold.
 * @param fromS, toS between which moments (Unix) it came about, where that is known: what this machine was late for then may be the reason
 */
export function finding(what, fromS, toS) {
  return { what, fromS, toS };
}

/** From an order to what it does, and from what is done to the line of the log, seconds. */
export const SLACK_S = 0.3;
export const at = ({ fromS }, atS) => `at ${(atS - fromS).toFixed(2)} s`;
export const lasted = ({ fromS, endsS }) => endsS - fromS;

/** Whether something was done that may be the reason for what was told. */
export function isNear(deeds, atS, beforeS, which) {
  return deeds.some(
    one =>
      which(one) &&
      one.fromS < atS + SLACK_S &&
      (one.toS ?? Number.POSITIVE_INFINITY) > atS - beforeS,
  );
}
