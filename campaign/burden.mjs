// What a burden does to the daemon: whether its ticks come late, and whether its memory grows.
const TICK_S = 0.025;
const MOST_MIB = 64;

/** From now until the result is called for. The daemon has to run with --trace-ticks. */
export function watchBurden({ daemon }) {
  const { pid, enginePid } = daemon;
  const sizes = () => [pid, enginePid].map(one => daemon.rssMiB(one));
  const [fromS, before] = [Date.now() / 1000, sizes()];
  let [toS, grownMiB] = [fromS, [0, 0]];
  return {
    end() {
      toS = Date.now() / 1000;
      grownMiB = sizes().map((mib, i) => mib - before[i]);
    },
    /**
     * { words: what was measured, wrong: what did not hold, or undefined }. In the short form, which runs
     * wherever there is a change, a late tick may be the machine's: it is told and not judged.
     */
    result({ quick }) {
      const starts = daemon
        .told('tick')
        .filter(({ heardS }) => heardS > fromS && heardS < toS)
        .map(({ startS }) => startS);
      const late = starts.slice(1).map((startS, i) => startS - starts[i] - TICK_S);
      const [worstS, mostMiB] = [Math.max(...late), Math.max(...grownMiB)];
      const ms = `${(worstS * 1000).toFixed(0)} ms`;
      const grown = grownMiB.map(mib => `${mib >= 0 ? '+' : ''}${mib.toFixed(0)}`);
      const words = `${starts.length} ticks in ${(toS - fromS).toFixed(1)} s, ${ms} late at worst; memory ${grown.join(' and ')} MiB`;
      if (starts.length < 2) return { words, wrong: 'the ticks have ended' };
      if (!quick && worstS > TICK_S) return { words, wrong: `a tick was late by ${ms}` };
      if (mostMiB > MOST_MIB) return { words, wrong: `memory grew by ${mostMiB.toFixed(0)} MiB` };
      return { words, wrong: undefined };
    },
  };
}
