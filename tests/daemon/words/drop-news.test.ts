import { beforeEach, expect, it } from 'vitest';
import type { EngineCounters } from '../../../src/daemon/engine/engine-link.js';
import type { Entry } from '../../../src/daemon/log/log-entry.js';
import { DropNews } from '../../../src/daemon/words/drop-news.js';
import { Rig } from '../../engine/harness.js';
import { HOUSE } from '../../engine/shows.js';

const { counters: NONE } = new Rig(HOUSE).view;
const counters = (datagrams: number, dropped: number): EngineCounters => ({
  ...NONE,
  ...{ datagrams, lateTicks: 0, framesSkipped: 0, messagesDropped: 0, heapUsed: 0, rss: 0 },
  drops: { ...NONE.drops, 'unknown-tracker': dropped },
});

let told: Entry[];
let news: DropNews;
const counts = () => told.map(({ data }) => (data as { drops: unknown }).drops);

beforeEach(() => {
  told = [];
  news = new DropNews(entry => told.push(entry));
});

it('tells what was dropped since it last told', () => {
  news.tell();
  news.hear(counters(10, 3));
  news.tell();
  news.tell();
  news.hear(counters(20, 5));
  news.tell();
  expect(counts()).toEqual([{ 'unknown-tracker': 3 }, { 'unknown-tracker': 2 }]);
});

it('loses nothing of an engine that is started anew: what that had counted is told before its next one counts', () => {
  news.hear(counters(100, 3));
  news.tell();
  news.hear(counters(200, 7));
  news.hear(counters(5, 0));
  expect(counts()).toEqual([{ 'unknown-tracker': 3 }, { 'unknown-tracker': 4 }]);
  news.hear(counters(9, 2));
  news.tell();
  expect(counts().at(-1)).toEqual({ 'unknown-tracker': 2 });
  expect(told).toHaveLength(3);
});
