import type { Command } from '../terminal/dispatch.js';
import { RECORD_OPTIONS } from './record-options.js';
import { RUN_HELP, run } from './run.js';

export const RUN_COMMAND: Command = {
  summary: 'run a show, headless, until it is stopped',
  help: RUN_HELP,
  options: {
    log: { type: 'string' },
    outputs: { type: 'string' },
    standby: { type: 'boolean' },
    'state-dir': { type: 'string' },
    panel: { type: 'string' },
    'panel-cert': { type: 'string' },
    'panel-host': { type: 'string', multiple: true },
    'panel-key': { type: 'string' },
    'trace-ticks': { type: 'boolean' },
    watch: { type: 'boolean' },
    ...RECORD_OPTIONS,
  },
  words: [1, 1],
  run,
};
