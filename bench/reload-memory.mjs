import { readFileSync, writeFileSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { family, rssMiB, start, stop } from './processes.mjs';

const LOOK_MS = 20;
/** What is written to nobody's log in this time is no answer, seconds. */
const LONGEST_S = 120;

/** What of the memory of a daemon and its children is in use at a moment, MiB; what they share counts for each. */
function inUse(pid) {
  let sum = 0;
  let processes = 0;
  for (const one of family(pid)) {
    try {
      sum += rssMiB(one);
      processes += 1;
    } catch {
      // It has just ended.
    }
  }
  return { sum, processes };
}

/**
 * Memory of all processes together while the large house is loaded anew: with the same patch its engine goes on, with
 * another one two engines are alive until the new one has taken over. Both after a process of its own has read the show.
 */
export async function benchReloadMemory(show, warmUpS) {
  const text = readFileSync(show, 'utf8');
  const child = start(['dist/main.js', 'run', show, '--log', 'json'], { stdout: 'pipe' });
  const kinds = [];
  createInterface({ input: child.stdout }).on('line', line => {
    if (line.startsWith('{')) kinds.push(JSON.parse(line).kind);
  });
  while (!kinds.includes('engine-started')) await sleep(LOOK_MS);
  await sleep(warmUpS * 1000);
  console.log('\nmemory of all processes together, MiB: before, most, most processes, 5 s after');
  for (const [name, next] of [
    ['reload, the same patch', `${text}\n# edited\n`],
    [
      'reload, another patch',
      text
        .replace(/safe: \{ Dimmer: 20 \}/, 'safe: { Dimmer: 30 }')
        .replace(/address: 1,/, 'address: 401,'),
    ],
  ]) {
    const before = inUse(child.pid);
    const most = { ...before };
    kinds.length = 0;
    writeFileSync(show, next);
    child.kill('SIGHUP');
    const deadline = Date.now() + LONGEST_S * 1000;
    for (let quiet = 0; quiet < 100 && Date.now() < deadline; ) {
      await sleep(LOOK_MS);
      const now = inUse(child.pid);
      most.sum = Math.max(most.sum, now.sum);
      most.processes = Math.max(most.processes, now.processes);
      // Two seconds more: the engine before it ends by then.
      if (kinds.includes('reloaded')) quiet += 1;
    }
    await sleep(5000);
    const cells = [before.sum, most.sum].map(size => size.toFixed(0).padStart(6));
    const how = kinds.includes('reloaded') ? '' : ` NOT LOADED: ${[...new Set(kinds)].join(', ')}`;
    console.log(
      `${name.padEnd(24)} ${cells.join(' ')} ${most.processes} ${inUse(child.pid).sum.toFixed(0).padStart(6)}${how}`,
    );
  }
  writeFileSync(show, text);
  await stop(child);
}
