// What the tests and the campaign share: several runs at a time, each in a network of its own, so that all may
// use the same ports, universes and names of hosts. Most of their time is waiting.
import { spawnSync } from 'node:child_process';

/** Named namespaces of a run are files in /run/netns: each gets a folder of its own there. */
const INSIDE =
  '{ mkdir -p /run/netns && mount -t tmpfs netns /run/netns; } 2>/dev/null; ip link set lo up && exec "$@"';
const WAYS = [
  ['unshare', '--net', '--mount'],
  ['unshare', '--map-root-user', '--net', '--mount'],
];

/** @returns what makes a command run in a network of its own; undefined where the system refuses that */
export function ownNetwork() {
  const way = WAYS.find(
    ([command, ...options]) =>
      spawnSync(command, [...options, 'sh', '-c', INSIDE, 'sh', 'true']).status === 0,
  );
  return way && (command => [...way, 'sh', '-c', INSIDE, 'sh', ...command]);
}

/** Takes tasks from the front of the list, so many at a time. */
export async function inLanes(count, tasks, run) {
  const queue = [...tasks];
  const lane = async () => {
    for (let task = queue.shift(); task !== undefined; task = queue.shift()) await run(task);
  };
  await Promise.all(Array.from({ length: count }, lane));
}
