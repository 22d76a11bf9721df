import { type PanelOrder, panelApp } from '../../../src/panel/server/app.js';
import { Doors } from '../../../src/panel/server/doors.js';
import { Metrics } from '../../../src/panel/server/metrics.js';
import type { PageFiles } from '../../../src/panel/server/page-files.js';
import { Record } from '../../../src/panel/server/record.js';
import { Releases } from '../../../src/panel/server/releases.js';
import { Streams } from '../../../src/panel/server/streams.js';

export const TOKEN = 'the-right-token';

/** The panel without sockets, at a time that a test sets; what is acted is told, and done. */
export function panel() {
  const clock = { nowS: 0 };
  const now = () => clock.nowS;
  const record = new Record(now);
  const releases = new Releases(now);
  const streams = new Streams(now, () => undefined);
  const doors = new Doors(TOKEN, [], now);
  const metrics = new Metrics(record, streams);
  const files: Pick<PageFiles, 'find'> = { find: () => undefined };
  const acts: [act: string | undefined, withinS: number | undefined][] = [];
  const hands: (string | undefined)[] = [];
  /** What a test does before the daemon answers. */
  const daemon: { answers?: () => Promise<unknown> } = {};
  const act = async ({ words, hand, withinS }: PanelOrder) => {
    acts.push([words[0], withinS]);
    hands.push(hand);
    await daemon.answers?.();
    return { outcome: 'done', ok: true, text: 'Done.' };
  };
  const app = panelApp({
    record,
    streams,
    releases,
    doors,
    metrics,
    files: files as PageFiles,
    act,
  });
  const ask = (path: string, init: RequestInit = {}, from = '127.0.0.1') =>
    app.request(
      path,
      { ...init, headers: { host: '127.0.0.1:7240', ...init.headers } },
      { incoming: { socket: { remoteAddress: from, localAddress: '127.0.0.1' } } },
    );
  const post = (body: object) =>
    ask('/api/act', { method: 'POST', body: JSON.stringify(body), ...by(TOKEN) });
  return { app, ask, act: post, acts, hands, daemon, streams, metrics, record, clock };
}

export const by = (token: string) => ({ headers: { authorization: `Bearer ${token}` } });
