// How long the plan of a large stage takes: 20 x 15 m, 12 anchors, a place every 0.25 m.
import { planAnchors } from '../dist/planning/plan.js';

const anchors = Array.from({ length: 12 }, (_, i) => {
  const angle = (2 * Math.PI * i) / 12;
  return {
    name: `a${i}`,
    position: {
      x: 10 + 11.1 * Math.cos(angle + 0.1),
      y: 7.5 + 8.7 * Math.sin(angle),
      z: 3 + (i % 3) * 0.7,
    },
  };
});
const options = {
  bounds: { min: { x: 0, y: 0, z: -0.5 }, max: { x: 20, y: 15, z: 3 } },
  anchors,
  obstacles: [
    {
      name: 'flat',
      solid: { kind: 'box', min: { x: 4, y: 11, z: 0 }, max: { x: 8, y: 11.1, z: 3 } },
    },
    {
      name: 'column',
      solid: { kind: 'cylinder', x: 15, y: 5, radiusM: 0.3, fromM: 0, toM: 4 },
    },
  ],
  lights: [{ name: 'head', position: { x: 10, y: 1, z: 6 } }],
  ranging: { by: 'time-difference', errorM: 0.15 },
  wearers: [{ heightM: 1.7, wornAtM: 1.5 }],
  stepM: 0.25,
};
for (let run = 0; run < 3; run++) {
  const began = performance.now();
  const before = process.cpuUsage();
  const plan = planAnchors(options);
  const tookS = (performance.now() - began) / 1000;
  const cpuS = process.cpuUsage(before).user / 1e6;
  console.log(
    `${plan.survey.grid.columns} x ${plan.survey.grid.rows} places: ${tookS.toFixed(2)} s, ${cpuS.toFixed(2)} s of CPU`,
  );
}
