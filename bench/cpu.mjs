// The processor's time of the daemon beside programs that send the same universes, in turn.

/**
 * @param cpuOf runs a program, and gives its seconds of processor a second, in all and of each process
 * @param daemon its arguments
 * @param others name -> arguments
 * @param seconds of each measurement
 */
export async function benchCpu(cpuOf, daemon, others, seconds, rounds) {
  const names = Object.keys(others);
  console.log(`\nCPU over ${seconds} s, per cent of one core (user + system, all processes)`);
  console.log(
    `round   ${names.map(name => name.padStart(13)).join('')}       daemon   (supervisor + engine ...)   ratio to each`,
  );
  const ratios = names.map(() => []);
  for (let round = 1; round <= rounds; round++) {
    const totals = [];
    for (const args of Object.values(others)) totals.push((await cpuOf(args, seconds)).total);
    const { total, each } = await cpuOf(daemon, seconds);
    const now = totals.map(other => total / other);
    for (const [i, ratio] of now.entries()) ratios[i].push(ratio);
    const columns = totals.map(share => percent(share).padStart(13)).join('');
    console.log(
      `${String(round).padEnd(8)}${columns}${percent(total).padStart(13)}   (${each.map(percent).join(' + ')})   ${inText(now)}`,
    );
  }
  console.log(`median ratio to each: ${inText(ratios.map(median))}`);
}

const inText = list => list.map(ratio => ratio.toFixed(2)).join(', ');
const percent = share => `${(share * 100).toFixed(1)} %`;
const median = list => list.toSorted((a, b) => a - b)[Math.floor(list.length / 2)];
