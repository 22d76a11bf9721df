import { type Check, fail, pass, unknown, warn } from './check.js';

/** What the machine showed of itself; no judgement. */
export interface MachineFacts {
  readonly node: string;
  /** Where recordings and reports would be written, and what is free there; undefined: not to be told. */
  readonly folder: string;
  readonly freeBytes: number | undefined;
  /** Whether the clock is kept by a time server; undefined where the system does not tell. */
  readonly synchronised: boolean | undefined;
  /** How much the wall clock gained on the monotonic one while it was watched, seconds, and for how long. */
  readonly clockGainS: number;
  readonly watchedS: number;
  /** Processes that want to run, mean of a minute, and the cores that there are. */
  readonly load: number;
  readonly cores: number;
  readonly freeMemoryBytes: number;
}

/** An hour's recording of a large show is some hundred megabytes. */
const DISK_WARN_BYTES = 2e9;
const DISK_FAIL_BYTES = 2e8;
const MEMORY_WARN_BYTES = 2.5e8;
/** Time servers move a clock by 500 parts in a million at most (RFC 5905, from memory); beyond it was set. */
const CLOCK_WARN_S = 0.2;
/** More than so many processes a core wait for each other. */
const LOAD_WARN = 1;

export function checkMachine(facts: MachineFacts): Check[] {
  return [disk(facts), clock(facts), steady(facts), load(facts), memory(facts)];
}

function disk({ folder, freeBytes }: MachineFacts): Check {
  const where = folder === '.' ? 'this folder' : folder;
  if (freeBytes === undefined) {
    return warn(
      'machine',
      'disk',
      `can't tell how much is free in ${where}.`,
      'Look for yourself.',
    );
  }
  const found = `${(freeBytes / 1e9).toFixed(1)} GB free in ${where}.`;
  const act = 'Free some space: recordings, logs and reports go there.';
  if (freeBytes < DISK_FAIL_BYTES) return fail('machine', 'disk', found, act);
  return freeBytes < DISK_WARN_BYTES
    ? warn('machine', 'disk', found, act)
    : pass('machine', 'disk', found);
}

function clock({ synchronised }: MachineFacts): Check {
  switch (synchronised) {
    case true:
      return pass('machine', 'time of day', 'synchronised with a time server.');
    case false:
      return warn(
        'machine',
        'time of day',
        'not synchronised with a time server: times in logs and reports may be off.',
        'Set it, or give the network a time server. The light does not depend on it, unless an input takes time tags.',
      );
    default:
      return unknown(
        'machine',
        'time of day',
        'the system does not say whether it is synchronised with a time server.',
      );
  }
}

function steady({ clockGainS, watchedS }: MachineFacts): Check {
  const found = `in ${watchedS.toFixed(0)} s the wall clock and the monotonic clock drifted apart by ${Math.abs(clockGainS * 1e3).toFixed(0)} ms.`;
  return Math.abs(clockGainS) > CLOCK_WARN_S
    ? warn(
        'machine',
        'clocks',
        found,
        'Somebody or something set the clock: wait, and look again. The light uses the monotonic one.',
      )
    : pass('machine', 'clocks', found);
}

function load({ load: mean, cores, node }: MachineFacts): Check {
  const found = `${mean.toFixed(1)} processes want ${cores} cores (mean of a minute), Node ${node}.`;
  return mean > LOAD_WARN * cores
    ? warn('machine', 'load', found, 'Close what is not needed for the show.')
    : pass('machine', 'load', found);
}

function memory({ freeMemoryBytes }: MachineFacts): Check {
  const found = `${(freeMemoryBytes / 1e9).toFixed(1)} GB free.`;
  return freeMemoryBytes < MEMORY_WARN_BYTES
    ? warn('machine', 'memory', found, 'Close what is not needed for the show.')
    : pass('machine', 'memory', found);
}
