import { test } from 'vitest';
import { SIGNALS } from '../show/signal-cases.js';
import { Rig } from './harness.js';

test('try', () => {
  const rig = new Rig(SIGNALS);
  rig.view.askWhy();
  rig.run(12, t => ({ 1: [2, 5.5 + 0.01 * Math.sin(t)], 2: [2.3, 6 + 0.01 * Math.sin(t)], 3: [8, 2 + 0.01 * Math.cos(t)] }));
  console.log(rig.view.signals.map(s => `${s.name} ${s.least} ${s.greatest}`).join('\n'));
  console.log(rig.view.conditions.map(s => `${s.name} ${s.truth}`).join('\n'));
  console.log(JSON.stringify(rig.view.why, undefined, 1));
});
