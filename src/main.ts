#!/usr/bin/env node
const [name, ...rest] = process.argv.slice(2);
const code = await (name === 'engine' || name === 'run' ? light(name) : anything());

/** The two on which light depends load what they need and no more: after a crash it waits for them. */
async function light(name: 'engine' | 'run'): Promise<number> {
  if (name === 'engine') return (await import('./commands/engine.js')).engine();
  const [{ dispatch }, { RUN_COMMAND }] = await Promise.all([
    import('./commands/dispatch.js'),
    import('./commands/run-command.js'),
  ]);
  return dispatch('run', RUN_COMMAND, rest);
}

async function anything(): Promise<number> {
  const { main } = await import('./commands/cli.js');
  return main(process.argv.slice(2));
}
// A pipe takes 64 KiB at once; what is still to be written would be lost.
process.stdout.write('', () => process.exit(code));
