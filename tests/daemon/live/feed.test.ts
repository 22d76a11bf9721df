import { readFileSync } from 'node:fs';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { LiveFeed, type LiveSource } from '../../../src/daemon/live/feed.js';
import { LineSchema, type LiveLine } from '../../../src/live/schema.js';
import type { Show } from '../../../src/show/model/model.js';
import { seen, snapshotOf } from '../../panel/support.js';
import { showOf } from '../../show/show-of.js';

const SHOW = showOf(readFileSync('config/minimal.show.yaml', 'utf8'));
const ENGINE = JSON.stringify(seen(SHOW));

let nowS: number;
let asked: number[];
let show: Show;
let feed: LiveFeed;

beforeEach(() => {
  vi.useFakeTimers();
  nowS = 100;
  asked = [];
  show = SHOW;
  const levels = new Uint8Array(SHOW.universes.length * 512).fill(7);
  const source: LiveSource = {
    get show() {
      return show;
    },
    get status() {
      return snapshotOf(show).status as unknown as LiveSource['status'];
    },
    levels,
    look: rateHz => asked.push(rateHz),
  };
  feed = new LiveFeed(
    () => source,
    () => nowS,
  );
});
afterEach(() => {
  feed.close();
  vi.useRealTimers();
});

function looker(rateHz: number) {
  const lines: LiveLine[] = [];
  return {
    rateHz,
    lines,
    write: (line: string) => void lines.push(LineSchema.parse(JSON.parse(line))),
  };
}

/** The engine sends ten a second, for so long. */
function run(seconds: number): void {
  for (let i = 0; i < seconds * 10; i++) {
    nowS += 0.1;
    vi.advanceTimersByTime(100);
    feed.take(ENGINE);
  }
}

const count = (lines: readonly LiveLine[], kind: LiveLine['kind']) =>
  lines.filter(line => line.kind === kind).length;

describe('the snapshot stream', () => {
  it('asks the engine for as many as the fastest wants, and for none when nobody looks', () => {
    const [fast, slow] = [looker(10), looker(1)];
    feed.add(slow);
    feed.add(fast);
    feed.remove(fast);
    feed.remove(slow);
    expect(asked).toEqual([1, 10, 1, 0]);
  });

  it('begins with the stage, and gives each the rate that they asked for', () => {
    const [fast, slow] = [looker(10), looker(1)];
    feed.add(fast);
    feed.add(slow);
    run(5);
    expect(fast.lines[0]?.kind).toBe('stage');
    expect(count(fast.lines, 'snapshot')).toBe(51);
    expect(count(slow.lines, 'snapshot')).toBeGreaterThanOrEqual(5);
    expect(count(slow.lines, 'snapshot')).toBeLessThanOrEqual(6);
    const withLevels = fast.lines.filter(line => line.kind === 'snapshot' && line.universes);
    expect(withLevels.length).toBeGreaterThanOrEqual(10);
    expect(withLevels.length).toBeLessThanOrEqual(11);
  });

  it('takes another rate without a beginning anew', () => {
    const one = looker(1);
    feed.add(one);
    run(2);
    const before = one.lines.length;
    feed.turn(one, 10);
    expect(asked).toEqual([1, 10]);
    run(1);
    expect(count(one.lines.slice(before), 'snapshot')).toBeGreaterThanOrEqual(9);
    expect(count(one.lines, 'stage')).toBe(1);
  });

  it('sends the stage again when another show runs', () => {
    const one = looker(10);
    feed.add(one);
    run(1);
    show = { ...SHOW, name: 'Another' };
    run(1);
    const stages = one.lines.filter(line => line.kind === 'stage');
    expect(stages.map(line => line.revision)).toEqual([1, 2]);
    expect(one.lines.at(-1)).toMatchObject({ kind: 'snapshot', revision: 2 });
  });

  it('goes on without an engine, and says so', () => {
    const one = looker(10);
    feed.add(one);
    run(1);
    for (let i = 0; i < 40; i++) {
      nowS += 0.1;
      vi.advanceTimersByTime(100);
    }
    expect(one.lines.at(-1)).toMatchObject({ kind: 'snapshot', engine: null });
    // Whoever fades, what leaves is told.
    expect(one.lines.at(-1)).toHaveProperty('sent', [expect.closeTo((100 * 7) / 255, 2)]);
  });

  it('has what happened in the last ten minutes, and no debugging', () => {
    const atS = Date.now() / 1e3;
    const data = { kind: 'feed' };
    feed.note({ level: 'info', text: 'long ago', data }, atS - 700);
    feed.note({ level: 'error', text: 'a minute ago', data }, atS - 60);
    feed.note({ level: 'debug', text: 'for a search', data }, atS);
    const one = looker(10);
    feed.add(one);
    feed.note({ level: 'warn', text: 'now', data }, atS);
    const told = one.lines.flatMap(line => (line.kind === 'event' ? [line.text] : []));
    expect(told).toEqual(['a minute ago', 'now']);
  });
});
