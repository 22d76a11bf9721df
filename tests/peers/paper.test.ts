import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import axe from 'axe-core';
import { type Browser, chromium, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

/** All pages and pictures of two shows in Debian's Chromium: on a phone, on screens, and on A4. */
const WIDTHS = [390, 820, 1400];
/** Between the margins of a sheet of A4, CSS px. */
const PRINTED_PX = 688;
/** 8 pt; a rounding less. */
const LEAST_PRINTED_PX = 10.6;
const LEAST_SCREEN_PX = 7.5;
const MOST_SHEETS = 10;
// Rehearsal and report of one show are enough: the other's take half a minute more.
const PAGES = [
  ['low-water-safety.html', 'safety config/low-water.show.yaml --html'],
  ['low-water-sheet.html', 'sheet config/low-water.show.yaml --html'],
  ['salt-rehearsal.html', 'rehearse config/salt-lantern.show.yaml config/scenes/three-cues.scene.yaml --record salt --html'],
  ['salt-report.html', 'report salt --html'],
  ['salt-safety.html', 'safety config/salt-lantern.show.yaml --html'],
  ['salt-sheet.html', 'sheet config/salt-lantern.show.yaml --html'],
  ['salt-plan.html', 'plan config/salt-lantern.show.yaml --html'],
  ['salt-frame.svg', 'calibrate stage config/salt-lantern.show.yaml --markers config/examples/salt-lantern.markers.csv --recording config/examples/salt-lantern.floor.csv --plot'],
  ['salt-head.svg', 'calibrate fixture config/salt-lantern.show.yaml head-right --samples config/examples/salt-lantern.aims.csv --plot'],
] as const; // biome-ignore format: a line a page

let folder: string;
let browser: Browser;
let page: Page;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-paper-'));
  const main = resolve('dist/main.js');
  for (const [file, command] of PAGES) {
    const words = command.replace(/(--record|^report) (\S+)/, `$1 ${folder}/$2`).split(' ');
    execFileSync(process.execPath, [main, ...words, join(folder, file)], { stdio: 'ignore' });
  }
  browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run'],
  });
  page = await browser.newPage();
}, 240_000);

afterAll(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true });
});

it('writes all of them', () => {
  const made = readdirSync(folder).filter(name => /\.(html|svg)$/.test(name));
  expect(made.sort()).toEqual(PAGES.map(([file]) => file).sort());
  for (const name of made) expect(statSync(join(folder, name)).size).toBeLessThan(500_000);
});

describe.each(PAGES.map(([file]) => file))('%s', file => {
  it('fits every width, with no text cut, on another, or too small', async () => {
    await page.goto(pathToFileURL(join(folder, file)).href);
    await page.emulateMedia({ media: 'screen' });
    for (const width of WIDTHS) {
      await page.setViewportSize({ width, height: 900 });
      expect([width, ...(await page.evaluate(faultsOfText, LEAST_SCREEN_PX))]).toEqual([width]);
    }
    await page.emulateMedia({ media: 'print' });
    await page.setViewportSize({ width: PRINTED_PX, height: 1017 });
    expect(await page.evaluate(faultsOfText, LEAST_PRINTED_PX)).toEqual([]);
  }, 60_000);

  if (!file.endsWith('.html')) return;

  it('has nothing that axe complains of, and is a few sheets of A4', async () => {
    await page.emulateMedia({ media: 'screen' });
    await page.setViewportSize({ width: 1400, height: 900 });
    await page.evaluate(axe.source);
    const found = await page.evaluate(() =>
      (globalThis as unknown as { axe: typeof axe }).axe.run(),
    );
    expect(found.violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.html}`)).toEqual([]);
    // What was emulated before counts on paper too.
    await page.emulateMedia({ media: 'print' });
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    const sheets = pdf.match(/\/Type\s*\/Page\b/g)?.length ?? 0;
    expect(sheets).toBeGreaterThan(0);
    expect(sheets).toBeLessThanOrEqual(MOST_SHEETS);
    // No sheet has the last sentence, or the end of a table, alone.
    const lines = linesOfSheets(pdf);
    expect(lines.length).toBe(sheets);
    expect(Math.min(...lines)).toBeGreaterThanOrEqual(5);
    // 210 x 297 mm in points of 1/72 inch.
    expect(pdf).toMatch(/\/MediaBox\s*\[\s*0 0 59[45][.\d]* 84[12]/);
  }, 60_000);
});

/** Of each sheet, how many lines of text it has, by pdftotext of Poppler. */
function linesOfSheets(pdf: string): number[] {
  const input = Buffer.from(pdf, 'latin1');
  const text = execFileSync('pdftotext', ['-layout', '-', '-'], { input, encoding: 'utf8' });
  const sheets = text.split('\f').slice(0, -1);
  return sheets.map(sheet => sheet.split('\n').filter(line => line.trim() !== '').length);
}

/** Runs in the page. What is wrong with its text, in words; empty where nothing is. */
function faultsOfText(leastPx: number): string[] {
  const faults: string[] = [];
  const root = document.scrollingElement ?? document.documentElement;
  if (root.scrollWidth > innerWidth) faults.push(`${root.scrollWidth} px wide`);
  for (const svg of document.querySelectorAll('svg')) {
    if (svg.parentElement?.closest('svg')) continue;
    const frame = svg.getBoundingClientRect();
    const boxes = [...svg.querySelectorAll('text')].map(text => {
      const box = text.getBoundingClientRect();
      const scale = (text.getScreenCTM() as DOMMatrix | null) ?? new DOMMatrix();
      const size =
        Number.parseFloat(getComputedStyle(text).fontSize) * Math.hypot(scale.a, scale.b);
      const words = text.textContent ?? '';
      if (size < leastPx) faults.push(`"${words}" is ${size.toFixed(1)} px`);
      const isCut =
        box.left < frame.left - 1 ||
        box.right > frame.right + 1 ||
        box.top < frame.top - 1 ||
        box.bottom > frame.bottom + 1;
      if (isCut) faults.push(`"${words}" is cut`);
      return { box, words };
    });
    boxes.forEach(({ box: a, words }, i) => {
      for (const { box: b, words: other } of boxes.slice(i + 1)) {
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        // The box of a line of text is higher than its letters.
        if (wide > 2 && high > 0.35 * Math.min(a.height, b.height)) {
          faults.push(`"${words}" lies on "${other}"`);
        }
      }
    });
  }
  for (const one of document.querySelectorAll('p, li, td, th, h1, h2, h3, .key, .strip, b, span')) {
    // Heads of rows that are cards are for screen readers alone.
    const head = one.closest('thead');
    if (head !== null && getComputedStyle(head).position === 'absolute') continue;
    const box = one.getBoundingClientRect();
    if (box.width <= 1 || box.height === 0) continue;
    if (box.left < -1 || box.right > innerWidth + 1) {
      faults.push(`"${one.textContent?.slice(0, 30)}" is cut`);
    }
    const size = Number.parseFloat(getComputedStyle(one).fontSize);
    if (size < leastPx) faults.push(`"${one.textContent?.slice(0, 30)}" is ${size} px`);
  }
  return [...new Set(faults)].slice(0, 10);
}
