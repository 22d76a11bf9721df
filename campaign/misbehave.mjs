// Loaded into a daemon of the campaign with `node --import`: makes its engine slow, or hungry, on SIGUSR2.
// The supervisor hands its own options on to the engine; nothing of this is in lampwright itself.
if (process.argv[2] === 'engine') {
  process.on('SIGUSR2', () => {
    const kept = [];
    setInterval(() => {
      if (process.env.MISBEHAVIOUR === 'hungry') {
        // 64 MiB each tenth of a second, really taken.
        kept.push(Buffer.alloc(64 << 20, kept.length + 1));
        return;
      }
      const until = performance.now() + Number(process.env.MISBEHAVIOUR_MS);
      while (performance.now() < until);
    }, 100);
  });
}
