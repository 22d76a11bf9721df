import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import {
  type Browser,
  type BrowserServer,
  chromium,
  type Locator,
  type Page,
} from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { noteWhere } from '../../src/daemon/panel/token.js';
import {
  Daemon,
  lampwright,
  SALT_LANTERN,
  SacnReceiver,
  Trackers,
  until,
  variantOf,
} from '../system/support.js';
import { launchBrowser, panelPid, Wire, walk } from './panel-browser.js';

/** What a hand does at the panel, in Debian's Chromium over a wire that can be cut; the tests go on from one another. */
const WIRE_PORT = 7300;
/** Slot of the haze; it shows any only while its enable is held. */
const HAZE = 30;
const ENABLE_TIMEOUT_S = 1;
const BOTH_HANDS = /panel at 127\.0\.0\.1 \(2 hands\)/;
/** Between two holds, on the way, and a tick and a frame until it is on the wire, on a machine that has much to do. */
const SLACK_S = 0.7;

let folder: string;
let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let sacn: SacnReceiver;
let trackers: Trackers;
let walking: NodeJS.Timeout;
let wire: Wire;
let server: BrowserServer;
let browser: Browser;
let page: Page;
let token: string;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-hands-'));
  noteWhere(folder, 'http://10.9.9.9:7240');
  show = variantOf(SALT_LANTERN, [['performers:\n', 'spares: [7]\nperformers:\n']]);
  sacn = await SacnReceiver.open(1);
  trackers = new Trackers();
  daemon = Daemon.run(show.file, {}, ['--state-dir', folder, '--panel', '127.0.0.1:7240']);
  walking = walk(trackers);
  wire = new Wire(WIRE_PORT, 7240);
  server = await launchBrowser();
  browser = await chromium.connect(server.wsEndpoint());
  await until('the daemon runs', () => daemon.enginePid > 0, 30);
  // The address of the one before is not told any more.
  expect((await lampwright(['panel', folder])).stdout).not.toContain('10.9.9.9');
  await until('the panel listens', () => logged('panel').length > 0, 30);
  token = JSON.parse((await lampwright(['panel', folder, '--json'])).stdout).token;
  page = await browser.newPage({ viewport: { width: 1400, height: 900 } });
  await page.goto(`http://127.0.0.1:${WIRE_PORT}/#token=${token}`);
  await page.getByRole('heading', { name: 'All is well' }).waitFor({ timeout: 20_000 });
}, 90_000);

afterAll(async () => {
  await server?.close();
  clearInterval(walking);
  trackers.close();
  wire.close();
  await daemon.stop();
  sacn.close();
  show.remove();
  rmSync(folder, { recursive: true });
});

const logged = (kind: string) => daemon.log.filter(line => line.kind === kind);
const nowS = () => performance.now() / 1e3;
const gate = () => logged('enable').at(-1)?.gate;
const said = () => page.locator('.said').textContent();
const button = (name: string) => page.getByRole('button', { name, exact: true });

/** A button that does not act just then takes no focus, and the key would go to the one that had it. */
async function focusOn(one: Locator): Promise<void> {
  const isFocused = (element: HTMLElement | SVGElement) => {
    element.focus();
    return element.ownerDocument.activeElement === element;
  };
  await expect.poll(() => one.evaluate(isFocused), { timeout: 10_000, interval: 20 }).toBe(true);
}

async function press(name: string): Promise<void> {
  await focusOn(button(name));
  await page.keyboard.press('Enter');
}

/** What Tab reaches, each as a screen reader says it. */
async function reached(): Promise<string[]> {
  const all: string[] = [];
  for (let i = 0; i < 100 && !all.at(-1)?.includes('button "Stop"'); i++) {
    await page.keyboard.press('Tab');
    all.push(await page.locator(':focus').ariaSnapshot());
  }
  return all.map(one => one.split('\n')[0] ?? '');
}

it('has each act under the keyboard, by a name of its own', async () => {
  const names = await reached();
  for (const name of [
    ...['button "Go storm"', 'button "Hold atmospheric: haze"', 'button "Stop"'],
    ...['button "Stop Ines"', 'button "Stop The Gull"', 'button "Tobias is off stage"'],
    ...['combobox "Tracker"', 'combobox "to"', 'button "Mapping stove off"'],
  ]) {
    expect(names.filter(one => one.includes(name)).join()).toContain(name);
  }
}, 60_000);

it('does each of them by the keyboard, and says what became of it', async () => {
  const steps: [press: () => Promise<unknown>, said: RegExp][] = [
    [() => press('Go storm'), /^Cue storm comes on\.$/],
    [
      async () => {
        // Half a second after the page shows the new cue its buttons act again.
        await button('Back evening').waitFor();
        await sleep(700);
        await press('Back evening');
      },
      /^Cue evening comes on\.$/,
    ],
    [() => press('Stop Ines'), /^Ines stopped\.$/],
    [
      async () => {
        await press('Resume Ines…');
        await page.getByRole('dialog', { name: 'Resume Ines?' }).waitFor();
        await page.keyboard.press('Tab');
        await page.keyboard.press('Enter');
      },
      /^Ines resumed\.$/,
    ],
    [() => press('Tobias is off stage'), /^Tobias counts as off stage/],
    [() => press('Tobias is on stage'), /^Tobias counts as on stage\.$/],
    [
      async () => {
        // Nothing is chosen before somebody does, and a silent one is asked about.
        expect(await page.getByRole('button', { name: 'Give', exact: true }).isDisabled()).toBe(
          true,
        );
        await page.getByRole('combobox', { name: 'Tracker' }).focus();
        await page.keyboard.type('7');
        await page.getByRole('combobox', { name: 'to', exact: true }).focus();
        await page.keyboard.type('The Gull');
        await press('Give…');
        await page.getByRole('dialog', { name: 'Give tracker 7 to The Gull?' }).waitFor();
        await page.keyboard.press('Tab');
        await page.keyboard.press('Enter');
      },
      /^Tracker 7 given to The Gull/,
    ],
    [() => press('Mapping stove off'), /^Mapping stove goes off\.$/],
    [() => press('Mapping stove on'), /^Mapping stove acts again\.$/],
    [() => press('Stop'), /^Everybody stopped\.$/],
    [
      async () => {
        await press('Resume…');
        await page.keyboard.press('Tab');
        await page.keyboard.press('Enter');
      },
      /^Everybody resumed\.$/,
    ],
  ];
  for (const [act, text] of steps) {
    await act();
    await expect.poll(said, { timeout: 5000 }).toMatch(text);
  }
}, 60_000);

it('does nothing late for whoever pressed while the panel stood still, but a stop', async () => {
  await page.locator('.page:not(.old)').waitFor({ timeout: 15_000 });
  const cues = logged('cue').length;
  const stops = logged('stopped').length;
  const pid = panelPid(daemon.pid);
  process.kill(pid, 'SIGSTOP');
  await press('Go storm');
  await expect.poll(said, { timeout: 12_000 }).toMatch(/^Go: the panel did not answer/);
  await press('Stop');
  process.kill(pid, 'SIGCONT');
  await until('the stop is carried out', () => logged('stopped').length > stops);
  await page.locator('.page:not(.old)').waitFor({ timeout: 20_000 });
  await sleep(1000);
  expect(logged('cue').length).toBe(cues);
  await press('Resume…');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await expect.poll(said).toMatch(/^Everybody resumed\.$/);
}, 60_000);

it('sends a Stop that was pressed while the network was away until it is done, and undoes no later Resume by it', async () => {
  await page.locator('.page:not(.old)').waitFor({ timeout: 15_000 });
  const stops = logged('stopped').length;
  wire.cut();
  await press('Stop');
  await expect
    .poll(said, { timeout: 5000 })
    .toBe('Stop is being sent: not done yet. Act at the desk.');
  await sleep(3000);
  expect(logged('stopped').length).toBe(stops);
  wire.mend();
  await until('the stop is carried out', () => logged('stopped').length > stops);
  await expect.poll(said, { timeout: 10_000 }).toMatch(/^Everybody (stopped|is already stopped)\./);
  await page.getByRole('heading', { name: 'Everybody is stopped' }).waitFor({ timeout: 15_000 });
  await sleep(700);
  await press('Resume…');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await expect.poll(said, { timeout: 5000 }).toMatch(/^Everybody resumed\./);
  // Somebody else stops and resumes meanwhile.
  wire.cut();
  await press('Stop');
  await sleep(2500);
  await lampwright(['tell', folder, 'stop', 'everybody']);
  await lampwright(['tell', folder, 'resume', 'everybody']);
  await until('they are resumed', () => logged('resumed').length > 0);
  const stopped = logged('stopped').length;
  wire.mend();
  await expect
    .poll(said, { timeout: 10_000 })
    .toMatch(/^Nothing was stopped: somebody was resumed/);
  await sleep(1500);
  expect(logged('stopped').length).toBe(stopped);
}, 90_000);

it('takes one step for two presses at once, on one page and on two', async () => {
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  const other = await context.newPage();
  await other.goto(`http://127.0.0.1:${WIRE_PORT}/#token=${token}`);
  await other.getByRole('button', { name: 'Go storm' }).waitFor({ timeout: 20_000 });
  await sleep(1000);
  const both = [page, other].map(one => one.getByRole('button', { name: 'Go storm' }));
  await Promise.all(both.map(one => one.dispatchEvent('click')));
  await button('Back evening').waitFor();
  await sleep(1000);
  expect(logged('cue').at(-1)).toMatchObject({ cue: 'storm' });
  await button('Back evening').evaluate((one: HTMLElement) => {
    one.click();
    one.click();
  });
  await button('Go storm').waitFor();
  expect(logged('cue').at(-1)).toMatchObject({ cue: 'evening' });
  await context.close();
}, 60_000);

const HOLD = 'Hold atmospheric: haze';

async function within(ms: number, holds: () => boolean | Promise<boolean>): Promise<boolean> {
  for (const fromMs = performance.now(); performance.now() < fromMs + ms; await sleep(10)) {
    if (await holds()) return true;
  }
  return false;
}

async function pressAndHold(on: Page): Promise<void> {
  await on.locator('.page:not(.old)').waitFor({ timeout: 15_000 });
  await focusOn(on.getByRole('button', { name: HOLD, exact: true }));
  await on.keyboard.down(' ');
}

/**
 * With one hand or two, until it acts. On a machine that is late a press is refused, as it should be (it came too
 * late, or the light is at its safe look); whoever means it lets go and presses again.
 */
async function hold(other?: Page): Promise<void> {
  for (let presses = 1; presses <= 5; presses++) {
    await pressAndHold(page);
    const isLit = await within(3000, () => (sacn.last[HAZE] ?? 0) > 0);
    if (isLit && other === undefined) return;
    if (isLit && other !== undefined) {
      await pressAndHold(other);
      if (await within(3000, async () => (await page.getByText(BOTH_HANDS).count()) > 0)) return;
      await other.keyboard.up(' ');
    }
    await page.keyboard.up(' ');
    await until('nobody holds it', () => gate() === 'off');
    await sleep(500);
  }
  throw new Error('held five times, and it never acted');
}

/**
 * Where the daemon stood still because the machine gave it no time, the light goes to its safe look and enables go
 * off, as they should: what was to be seen is tried again then, and only then.
 */
async function whileLive(act: () => Promise<void>): Promise<void> {
  for (let tries = 1; ; tries++) {
    await until('the engine has the light', () => logged('lights').at(-1)?.to === 'live', 30);
    const before = logged('lights').length;
    try {
      return await act();
    } catch (error) {
      if (tries === 3 || logged('lights').length === before) throw error;
      wire.mend();
      process.kill(panelPid(daemon.pid), 'SIGCONT');
      await page.unrouteAll();
      await page.keyboard.up(' ');
    }
  }
}

/** From then to the last packet with haze, seconds. */
async function darkAfterS(fromS: number): Promise<number> {
  await until('no haze leaves', () => sacn.last[HAZE] === 0);
  const lastLit = sacn.packets.findLast(({ slots }) => slots[HAZE] !== 0);
  await until('it is logged', () => gate() === 'off');
  return (lastLit?.atS ?? Number.NaN) - fromS;
}

it(
  'lets an enable go when the network is cut, says so, and what comes late enables nothing',
  () =>
    whileLive(async () => {
      await hold();
      const fromS = nowS();
      wire.cut();
      expect(await darkAfterS(fromS)).toBeLessThan(ENABLE_TIMEOUT_S + SLACK_S);
      expect(logged('enable').at(-1)).toMatchObject({ reason: 'hand-gone' });
      await expect.poll(said).toMatch(/atmospheric is no longer held/);
      // The key is down all the while. What the browser had sent is still on its way.
      const enables = logged('enable').length;
      await sleep(1500);
      wire.mend();
      await page.locator('.page:not(.old)').waitFor({ timeout: 20_000 });
      await sleep(1000);
      expect(logged('enable').length).toBe(enables);
      expect(sacn.last[HAZE]).toBe(0);
      await page.keyboard.up(' ');
    }),
  180_000,
);

it(
  'enables nothing by a hold that comes after its release, and holds again when pressed again',
  () =>
    whileLive(async () => {
      await hold();
      let late = 0;
      await page.route('**/api/act', async route => {
        if (route.request().postData()?.includes('"hold"') === true) {
          late += 1;
          await sleep(500);
        }
        await route.continue().catch(() => undefined);
      });
      await until('a hold is held up', () => late > 0);
      await page.keyboard.up(' ');
      await until('it is released', () => gate() === 'off');
      const enables = logged('enable').length;
      await sleep(1500);
      expect(logged('enable').length).toBe(enables);
      expect(sacn.last[HAZE]).toBe(0);
      const metrics = await (await fetch('http://127.0.0.1:7240/metrics')).text();
      expect(metrics).toMatch(/refused_total\{reason="overtaken"\} [1-9]/);
      await page.unroute('**/api/act');
      await hold();
      await page.keyboard.up(' ');
      await until('no haze leaves', () => sacn.last[HAZE] === 0);
    }),
  180_000,
);

it(
  'lets it go when the panel stands still, and what it had not read enables nothing',
  () =>
    whileLive(async () => {
      await hold();
      const pid = panelPid(daemon.pid);
      const fromS = nowS();
      process.kill(pid, 'SIGSTOP');
      expect(await darkAfterS(fromS)).toBeLessThan(ENABLE_TIMEOUT_S + SLACK_S);
      const enables = logged('enable').length;
      await sleep(2000);
      process.kill(pid, 'SIGCONT');
      await page.locator('.page:not(.old)').waitFor({ timeout: 20_000 });
      await sleep(1000);
      expect(logged('enable').length).toBe(enables);
      await page.keyboard.up(' ');
    }),
  180_000,
);

it(
  'takes two pages behind one address for two hands',
  () =>
    whileLive(async () => {
      const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
      const other = await context.newPage();
      await other.goto(`http://127.0.0.1:${WIRE_PORT}/#token=${token}`);
      // What the tests before have left makes another headline.
      await other.locator('.page:not(.old)').waitFor({ timeout: 20_000 });
      await hold(other);
      // Who lets go wants it off, and the other one's hand does not bring it on again.
      const enables = logged('enable').length;
      await other.keyboard.up(' ');
      await until('no haze leaves', () => sacn.last[HAZE] === 0);
      await sleep(1500);
      expect(sacn.last[HAZE]).toBe(0);
      // The hold of the one that goes on is refused then, and its button lets go.
      const [first, ...later] = logged('enable').slice(enables);
      expect(first).toMatchObject({ gate: 'latched-off', wasOn: true, reason: 'released' });
      expect(later.map(one => one.gate)).not.toContain('on');
      await page.keyboard.up(' ');
      await until('both have let go', () => gate() === 'off');
      // One that dies has let go, within the show's time.
      await hold(other);
      const fromS = nowS();
      const before = logged('enable').length;
      await context.close();
      await until('no haze leaves', () => sacn.last[HAZE] === 0);
      const lastLit = sacn.packets.findLast(({ slots }) => slots[HAZE] !== 0);
      expect((lastLit?.atS ?? Number.NaN) - fromS).toBeLessThan(ENABLE_TIMEOUT_S + SLACK_S);
      await until('it is logged', () => logged('enable').length > before);
      // A page that is closed says so if it still can.
      const reason = expect.stringMatching(/^(released|hand-gone)$/);
      expect(logged('enable')[before]).toMatchObject({ gate: 'latched-off', reason });
      await page.keyboard.up(' ');
      await until('both have let go', () => gate() === 'off');
    }),
  180_000,
);

it('shows an enable that is refused as refused, and says why', async () => {
  await page.locator('.page:not(.old)').waitFor({ timeout: 15_000 });
  await press('Stop');
  await page.getByRole('heading', { name: 'Everybody is stopped' }).waitFor({ timeout: 15_000 });
  await focusOn(button(HOLD));
  await page.keyboard.down(' ');
  await page.locator('.said.refused').waitFor({ timeout: 5000 });
  expect(await page.locator('.hold.held').count()).toBe(0);
  expect(sacn.last[HAZE]).toBe(0);
  await page.keyboard.up(' ');
  await press('Resume…');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await expect.poll(said, { timeout: 5000 }).toMatch(/^Everybody resumed\./);
}, 60_000);

it('says within seconds that its token no longer counts, on the show machine too', async () => {
  const { stdout } = await lampwright(['panel', folder, '--json', '--new-token']);
  await page.locator('.stop.locked').waitFor({ timeout: 6000 });
  await page
    .getByText(/^The token was changed, so this device can only watch\./)
    .first()
    .waitFor();
  // The hash is that of the page already; without it the page keeps what it has.
  await page.goto('about:blank');
  await page.goto(`http://127.0.0.1:${WIRE_PORT}/#token=${JSON.parse(stdout).token}`);
  await page.locator('.stop:not(.locked)').waitFor({ timeout: 20_000 });
}, 60_000);

it('lets it go when the browser is killed', async () => {
  await hold();
  const fromS = nowS();
  void server.kill();
  expect(await darkAfterS(fromS)).toBeLessThan(ENABLE_TIMEOUT_S + SLACK_S);
  // The panel releases it as the connection ends; where that comes late, the time is over first.
  const reason = expect.stringMatching(/^(released|hand-gone)$/);
  expect(logged('enable').at(-1)).toMatchObject({ gate: 'off', reason });
}, 60_000);
