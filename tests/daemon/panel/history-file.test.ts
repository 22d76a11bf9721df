import {
  appendFileSync,
  existsSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it, onTestFinished } from 'vitest';
import { HistoryFile } from '../../../src/daemon/panel/history-file.js';
import { describeStage } from '../../../src/live/describe-stage.js';
import type { LiveEvent, LiveSnapshot } from '../../../src/live/schema.js';
import { Record } from '../../../src/panel/server/record.js';
import { LANTERN, snapshotOf } from '../../panel/support.js';

const FILE = 'panel-history.jsonl';
const picture = snapshotOf(LANTERN);
const START_S = picture.atS;
const at = (afterS: number): LiveSnapshot => ({ ...picture, atS: START_S + afterS });
const event = (afterS: number, text: string): LiveEvent => {
  return { kind: 'event', atS: START_S + afterS, level: 'info', text, what: 'cue' };
};

/** A panel with its file, in a folder that is gone after the test. */
function panel(folder = mkdtempSync(join(tmpdir(), 'lampwright-history-'))) {
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const file = new HistoryFile(folder);
  const record = new Record(
    () => 0,
    line => file.add(line),
  );
  return {
    folder,
    file,
    record,
    write: (nowS: number) => file.write(() => record.history(), nowS),
  };
}
const begun = (folder: string, afterS: number) => {
  const next = panel(folder);
  next.record.restore(next.file.read(), START_S + afterS);
  return next.record;
};

it('has the strips and what happened of the last ten minutes after a restart', async () => {
  const { folder, record, write } = panel();
  record.take(describeStage(LANTERN, 1));
  for (let second = 0; second < 900; second++) {
    record.take(at(second));
    if (second % 300 === 0) record.take(event(second, `cue ${second}`));
    if (second % 5 === 0) await write(second);
  }
  await write(900);
  const next = begun(folder, 900);
  expect(next.moments).toEqual(record.moments.slice(2));
  expect(next.events.map(({ text }) => text)).toEqual(['cue 600']);
  // The daemon that goes on tells what happened once more.
  expect(next.take(event(600, 'cue 600'))).toBe(false);
  next.take(describeStage(LANTERN, 1));
  expect(next.moments).toHaveLength(599);
  next.take({ ...describeStage(LANTERN, 1), show: 'another' });
  expect(next.moments).toEqual([]);
});

it('is bounded, for its user alone, and reads past what is spoilt', async () => {
  const { folder, record, write } = panel();
  record.take(describeStage(LANTERN, 1));
  for (let second = 0; second < 1900; second++) {
    record.take(at(second));
    if (second % 5 === 0) await write(second);
  }
  await write(1900);
  const path = join(folder, FILE);
  expect(readFileSync(path, 'utf8').split('\n').length).toBeLessThan(1300);
  expect(statSync(path).mode & 0o777).toBe(0o600);
  appendFileSync(path, '{"moment":{"atS":"soon"}}\n[]\nnull\n{"event":{"atS":1}}\n{"mome');
  expect(begun(folder, 1900).moments).toHaveLength(599);
});

it('costs nothing where the folder is gone, and does not make it anew', async () => {
  const { folder, record, write } = panel();
  record.take(describeStage(LANTERN, 1));
  record.take(at(0));
  await write(0);
  renameSync(folder, `${folder}.away`);
  record.take(at(1));
  await write(1);
  expect(existsSync(folder)).toBe(false);
  renameSync(`${folder}.away`, folder);
  await write(2);
  expect(begun(folder, 2).moments).toEqual(record.moments);
});
