import type { IncomingMessage } from 'node:http';
import type { Socket } from 'node:net';
import { type Context, Hono } from 'hono';
import { bodyLimit } from 'hono/body-limit';
import { secureHeaders } from 'hono/secure-headers';
import type { LiveLine } from '../../live/schema.js';
import type { Refusal } from '../../live/turned-away.js';
import { ANY_TIME, MOST_BODY_BYTES, readAct, readStreamQuery } from './act-schema.js';
import type { Doors, Knock, Verdict } from './doors.js';
import type { Metrics } from './metrics.js';
import { openApi } from './openapi.js';
import type { PageFiles } from './page-files.js';
import type { Record as Kept } from './record.js';
import type { Releases } from './releases.js';
import type { Streams } from './streams.js';

/** A picture older than this is no sign of health, seconds: without anybody who looks one comes each second. */
const HEALTHY_S = 3;
const DOOR = '/api/door';
const STREAM = '/api/stream';
/** Whoever holds an enable has to see the stage: a snapshot of a second ago is what they see, seconds. */
const HOLD_WITHIN_S = 1;
/** Whoever goes to a cue, or resumes, does it by what they see; what is carried out later would surprise: seconds. */
const ACT_WITHIN_S = 3;
/** So much earlier than it was a press may seem, as pictures take time to the page, seconds. */
const UNSURE_S = 1;
/** What a path takes; HEAD is answered as GET. */
const METHODS = new Map([
  ['/healthz', 'GET'],
  ['/metrics', 'GET'],
  ['/api/openapi.json', 'GET'],
  [DOOR, 'GET'],
  ['/api/snapshot', 'GET'],
  ['/api/history', 'GET'],
  [STREAM, 'GET'],
  ['/api/act', 'POST'],
]);

export interface ActAnswer {
  readonly outcome: string;
  readonly ok: boolean;
  readonly text: string;
}

export interface PanelParts {
  readonly doors: Doors;
  readonly record: Kept;
  readonly streams: Streams;
  readonly releases: Releases;
  readonly metrics: Metrics;
  readonly files: PageFiles;
  /** Has the daemon do it. */
  act(order: PanelOrder): Promise<ActAnswer>;
}

export interface PanelOrder {
  readonly words: readonly string[];
  /** Who asks, in words. */
  readonly by: string;
  /** Which page, as several may have one address; undefined: it does not say. */
  readonly hand: string | undefined;
  /** It is not done later; undefined: however late. */
  readonly withinS: number | undefined;
}

interface Bindings {
  readonly incoming: IncomingMessage;
}
type Asked = Context<{ Bindings: Bindings }>;

/** The panel as it answers requests. */
export function panelApp(parts: PanelParts): Hono<{ Bindings: Bindings }> {
  const { doors, record, streams, releases, metrics, files } = parts;
  const app = new Hono<{ Bindings: Bindings }>();
  /** When a stop came last, of whomever, monotonic seconds. */
  let stoppedS = Number.NEGATIVE_INFINITY;
  /** For a page that is closed, and so says nothing. Where it fails, the output goes off as its enable is not repeated. */
  const release = (hazard: string, page: string, by: string) => {
    releases.note(page, hazard);
    const words = ['release', hazard];
    parts.act({ words, by, hand: page, withinS: undefined }).catch(() => undefined);
  };
  streams.onLeft = (page, from) => {
    releases.note(page);
    for (const hazard of releases.heldBy(page, record.stage?.enableTimeoutS)) {
      release(hazard, page, panelAt(from));
    }
  };
  const refuse = (c: Asked, { status, refusal, text }: Verdict) => {
    metrics.refused(refusal, fromOf(c));
    if (status === 401) c.header('www-authenticate', 'Bearer');
    return c.json({ ok: false, text }, status);
  };
  const turnedAway = (c: Asked, status: 404 | 405 | 413 | 503, reason: Refusal, text: string) => {
    metrics.refused(reason, fromOf(c));
    return c.json({ ok: false, text }, status);
  };

  const notUnderstood = (c: Asked, faults: readonly string[]) => {
    metrics.refused('not understood', fromOf(c));
    const text = `Nothing was done: ${faults.join('; ')}.`;
    return c.json({ ok: false, outcome: 'refused', text, faults }, 400);
  };

  app.use(
    secureHeaders({
      contentSecurityPolicy: {
        defaultSrc: ["'none'"],
        scriptSrc: ["'self'"],
        styleSrc: ["'self'"],
        connectSrc: ["'self'"],
        imgSrc: ["'self'"],
        manifestSrc: ["'self'"],
        baseUri: ["'none'"],
        formAction: ["'none'"],
        frameAncestors: ["'none'"],
        requireTrustedTypesFor: ["'script'"],
      },
      crossOriginResourcePolicy: 'same-origin',
      referrerPolicy: 'no-referrer',
      xFrameOptions: 'DENY',
      // By plain HTTP it would be ignored, and behind a proxy it is the proxy's to say.
      strictTransportSecurity: false,
    }),
  );
  // Whatever is asked for, a stranger's page gets nothing.
  app.use(async (c, next) => {
    const knock = knockOf(c);
    const isData =
      c.req.path.startsWith('/api/') || c.req.path === '/metrics' || c.req.path === '/healthz';
    const isOpen = !isData || c.req.path === DOOR;
    const verdict =
      c.req.method === 'POST' ? doors.act(knock) : isOpen ? doors.page(knock) : doors.look(knock);
    if (verdict !== undefined) return refuse(c, verdict);
    // Hono answers HEAD by the route of GET, and a stream that nobody reads would keep its place.
    if (c.req.method === 'HEAD' && c.req.path === STREAM) {
      c.header('allow', 'GET');
      return turnedAway(c, 405, 'method', 'a stream is read with GET');
    }
    if (isData) c.header('cache-control', 'no-store');
    return next();
  });

  app.get('/healthz', c => {
    const ok = record.ageS < HEALTHY_S;
    const { fault } = record;
    return c.json({ ok, ageS: finite(record.ageS), ...(fault && { fault }) }, ok ? 200 : 503);
  });
  app.get('/metrics', async c => {
    c.header('content-type', metrics.contentType);
    return c.body(await metrics.text());
  });
  app.get('/api/openapi.json', c => c.json(openApi() as object));
  app.get(DOOR, c => {
    const { mayLook, mayAct, fault } = doors.entry(knockOf(c));
    if (fault !== undefined) metrics.refused(fault.refusal, fromOf(c));
    return c.json({
      ...{ mayLook, mayAct, ...(fault && { text: fault.text }) },
      // The first snapshot of a stream is as old as this.
      ...(mayLook && { ageS: finite(record.ageS) }),
      ...(mayLook && record.fault !== undefined && { daemon: 'The daemon does not answer.' }),
    });
  });
  app.get('/api/snapshot', c => {
    const { stage, snapshot, universes, events } = record;
    if (stage === undefined || snapshot === undefined) {
      return c.json({ ok: false, text: record.fault ?? 'nothing has come yet' }, 503);
    }
    return c.json({ stage, snapshot: { ...snapshot, ...(universes && { universes }) }, events });
  });
  app.get('/api/history', c => c.json({ moments: record.moments }));
  app.get(STREAM, c => {
    const from = c.env.incoming.socket.remoteAddress ?? '';
    const asked = readStreamQuery(c.req.query());
    if (!('rateHz' in asked)) return notUnderstood(c, asked);
    const { rateHz, page } = asked;
    if (!streams.hasRoomFor(from, page)) {
      return turnedAway(c, 503, 'too many streams', 'too many viewers are connected already');
    }
    c.header('content-type', 'text/event-stream');
    c.header('x-accel-buffering', 'no');
    const knock = knockOf(c);
    // On the show machine it takes none; but whoever has one has to hear that it no longer counts.
    const byToken = doors.needsToken(knock) || knock.authorization !== undefined;
    return c.body(streams.add({ from, rateHz, byToken, page }, firstOf(record)));
  });
  app.post(
    '/api/act',
    bodyLimit({
      maxSize: MOST_BODY_BYTES,
      onError: c => turnedAway(c as Asked, 413, 'too large', `at most ${MOST_BODY_BYTES} bytes`),
    }),
    async c => {
      const asked = readAct(await c.req.json().catch(() => undefined));
      if (!('words' in asked)) return notUnderstood(c, asked);
      const { words, seen, page, pressedAtS } = asked;
      const seenForS = record.ageOf(seen ?? Number.NaN);
      const withinS = withinSOf(words[0], seenForS);
      if (withinS !== undefined && withinS <= 0) {
        metrics.refused('too late', fromOf(c));
        const text = words[0] === 'hold' ? LATE_HOLD : LATE_ACT;
        return c.json({ ok: false, outcome: 'refused', text }, 409);
      }
      const from = c.env.incoming.socket.remoteAddress ?? '';
      // Networks deliver what was pressed earlier later: what brings light is not done after what took it away.
      const hand = page ?? from;
      const isStop = words[0] === 'stop';
      const newest = record.snapshot?.sequence;
      if (isStop && pressedAtS !== undefined && record.wasResumedAfter(pressedAtS + UNSURE_S)) {
        metrics.refused('overtaken', fromOf(c));
        return c.json({ ok: false, outcome: 'overtaken', text: OVERTAKEN_STOP }, 409);
      }
      if (isStop) stoppedS = record.nowS();
      if (words[0] === 'resume' && seen !== undefined && record.nowS() - seenForS <= stoppedS) {
        metrics.refused('overtaken', fromOf(c));
        return c.json({ ok: false, outcome: 'overtaken', text: OVERTAKEN_RESUME }, 409);
      }
      if (words[0] === 'release') releases.note(hand, words[1] ?? '');
      const isHold = words[0] === 'hold';
      if (isHold && releases.hasLetGo(hand, words[1] ?? '', seenForS)) {
        metrics.refused('overtaken', fromOf(c));
        return c.json({ ok: false, outcome: 'overtaken', text: OVERTAKEN_HOLD }, 409);
      }
      if (isHold) releases.hold(hand, words[1] ?? '');
      const sentS = record.nowS();
      const by = panelAt(from);
      const answer = await parts.act({ words, by, hand: page, withinS });
      // The release may have overtaken it on the way to the daemon.
      if (isHold && releases.hasLeft(hand, sentS)) release(words[1] ?? '', hand, by);
      const told = isStop && newest !== undefined ? { ...answer, newest } : answer;
      return c.json(told, answer.ok ? 200 : 409);
    },
  );
  for (const [path, allowed] of METHODS) {
    app.all(path, c => {
      c.header('allow', allowed);
      return turnedAway(c, 405, 'method', `this takes ${allowed}`);
    });
  }
  app.get('*', c => {
    const file = files.find(c.req.path);
    if (file === undefined) return turnedAway(c, 404, 'not found', 'there is nothing here');
    const isZipped = /\bgzip\b/.test(c.req.header('accept-encoding') ?? '');
    c.header('content-type', file.type);
    c.header('vary', 'accept-encoding');
    c.header('cache-control', file.lasts ? 'max-age=31536000, immutable' : 'no-cache');
    if (isZipped) c.header('content-encoding', 'gzip');
    return c.body(isZipped ? file.zipped : file.bytes);
  });
  app.notFound(c => turnedAway(c, 404, 'not found', 'there is nothing here'));
  app.onError((_, c) => c.json({ ok: false, text: 'the panel could not answer that' }, 500));
  return app;
}

const LATE_HOLD =
  'The enable came more than a second late, so it is not held. Release, and press again.';
const OVERTAKEN_RESUME =
  'Nothing was resumed: a Stop came after you pressed. Look at who is stopped, and press again.';
const OVERTAKEN_STOP =
  'Nothing was stopped: somebody was resumed after you pressed Stop. If it is still needed, press it again.';
const OVERTAKEN_HOLD =
  'The enable was released after this snapshot, so it is not held. Hold it with a newer snapshot.';

const LATE_ACT =
  'Nothing was done: it came more than 3 s late. Look at what is on now, and press again.';

/** What makes light safe is done however late it comes. */
function withinSOf(act: string, seenForS: number): number | undefined {
  if (ANY_TIME.has(act)) return undefined;
  return (act === 'hold' ? HOLD_WITHIN_S : ACT_WITHIN_S) - seenForS;
}

/** An address of IPv4 as people write it. */
const panelAt = (from: string) => `panel at ${from.replace(/^::ffff:/, '')}`;

const fromOf = (c: Asked) => c.env.incoming.socket.remoteAddress;

function knockOf(c: Asked): Knock {
  const { socket } = c.env.incoming as { readonly socket: Socket };
  return {
    method: c.req.method,
    from: socket.remoteAddress ?? '',
    at: socket.localAddress ?? '',
    host: c.req.header('host'),
    origin: c.req.header('origin'),
    site: c.req.header('sec-fetch-site'),
    isForwarded:
      c.req.header('forwarded') !== undefined ||
      c.req.header('x-forwarded-for') !== undefined ||
      c.req.header('via') !== undefined,
    authorization: c.req.header('authorization'),
  };
}

function firstOf({ stage, snapshot, universes, events }: Kept): LiveLine[] {
  const now = snapshot === undefined ? [] : [{ ...snapshot, ...(universes && { universes }) }];
  return [...(stage === undefined ? [] : [stage]), ...events, ...now];
}

function finite(value: number): number | null {
  return Number.isFinite(value) ? Math.round(value * 100) / 100 : null;
}
