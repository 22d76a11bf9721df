import { SHELLS } from '../reference/completion.js';
import { suggestion } from '../show/problems/problem.js';
import { EXPLAIN_HELP, explain } from './afterwards/explain.js';
import { PLAY_HELP, play } from './afterwards/play.js';
import { REPLAY_HELP, replay } from './afterwards/replay.js';
import { REPORT_HELP, report } from './afterwards/report.js';
import { AIM_HELP, aim } from './calibrating/aim.js';
import { ASSESS_HELP, assess } from './calibrating/assess.js';
import { CALIBRATE_OPTIONS, calibrate, calibrateHelp } from './calibrating/calibrate.js';
import { TUNE_HELP, tune } from './calibrating/tune.js';
import { CHECK_HELP, check } from './checking/check.js';
import { DESK_HELP, desk } from './checking/desk.js';
import { NETWORKS_HELP, networks } from './checking/networks.js';
import { PLAN_HELP, plan } from './checking/plan.js';
import { PREFLIGHT_HELP, preflight } from './checking/preflight.js';
import { REHEARSE_HELP, rehearse } from './checking/rehearse.js';
import { SAFETY_HELP, safety } from './checking/safety.js';
import { SHEET_HELP, sheet } from './checking/sheet.js';
import { SWEEP_HELP, sweep } from './checking/sweep.js';
import { engine } from './engine.js';
import { DEMO_HELP, demo } from './running/demo.js';
import { PANEL_HELP, panel } from './running/panel.js';
import { RUN_COMMAND } from './running/run-command.js';
import { TELL_COMMAND } from './running/tell-command.js';
import { WATCH_HELP, watch } from './running/watch.js';
import { COMPLETION_HELP, completion } from './setting-up/completion.js';
import { DOCTOR_HELP, doctor } from './setting-up/doctor.js';
import { IMPORT_HELP, importFile } from './setting-up/import.js';
import { INIT_HELP, init } from './setting-up/init.js';
import { REFERENCE_HELP, reference } from './setting-up/reference.js';
import { type Command, dispatch } from './terminal/dispatch.js';
import { EXIT } from './terminal/exit-codes.js';
import { overviewOf } from './terminal/overview.js';
import { packageVersion } from './terminal/package-version.js';
import { complain, print } from './terminal/terminal.js';

export const COMMANDS: Readonly<Record<string, Command>> = {
  run: RUN_COMMAND,
  check: {
    summary: 'check a show file; opens no socket',
    help: CHECK_HELP,
    options: { outputs: { type: 'string' }, json: { type: 'boolean' } },
    words: [1, 1],
    run: check,
  },
  init: {
    summary: 'make a first show that runs, from questions, options or a plot',
    help: INIT_HELP,
    options: {
      name: { type: 'string' },
      stage: { type: 'string' },
      performers: { type: 'string' },
      tracking: { type: 'string' },
      listen: { type: 'string' },
      light: { type: 'string' },
      interface: { type: 'string' },
      to: { type: 'string' },
      plot: { type: 'string' },
      origin: { type: 'string' },
      turn: { type: 'string' },
      yes: { type: 'boolean' },
    },
    words: [0, 1],
    run: init,
  },
  tell: TELL_COMMAND,
  watch: {
    summary: 'show a running daemon in the terminal: who is lost and why, zones, lights, events',
    help: WATCH_HELP,
    options: {
      plain: { type: 'boolean' },
      json: { type: 'boolean' },
      rate: { type: 'string' },
    },
    words: [0, 1],
    run: watch,
  },
  panel: {
    summary: "print the link to a daemon's panel, with its token, also as a QR code",
    help: PANEL_HELP,
    options: { 'new-token': { type: 'boolean' }, json: { type: 'boolean' } },
    words: [0, 1],
    run: panel,
  },
  safety: {
    summary: 'what the light does when something fails, for the venue',
    help: SAFETY_HELP,
    options: { json: { type: 'boolean' }, html: { type: 'string' } },
    words: [1, 1],
    writes: ['html'],
    run: safety,
  },
  sheet: {
    summary: 'the rig to print: plan to scale, patch, profiles, cues, trackers',
    help: SHEET_HELP,
    options: { json: { type: 'boolean' }, html: { type: 'string' } },
    words: [1, 1],
    writes: ['html'],
    run: sheet,
  },
  desk: {
    summary: 'the slots that the desk drives, as a chart to patch it',
    help: DESK_HELP,
    options: { json: { type: 'boolean' }, csv: { type: 'string' } },
    words: [1, 1],
    writes: ['csv'],
    run: desk,
  },
  demo: {
    summary: 'run The Salt Lantern with simulated performers, no hardware',
    help: DEMO_HELP,
    options: {
      seconds: { type: 'string' },
      plain: { type: 'boolean' },
      panel: { type: 'string' },
    },
    words: [0, 0],
    run: demo,
  },
  aim: {
    summary: 'explain how a head hits a point: angles, slots, beam',
    help: AIM_HELP,
    options: {
      from: { type: 'string' },
      velocity: { type: 'string' },
      zoom: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [5, 5],
    missing: 'give a show file, a fixture, and X, Y and Z of a point.',
    run: aim,
  },
  explain: {
    summary: 'why the light is as it is: who asks for what, who wins, what is sent',
    help: EXPLAIN_HELP,
    options: {
      at: { type: 'string', multiple: true },
      lost: { type: 'string', multiple: true },
      off: { type: 'string', multiple: true },
      cue: { type: 'string' },
      pin: { type: 'string', multiple: true },
      number: { type: 'string', multiple: true },
      desk: { type: 'string', multiple: true },
      for: { type: 'string' },
      time: { type: 'string' },
      fixture: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [1, 1],
    missing: 'the path of a show file or of a recording is missing.',
    run: explain,
  },
  plan: {
    summary: 'how good the anchor layout is, where it is weak, and what would help',
    help: PLAN_HELP,
    options: {
      error: { type: 'string' },
      by: { type: 'string' },
      step: { type: 'string' },
      json: { type: 'boolean' },
      html: { type: 'string' },
      plot: { type: 'string' },
    },
    words: [1, 1],
    writes: ['html', 'plot'],
    run: plan,
  },
  doctor: {
    summary:
      'this machine before a show: clock, priority, interfaces, ports, service; and what to do',
    help: DOCTOR_HELP,
    options: {
      'state-dir': { type: 'string' },
      record: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [0, 1],
    run: doctor,
  },
  networks: {
    summary:
      'check both networks before a show: who is there, who else sends, how good the feed is',
    help: NETWORKS_HELP,
    options: {
      seconds: { type: 'string' },
      simulate: { type: 'boolean' },
      json: { type: 'boolean' },
    },
    words: [1, 1],
    run: networks,
  },
  preflight: {
    summary: 'the checklist before the doors: pass, warn, fail, and what to do',
    help: PREFLIGHT_HELP,
    options: {
      outputs: { type: 'string' },
      seconds: { type: 'string' },
      markers: { type: 'string' },
      recording: { type: 'string' },
      report: { type: 'string' },
      simulate: { type: 'boolean' },
      json: { type: 'boolean' },
    },
    words: [1, 1],
    run: preflight,
  },
  assess: {
    summary: 'how far the tracking is off on recordings, compared with simpler methods',
    help: ASSESS_HELP,
    options: {
      horizon: { type: 'string' },
      latency: { type: 'string' },
      lag: { type: 'string' },
      curve: { type: 'boolean' },
      rate: { type: 'string' },
      noise: { type: 'string' },
      seed: { type: 'string' },
      json: { type: 'boolean' },
      plot: { type: 'string' },
    },
    words: [1, Number.POSITIVE_INFINITY],
    missing: 'the path of a CSV file with true positions is missing.',
    fills: ['plot'],
    run: assess,
  },
  sweep: {
    summary: 'run the tracking through hard feeds, and compare with an earlier run',
    help: SWEEP_HELP,
    options: {
      only: { type: 'string' },
      seed: { type: 'string' },
      against: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [0, 0],
    run: sweep,
  },
  tune: {
    summary: 'find better tracking settings in recordings of this stage, as a change to apply',
    help: TUNE_HELP,
    options: {
      'clocks-agree': { type: 'boolean' },
      input: { type: 'string' },
      tracker: { type: 'string' },
      patch: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [2, Number.POSITIVE_INFINITY],
    missing: 'give the paths of a show and of a recording.',
    writes: ['patch'],
    run: tune,
  },
  calibrate: {
    summary:
      'find the frame of the tracking, or where heads hang, as a change of the show to apply',
    help: calibrateHelp,
    options: CALIBRATE_OPTIONS,
    words: [1, Number.POSITIVE_INFINITY],
    missing: 'say what to calibrate: stage or fixture.',
    kinds: ['stage', 'fixture'],
    writes: ['patch', 'plot', 'save'],
    run: calibrate,
  },
  rehearse: {
    summary:
      'play a scene to a show: what each light does, where it is late, what the watchdog does',
    help: REHEARSE_HELP,
    options: {
      repeat: { type: 'string' },
      html: { type: 'string' },
      json: { type: 'boolean' },
      explain: { type: 'string' },
      record: { type: 'string' },
    },
    words: [2, 2],
    missing: 'give the paths of a show and of a scene.',
    writes: ['html', 'explain'],
    run: rehearse,
  },
  play: {
    summary: 'send a scene or a recording like a tracking system, with nobody on stage',
    help: PLAY_HELP,
    options: {
      show: { type: 'string' },
      to: { type: 'string' },
      interface: { type: 'string' },
      loop: { type: 'boolean' },
      rehearsal: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [1, 1],
    missing: 'the path of a scene or of a recording is missing.',
    run: play,
  },
  replay: {
    summary: 'run a recording again: are the frames the same, or what would another show have done',
    help: REPLAY_HELP,
    options: {
      show: { type: 'string' },
      explain: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [1, 1],
    missing: 'the path of a recording is missing.',
    writes: ['explain'],
    run: replay,
  },
  import: {
    summary: 'profiles and patch from an MVR or a GDTF file',
    help: IMPORT_HELP,
    options: {
      out: { type: 'string' },
      force: { type: 'boolean' },
      origin: { type: 'string' },
      turn: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [1, 1],
    missing: 'the path of an MVR or a GDTF file is missing.',
    run: importFile,
  },
  report: {
    summary: 'after the show: who was followed, what was lost and why, what to fix first',
    help: REPORT_HELP,
    options: {
      from: { type: 'string' },
      to: { type: 'string' },
      html: { type: 'string' },
      json: { type: 'boolean' },
    },
    words: [1, 1],
    missing: 'the path of a recording is missing.',
    writes: ['html'],
    run: report,
  },
  reference: {
    summary: 'print the reference of the show file',
    help: REFERENCE_HELP,
    options: {
      write: { type: 'string' },
      schemas: { type: 'string' },
      manual: { type: 'string' },
    },
    words: [0, 0],
    run: args => reference(args, COMMANDS),
  },
  completion: {
    summary: 'print a script that completes lampwright in bash, zsh or fish',
    help: COMPLETION_HELP,
    options: {},
    words: [1, 1],
    missing: 'say for which shell: bash, zsh or fish.',
    kinds: SHELLS,
    run: args => completion(args, COMMANDS),
  },
};

/** @returns the exit code */
export async function main(argv: readonly string[]): Promise<number> {
  const [name, ...rest] = argv;
  if (name === undefined || name === '--help' || name === '-h' || name === 'help') {
    print(overviewOf(COMMANDS));
    return name === undefined ? EXIT.usage : EXIT.ok;
  }
  if (name === '--version' || name === '-V') {
    print(packageVersion());
    return EXIT.ok;
  }
  // Started by the supervisor only; its input and output are not for people.
  if (name === 'engine') return engine();
  const command = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
  if (command === undefined) {
    complain(`there is no command "${name}".${suggestion(name, Object.keys(COMMANDS))}`);
    complain('lampwright --help lists them.');
    return EXIT.usage;
  }
  return dispatch(name, command, rest);
}
