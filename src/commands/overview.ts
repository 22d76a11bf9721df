import type { Command } from './dispatch.js';

/** What `lampwright --help` prints. */
export function overviewOf(commands: Readonly<Record<string, Command>>): string {
  return `lampwright turns the positions of tracked performers into light, and takes the light
somewhere safe when it no longer knows where they are.

usage: lampwright COMMAND [OPTIONS]

${Object.entries(commands)
  .map(([name, { summary }]) => `  ${name.padEnd(12)}${summary}`)
  .join('\n')}

  lampwright COMMAND --help    what a command takes, with examples
  lampwright --version

exit codes: 0 ok, 1 the check failed, 2 bad usage or file, 3 a fault while running

lampwright never drives flying, rigging, lifts, scenery, pyrotechnics or flame; those belong to the
venue's safety staff and to licensed people.`;
}
