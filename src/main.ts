#!/usr/bin/env node
import module from 'node:module';
import { fileURLToPath } from 'node:url';
import { loadCompiled } from './commands/compiled-code.js';
import { compiledFolder } from './commands/compiled-folder.js';

const compiled = compiledFolder(process.env);
const [name, ...rest] = process.argv.slice(2);
/** Signals that would end Node, or open its debugger, before a command has said what they mean to it. */
const NOT_YET = ['SIGHUP', 'SIGUSR1', 'SIGUSR2'] as const;
/** A fault while running (commands/exit-codes.ts). Node's own would be 1, with which no service is started again. */
const FAULT = 3;
/**
 * For a service manager, in place of 1 and 2, the show or the command has to be fixed first: EX_CONFIG of sysexits.h(3).
 * Node ends with 1 itself where it can't read this very file, and env with 126 and 127; that is tried again.
 */
const NOT_AGAIN = 78;
/** A process that ended before (`run --help`) has compiled too little of itself to be worth keeping. */
const HAS_RUN_S = 1;
/** What it means that a process ends while it is loaded. */
const MEANT: Readonly<Record<string, string | undefined>> = {
  run: 'The daemon ends before it has sent anything: lights stay as they are, or as another source has them.',
  engine: 'The engine ends, the light stays at the safe look, and the engine is tried again.',
  'panel-process': 'The panel ends, the light goes on, and the panel is tried again.',
};

try {
  await leave(await command());
} catch (error) {
  // Of a module that can't be read too: no descriptor or no memory is left.
  crash(error);
}

async function command(): Promise<number> {
  if (name === 'engine' || name === 'run') return light(name);
  // From Node 22.1 on, what one process has compiled the next one reads; it never throws.
  const { enableCompileCache } = module as { enableCompileCache?: (folder: string) => unknown };
  if (compiled !== undefined) enableCompileCache?.(compiled);
  if (name !== 'panel-process') return anything();
  return (await import('./commands/panel-process.js')).panelProcess();
}

/** The two on which light depends load what they need and no more: after a crash it waits for them. */
async function light(name: 'engine' | 'run'): Promise<number> {
  for (const signal of NOT_YET) process.on(signal, () => undefined);
  if (name === 'engine') return (load('engine') as typeof import('./commands/engine.js')).engine();
  // Until the command has last words of its own.
  process.on('uncaughtException', crash);
  const { runShow } = load('run') as typeof import('./commands/running/run-process.js');
  const code = await runShow(rest);
  const isService = (process.env.NOTIFY_SOCKET ?? '') !== '';
  return isService && (code === 1 || code === 2) ? NOT_AGAIN : code;
}

/** Each of the two is one file. Its code is kept when the process ends well: nothing waits for it then. */
function load(name: 'engine' | 'run'): unknown {
  const file = fileURLToPath(new URL(`./bundle/${name}.cjs`, import.meta.url));
  const { exports, keep } = loadCompiled(file, compiled);
  process.once('exit', code => {
    if (code === 0 && process.uptime() > HAS_RUN_S) keep();
  });
  return exports;
}

async function anything(): Promise<number> {
  process.on('uncaughtException', crash);
  // A reader that has seen enough (`| head`) is no fault: the command goes on to its own exit code.
  for (const stream of [process.stdout, process.stderr]) {
    stream.on('error', (error: NodeJS.ErrnoException) => {
      if (error.code !== 'EPIPE') crash(error);
    });
  }
  // A stop waits for no more than it needs.
  if (name === 'tell') {
    const [{ dispatch }, { TELL_COMMAND }] = await Promise.all([
      import('./commands/terminal/dispatch.js'),
      import('./commands/running/tell-command.js'),
    ]);
    return dispatch('tell', TELL_COMMAND, rest);
  }
  const { main } = await import('./commands/cli.js');
  return main(process.argv.slice(2));
}

/** What is still to be written to a pipe, which takes 64 KiB at once, would be lost. */
async function leave(code: number): Promise<void> {
  if (process.stdout.writableLength > 0) {
    await new Promise<void>(resolve => process.stdout.write('', () => resolve()));
  }
  process.exit(code);
}

function crash(error: unknown): void {
  const words = wordsOf(error) ?? (error instanceof Error ? error.stack : error);
  process.stderr.write(`${words}\n`);
  process.exit(FAULT);
}

/** Of what is no fault of the program: what happened, what it means for the light, and what to do. */
function wordsOf(error: unknown): string | undefined {
  const { code } = Object(error) as { readonly code?: unknown };
  if (code !== 'EMFILE' && code !== 'ENFILE') return undefined;
  const isOurs = code === 'EMFILE';
  const what = `too many files are open (${code}): ${isOurs ? 'more than this process may have' : 'the whole machine has no file descriptor free'}.`;
  const whatToDo = isOurs
    ? 'Allow it more and start it again: `ulimit -n 1024` in this shell, or LimitNOFILE=1024 in the unit of the service.'
    : 'End what holds so many open (`lsof` says which), or raise fs.file-max with sysctl, and start it again.';
  return `lampwright: ${what} ${MEANT[name ?? ''] ?? 'Nothing was done, and no light was sent.'} ${whatToDo}`;
}
