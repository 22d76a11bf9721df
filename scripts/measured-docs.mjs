// Writes the measured tables and pictures of docs/reference/assessment.md and sweep.md anew: npm run
// docs:measured. Two minutes.
import { execFileSync } from 'node:child_process';
import {
  copyFileSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

const RECORDINGS = 'tests/fixtures/data/tracking';
const PAGES = ['docs/reference/assessment.md', 'docs/reference/sweep.md'];
const MAIN = resolve('dist/main.js');
const pictures = mkdtempSync(join(tmpdir(), 'lampwright-assess-'));

const names = readdirSync(RECORDINGS).filter(name => name.endsWith('.csv'));
const isWalk = name => name.startsWith('uwb_walk');
const walks = assess(names.filter(isWalk), 'walks', ['--lag', '0.18']);
const others = assess(
  names.filter(name => !isWalk(name)),
  'others',
  [],
);

function assess(files, folder, more) {
  const plot = join(pictures, folder);
  return run(['assess', ...files, ...more, '--curve', '--plot', plot]);
}

function run(args) {
  const options = { cwd: RECORDINGS, encoding: 'utf8', maxBuffer: 1e9 };
  return JSON.parse(execFileSync(process.execPath, [MAIN, ...args, '--json'], options));
}

const percent = value => `${(100 * value).toFixed(1)} %`;
const of = ({ ratio, low, high }) =>
  low === undefined || low === null
    ? `${ratio.toFixed(3)} (too short)`
    : `${ratio.toFixed(3)} (${low.toFixed(3)} .. ${high.toFixed(3)})`;

function table(head, rows) {
  const widths = head.map((_, i) => Math.max(...[head, ...rows].map(row => row[i].length)));
  const line = row => `| ${row.map((cell, i) => cell.padEnd(widths[i])).join(' | ')} |`;
  return [
    line(head),
    `| ${widths.map(width => '-'.repeat(width)).join(' | ')} |`,
    ...rows.map(line),
  ].join('\n');
}

function frontRow(name, { ours, frontRmse, share }) {
  const there = frontRmse.toFixed(3);
  const cells = [ours.rmse.toFixed(3), ours.median.toFixed(3), ours.roughness.toFixed(0), there];
  return [name, ...cells, share.toFixed(3)];
}

const files = [...walks.files, ...others.files];
const tables = {
  front: table(
    [
      'recordings',
      'ours, share of holding',
      'median',
      'roughness, m/s²',
      'front at that roughness',
      'ours as a share of it',
    ],
    [
      frontRow('three walks, radio', walks.fronts.measured),
      frontRow('trolley (four ways) and robot, radio', others.fronts.measured),
      frontRow('dances, basketball, pedestrians, simulated', others.fronts['simulated sensor']),
    ],
  ),
  files: table(
    [
      'recording',
      'length, s',
      'against holding',
      'against that peer',
      'in 90 %',
      'off by 1 m at full confidence',
      'good, but doubted',
    ],
    files.map(({ file, lengthS, againstHold, againstRival, ours, reliability }) => [
      `\`${file.replace('.csv', '')}\``,
      lengthS.toFixed(0),
      of(againstHold),
      of(againstRival),
      percent(ours.containment90),
      percent(reliability.offAtFull ?? 0),
      percent(reliability.goodLost ?? 0),
    ]),
  ),
  horizon: table(
    [
      'horizon, s',
      'walks: RMSE, m',
      'trolley and robot',
      'simulated',
      'simulated: share of holding',
      'in 90 %',
    ],
    horizonRows(),
  ),
};

function horizonRows() {
  return walks.horizons.measured.map(({ horizonS, rmse }, i) => {
    const simulated = others.horizons['simulated sensor'][i];
    return [
      String(horizonS),
      rmse.toFixed(3),
      others.horizons.measured[i].rmse.toFixed(3),
      simulated.rmse.toFixed(3),
      (simulated.rmse / simulated.holdRmse).toFixed(3),
      percent(simulated.containment90),
    ];
  });
}

tables.sweep = table(
  ['case', 'rmse, m', 'p95', 'worst', 'height', 'rough, m/s²', 'jumps', 'trips', 'sure', 'doubted'],
  run(['sweep']).cases.map(
    ({ name, rmse, p95, worst, height, roughness, jumps, trips, sure, doubted }) => [
      name,
      ...[rmse, p95, worst, height].map(metres => metres.toFixed(3)),
      roughness.toFixed(0),
      jumps.toFixed(1),
      trips.toFixed(1),
      percent(sure),
      percent(doubted),
    ],
  ),
);

for (const file of PAGES) {
  const page = readFileSync(file, 'utf8');
  const written = page.replace(
    /<!-- (\w+) -->\n[\s\S]*?\n<!-- end -->/g,
    (_, name) => `<!-- ${name} -->\n\n${tables[name]}\n\n<!-- end -->`,
  );
  writeFileSync(file, written);
}
for (const [from, to] of [
  ['walks/front.svg', 'docs/reference/pictures/front-walks.svg'],
  ['others/front.svg', 'docs/reference/pictures/front.svg'],
  ['others/horizon.svg', 'docs/reference/pictures/horizon.svg'],
  ['walks/reliability.svg', 'docs/reference/pictures/reliability-walks.svg'],
  ['walks/uwb_walk_los_B4.svg', 'docs/concepts/plots/uwb_walk_los_B4.svg'],
  ['others/dance05_17_head.svg', 'docs/concepts/plots/dance05_17_head.svg'],
]) {
  copyFileSync(join(pictures, from), to);
}
rmSync(pictures, { recursive: true });
