// Takes the pictures of the panel in docs/guides/pictures anew, one of each state: npm run docs:pictures. A minute; needs
// Chromium and the ports of The Salt Lantern. `-- --to FOLDER` puts them elsewhere, in all widths.
import { execFileSync, spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { chromium } from 'playwright-core';

const to = process.argv[process.argv.indexOf('--to') + 1];
const all = process.argv.includes('--to');
const FOLDER = all ? to : 'docs/guides/pictures';
const SHOW = 'config/salt-lantern.show.yaml';
const MAIN = 'dist/main.js';
const PHONE = { width: 390, height: 844 };
const TABLET = { width: 820, height: 1180 };
const WIDE = { width: 1400, height: 900 };
const VIEWS = ['Plan', 'People', 'Light', 'Time', 'Operator'];

const work = mkdtempSync(join(tmpdir(), 'lampwright-pictures-'));
const show = join(work, 'show.yaml');
writeFileSync(
  show,
  readFileSync(SHOW, 'utf8')
    .replace('performers:\n', 'spares: [7]\nperformers:\n')
    .replace(
      '\nmappings:\n',
      '\nkeepOut:\n  front-row: { label: front row, polygon: [[3, -2], [7, -2], [7, -0.2], [3, -0.2]], height: [0, 1.4] }\nmappings:\n',
    ),
);
/** Everybody walks a little; the Gull is heard, or is not. */
const scene = (name, loss) => {
  const file = join(work, `${name}.scene.yaml`);
  const walk = (height, ...places) =>
    `{ height: ${height}, path: [${places.map((place, i) => `{ at: ${(i * 60) / (places.length - 1)}, place: ${place} }`).join(', ')}]${loss && height === 1.6 ? ', losses: [{ from: 0.5, to: 600 }]' : ''} }`;
  writeFileSync(
    file,
    `lampwright: 1
scene: ${name}
length: 600
sensor: { rate: 30, noise: 0.04, latency: 0.05 }
performers:
  ines: ${walk(1.58, 'window', '[8, 6.6]', 'window')}
  tobias: ${walk(1.7, 'stove', '[2.6, 5.4]', 'stove')}
  gull: ${walk(1.6, '[6, 2.6]', '[5, 3.6]', '[7, 2]')}
`,
  );
  return file;
};
const state = join(work, 'state');
const children = new Set();
const begin = (...args) => {
  const child = spawn(process.execPath, [MAIN, ...args], { stdio: ['ignore', 'pipe', 'inherit'] });
  children.add(child);
  return child;
};
const end = child => {
  children.delete(child);
  child.kill('SIGKILL');
};
const run = (...args) => execFileSync(process.execPath, [MAIN, ...args], { encoding: 'utf8' });
const tell = (...words) => run('tell', state, ...words);

let browser;
let page;
/** The size is that of a small photograph: WebP by the browser itself. */
const take = async (name, size, on = page) => {
  await on.setViewportSize(size);
  await sleep(400);
  const session = await on.context().newCDPSession(on);
  const shot = all ? { format: 'png' } : { format: 'webp', quality: 82 };
  const { data } = await session.send('Page.captureScreenshot', shot);
  await session.detach();
  const file = join(FOLDER, `panel-${name}.${shot.format}`);
  writeFileSync(file, Buffer.from(data, 'base64'));
};
/** A state in the width that shows it best; or in all of them. */
const takeState = async (name, size) => {
  if (!all) return take(name, size);
  await take(`${name}-390`, PHONE);
  await take(`${name}-820`, TABLET);
  await take(`${name}-1400`, WIDE);
};
const headline = name => page.getByRole('heading', { name }).waitFor({ timeout: 90_000 });
const pidsOf = parent =>
  execFileSync('pgrep', ['-P', String(parent), '-af', '.'], { encoding: 'utf8' }).split('\n');
const pidOf = (parent, word) =>
  Number(
    pidsOf(parent)
      .find(line => line.includes(word))
      ?.split(' ')[0],
  );

try {
  mkdirSync(FOLDER, { recursive: true });
  let log = '';
  const daemon = begin('run', show, '--log', 'json', '--state-dir', state, '--panel', '7240');
  daemon.stdout.on('data', piece => {
    log += piece;
  });
  for (let i = 0; i < 300 && !log.includes('"listening"'); i++) await sleep(100);
  const [link] = JSON.parse(run('panel', state, '--json')).links;
  browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: [
      ...['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run'],
      ...['--disable-background-networking', '--disable-component-update', '--disable-sync'],
    ],
  });
  page = await browser.newPage({ viewport: WIDE });
  await page.goto(link);
  await headline(/heard from tracking yet/);
  await takeState('starting', PHONE);

  // The address of another machine, by a proxy: it takes the token even to look.
  const away = await browser.newContext({ extraHTTPHeaders: { 'x-forwarded-for': '10.0.0.9' } });
  const locked = await away.newPage();
  await locked.goto('http://127.0.0.1:7240/');
  await locked.getByLabel('Token').waitFor();
  await take('locked', { width: 390, height: 560 }, locked);
  if (all) await take('locked-1400', WIDE, locked);
  await away.close();

  let play = begin('play', scene('everybody', false), '--show', show);
  await headline('All is well');
  await sleep(5000);
  await take('wide', WIDE);
  if (all) await take('live-820', TABLET);
  for (const view of VIEWS) {
    await page.setViewportSize(PHONE);
    await page.getByRole('button', { name: view, exact: true }).click();
    await take(`phone-${view.toLowerCase()}`, PHONE);
  }
  await page.getByRole('button', { name: 'Plan', exact: true }).click();

  end(play);
  play = begin('play', scene('without-the-gull', true), '--show', show);
  await headline('The Gull is lost');
  await sleep(3500);
  await takeState('lost', WIDE);
  await page.setViewportSize(PHONE);
  await page.getByRole('button', { name: 'Light', exact: true }).click();
  if (all) await take('lost-light', PHONE);
  await page.getByRole('button', { name: 'Plan', exact: true }).click();

  tell('stop', 'everybody');
  await headline('Everybody is stopped');
  await sleep(4000);
  await takeState('stopped', PHONE);
  tell('resume', 'everybody');
  await headline('The Gull is lost');
  await sleep(1500);

  const panel = pidOf(daemon.pid, 'panel-process');
  process.kill(panel, 'SIGSTOP');
  await headline(/picture is [4-9] s old/);
  await takeState('stale', PHONE);
  process.kill(panel, 'SIGCONT');
  await headline('The Gull is lost');

  // Each that is started hangs too, so that the light stays where it is.
  const hang = setInterval(() => {
    for (const line of pidsOf(daemon.pid)) {
      if (/\bengine\b/.test(line)) process.kill(Number(line.split(' ')[0]), 'SIGSTOP');
    }
  }, 300);
  await page.setViewportSize(PHONE);
  await headline(/All light is at the safe look/);
  await takeState('safe', PHONE);
  clearInterval(hang);
  // The next engine has never heard her, and she is as lost as before.
  await headline('The Gull is lost');

  end(play);
  await headline(/silent/);
  await sleep(3500);
  await takeState('silent', PHONE);
} finally {
  await browser?.close();
  for (const child of children) child.kill('SIGTERM');
  await sleep(4000);
  rmSync(work, { recursive: true, force: true });
}
process.exit();
