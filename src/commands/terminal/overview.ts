import type { Command } from './dispatch.js';

/** What `lampwright --help` prints. */
export function overviewOf(commands: Readonly<Record<string, Command>>): string {
  return `lampwright turns the positions of tracked performers into light, and fades the light to a
safe look when it no longer knows where they are.

usage: lampwright COMMAND [OPTIONS]

${Object.entries(commands)
  .map(([name, { summary }]) => `  ${name.padEnd(12)}${summary}`)
  .join('\n')}

  lampwright COMMAND --help    options of a command, with examples
  lampwright --version

exit codes: 0 ok, 1 the check failed, 2 bad usage or file, 3 a fault at run time

lampwright never drives flying, rigging, lifts, scenery, pyrotechnics or flame; those belong to the
venue's safety staff and to licensed people.`;
}
