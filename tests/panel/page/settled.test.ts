import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { Settled } from '../../../src/panel/page/settled.js';

const root = { scrollHeight: 2000, clientHeight: 800 };

beforeEach(() => {
  root.scrollHeight = 2000;
  vi.stubGlobal('document', { documentElement: root });
  scroll(0);
});
afterEach(() => void vi.unstubAllGlobals());

function scroll(y: number): void {
  vi.stubGlobal('scrollX', 0);
  vi.stubGlobal('scrollY', y);
}

/** A button at this place of the page. */
function button(top: number) {
  const place = { top, width: 100 };
  const box = () => ({ left: 10, top: place.top - scrollY, width: place.width });
  return { place, element: { getBoundingClientRect: box } as unknown as Element };
}

it('takes no press of what has moved within half a second', () => {
  const settled = new Settled();
  const [go, stop] = [button(300), button(900)];
  const look = (nowMs: number) => settled.look([go.element, stop.element], nowMs);
  look(1000);
  expect(settled.isSettled(go.element, 1001)).toBe(true);
  go.place.top = 350;
  look(2000);
  look(2200);
  expect([2499, 2501].map(ms => settled.isSettled(go.element, ms))).toEqual([false, true]);
  expect(settled.isSettled(stop.element, 2100)).toBe(true);
});

it('does not take a scroll for it, nor a view that is shown, but a page that is pulled down as it gets shorter', () => {
  const settled = new Settled();
  const go = button(300);
  const look = (nowMs: number) => settled.look([go.element], nowMs);
  look(0);
  scroll(200);
  look(1000);
  expect(settled.isSettled(go.element, 1001)).toBe(true);
  go.place.width = 0;
  look(2000);
  go.place.width = 100;
  go.place.top = 600;
  look(3000);
  expect(settled.isSettled(go.element, 3001)).toBe(true);
  scroll(1200);
  look(4000);
  root.scrollHeight = 1900;
  scroll(1100);
  look(5000);
  expect(settled.isSettled(go.element, 5001)).toBe(false);
});

it('does not take it for pulled where a hand scrolls up as the page gets shorter', () => {
  const settled = new Settled();
  const go = button(300);
  scroll(1200);
  settled.look([go.element], 0);
  root.scrollHeight = 1900;
  scroll(200);
  settled.look([go.element], 1000);
  expect(settled.isSettled(go.element, 1001)).toBe(true);
});

it('goes by the region that they scroll in, whatever the page does', () => {
  const settled = new Settled();
  const region = { scrollHeight: 900, clientHeight: 600, scrollLeft: 0, scrollTop: 0 };
  const place = { top: 300 };
  const go = {
    getBoundingClientRect: () => ({ left: 10, top: place.top - region.scrollTop, width: 100 }),
  } as unknown as Element;
  const look = (nowMs: number) => settled.look([go], nowMs, region as Element);
  look(0);
  scroll(500);
  region.scrollTop = 100;
  look(1000);
  expect(settled.isSettled(go, 1001)).toBe(true);
  place.top = 340;
  look(2000);
  expect(settled.isSettled(go, 2001)).toBe(false);
});
