// Takes the pictures of the panel in docs/guides/pictures anew: npm run docs:pictures. Half a minute; needs Chromium
// and the ports of The Salt Lantern.
import { execFileSync, spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { chromium } from 'playwright-core';

const FOLDER = 'docs/guides/pictures';
const SHOW = 'config/salt-lantern.show.yaml';
const SCENE = 'config/scenes/three-cues.scene.yaml';
const MAIN = 'dist/main.js';

const work = mkdtempSync(join(tmpdir(), 'lampwright-pictures-'));
const show = join(work, 'show.yaml');
writeFileSync(
  show,
  readFileSync(SHOW, 'utf8')
    .replace('performers:\n', 'spares: [7]\nperformers:\n')
    .replace(
      '\nmappings:\n',
      '\nkeepOut:\n  front-row: { label: front row, polygon: [[3, -1], [7, -1], [7, 0], [3, 0]], height: [0, 1.4] }\nmappings:\n',
    ),
);
const state = join(work, 'state');
const children = [];
const begin = (...args) => {
  const child = spawn(process.execPath, [MAIN, ...args], { stdio: ['ignore', 'pipe', 'inherit'] });
  children.push(child);
  return child;
};
let browser;
try {
  let log = '';
  begin('run', show, '--log', 'json', '--state-dir', state, '--panel', '7240').stdout.on(
    'data',
    piece => {
      log += piece;
    },
  );
  for (let i = 0; i < 300 && !log.includes('"listening"'); i++) await sleep(100);
  const play = begin('play', SCENE, '--show', show, '--loop');
  const told = execFileSync(process.execPath, [MAIN, 'panel', state, '--json'], {
    encoding: 'utf8',
  });
  browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: [
      ...['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run'],
      ...['--disable-background-networking', '--disable-component-update', '--disable-sync'],
    ],
  });
  const page = await browser.newPage({ viewport: { width: 1400, height: 1000 } });
  await page.goto(JSON.parse(told).links[0]);
  await page.getByRole('heading', { name: 'All is well' }).waitFor({ timeout: 30_000 });
  await sleep(4000);
  mkdirSync(FOLDER, { recursive: true });
  const take = name => page.screenshot({ path: join(FOLDER, `panel-${name}.png`) });
  await take('wide');
  await page.setViewportSize({ width: 390, height: 844 });
  for (const view of ['Plan', 'People', 'Light', 'Operator']) {
    await page.getByRole('button', { name: view, exact: true }).click();
    await sleep(300);
    await take(`phone-${view.toLowerCase()}`);
  }
  // Everybody falls silent.
  play.kill('SIGKILL');
  await page.getByRole('button', { name: 'Plan', exact: true }).click();
  await page.getByRole('heading', { name: /silent|lost/ }).waitFor();
  await sleep(1500);
  await take('phone-lost');
} finally {
  await browser?.close();
  for (const child of children) child.kill('SIGTERM');
  await sleep(4000);
  rmSync(work, { recursive: true, force: true });
}
process.exit();
