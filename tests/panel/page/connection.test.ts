import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { Connection } from '../../../src/panel/page/connection.js';
import { silenceInWords } from '../../../src/panel/page/silence.js';

interface Asked {
  readonly path: string;
  readonly token: string | undefined;
}

let asked: Asked[];
let streams: AbortSignal[];
let acts: ((more?: object) => void)[];
let bodies: unknown[];
let page: EventTarget & { hidden: boolean };
let told: unknown[];
const store = new Map<string, string>();
const FEED = { positionsPerS: 60, droppedPerS: 0 };
const SNAPSHOT = {
  kind: 'snapshot',
  sequence: 41,
  atS: 1,
  status: { performers: [], feed: FEED },
  engine: null,
};

/** A panel that knows one token; acts wait until they are answered. */
function answer(
  path: string,
  { headers = {}, signal, body: said }: RequestInit = {},
): Promise<Response> {
  const { authorization } = headers as { authorization?: string };
  asked.push({ path, token: authorization?.slice('Bearer '.length) });
  if (path === '/api/door') {
    return Promise.resolve(
      Response.json({ mayLook: true, mayAct: authorization === 'Bearer right' }),
    );
  }
  if (path === '/api/history') return Promise.resolve(Response.json({ moments: [] }));
  if (path === '/api/act') {
    bodies.push(JSON.parse(String(said)));
    return new Promise((resolve, reject) => {
      acts.push(more => resolve(Response.json({ ok: true, text: 'Done.', ...more })));
      signal?.addEventListener('abort', reject);
    });
  }
  if (signal) streams.push(signal);
  // A stream gives one snapshot, and then no more.
  const body = new ReadableStream({
    start: reader => {
      reader.enqueue(
        new TextEncoder().encode(`event: snapshot\ndata: ${JSON.stringify(SNAPSHOT)}\n\n`),
      );
      signal?.addEventListener('abort', () => reader.error(new Error('aborted')));
    },
  });
  return Promise.resolve(new Response(body));
}

beforeEach(() => {
  vi.useFakeTimers();
  [asked, streams, acts, bodies, told] = [[], [], [], [], []];
  page = Object.assign(new EventTarget(), { hidden: false });
  vi.stubGlobal('fetch', answer);
  vi.stubGlobal('document', page);
  vi.stubGlobal('location', { hash: '', pathname: '/' });
  vi.stubGlobal('addEventListener', () => undefined);
  vi.stubGlobal('requestAnimationFrame', (draw: () => void) => setTimeout(draw, 16));
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => store.get(key) ?? null,
    setItem: (key: string, value: string) => store.set(key, value),
    removeItem: (key: string) => store.delete(key),
  });
  vi.stubGlobal(
    'BroadcastChannel',
    class {
      postMessage(value: unknown) {
        told.push(value);
      }
    },
  );
});
afterEach(() => {
  vi.unstubAllGlobals();
  vi.useRealTimers();
  store.clear();
});

async function started(token: string): Promise<Connection> {
  store.set('lampwright-token', token);
  const connection = new Connection();
  connection.start();
  await vi.advanceTimersByTimeAsync(10);
  return connection;
}
function show(isShown: boolean): void {
  page.hidden = !isShown;
  page.dispatchEvent(new Event('visibilitychange'));
}
const count = (path: string) => asked.filter(one => one.path.startsWith(path)).length;

it('sends a token that was refused once, and keeps it no longer', async () => {
  const connection = await started('old');
  await vi.advanceTimersByTimeAsync(60_000);
  expect(count('/api/door')).toBeGreaterThan(5);
  expect(asked.filter(({ token }) => token === 'old').map(({ path }) => path)).toEqual([
    '/api/door',
  ]);
  expect(store.size).toBe(0);
  expect(connection.mayAct).toBe(false);
  expect(connection.tokenFault).toMatch(/^The token was changed, so this device can only watch\./);
  connection.isLocked = true;
  expect(connection.tokenFault).toMatch(
    /^The token was changed, so this device shows nothing until/,
  );
});

it('tries the token of a link, and keeps the one it had where that is wrong', async () => {
  vi.stubGlobal('location', { hash: '#token=old', pathname: '/' });
  vi.stubGlobal('history', { replaceState: () => undefined });
  const connection = await started('right');
  expect(connection.mayAct).toBe(true);
  expect(connection.tokenFault).toBe('Wrong token in the link.');
  expect(store.get('lampwright-token')).toBe('right');
  expect(asked.filter(({ token }) => token === 'old')).toHaveLength(1);
});

it('keeps the token of a link that opens', async () => {
  vi.stubGlobal('location', { hash: '#token=right', pathname: '/' });
  vi.stubGlobal('history', { replaceState: () => undefined });
  const connection = await started('old');
  expect(connection.mayAct).toBe(true);
  expect(store.get('lampwright-token')).toBe('right');
  expect(asked.every(({ token }) => token === 'right')).toBe(true);
});

it('keeps one that was taken', async () => {
  const connection = await started('right');
  expect(connection.mayAct).toBe(true);
  expect(asked.every(({ token }) => token === 'right')).toBe(true);
});

it('lets go of its stream while nobody sees it', async () => {
  await started('right');
  expect(streams.map(({ aborted }) => aborted)).toEqual([false]);
  show(false);
  expect(streams.map(({ aborted }) => aborted)).toEqual([true]);
  await vi.advanceTimersByTimeAsync(600_000);
  expect(streams).toHaveLength(1);
  show(true);
  await vi.advanceTimersByTimeAsync(10);
  expect(streams.map(({ aborted }) => aborted)).toEqual([true, false]);
});

it('gives up its stream, and asks other tabs to, for an act that has no answer', async () => {
  const connection = await started('right');
  const done = connection.act('stop', 'everybody');
  await vi.advanceTimersByTimeAsync(290);
  expect(streams[0]?.aborted).toBe(false);
  await vi.advanceTimersByTimeAsync(20);
  expect(streams[0]?.aborted).toBe(true);
  expect(told).toHaveLength(1);
  acts[0]?.();
  expect((await done).ok).toBe(true);
  await vi.advanceTimersByTimeAsync(1100);
  expect(streams).toHaveLength(2);
});

it('gives up nothing for an act that is answered', async () => {
  const connection = await started('right');
  const done = connection.act('stop', 'everybody');
  acts[0]?.();
  await done;
  await vi.advanceTimersByTimeAsync(1000);
  expect(streams.map(({ aborted }) => aborted)).toEqual([false]);
  expect(told).toEqual([]);
});

it('says which picture a press was made by, and sends none but a stop with an old one', async () => {
  const connection = await started('right');
  void connection.act('cue', 'next', 'evening');
  expect(bodies).toMatchObject([{ words: ['cue', 'next', 'evening'], seen: 41 }]);
  await vi.advanceTimersByTimeAsync(3100);
  const { snapshot } = connection;
  connection.cameMs = performance.now() - 3100;
  expect(snapshot).toBeDefined();
  expect(await connection.act('resume', 'everybody')).toEqual({
    ok: false,
    text: 'Nothing was done: the picture is 3 s old. Press again once a new one has come.',
    untilPicture: true,
  });
  expect(bodies).toHaveLength(1);
  void connection.act('stop', 'everybody');
  expect(bodies).toHaveLength(2);
});

it('offers no resume by a picture of before its stop', async () => {
  const connection = await started('right');
  expect(connection.isStopping).toBe(false);
  const stopped = connection.act('stop', 'everybody');
  expect(connection.isStopping).toBe(true);
  acts[0]?.({ newest: 41 });
  await stopped;
  // Its picture is the one that the panel had when the stop came.
  expect(connection.isStopping).toBe(true);
  connection.snapshot = { ...connection.snapshot, sequence: 42 } as NonNullable<
    typeof connection.snapshot
  >;
  expect(connection.isStopping).toBe(false);
  // Another daemon counts from 1.
  connection.snapshot = { ...connection.snapshot, sequence: 3 } as NonNullable<
    typeof connection.snapshot
  >;
  connection.cameMs = performance.now() + 1100;
  expect(connection.isStopping).toBe(false);
});

it('says of what has no answer what may still come of it', async () => {
  const connection = await started('right');
  vi.stubGlobal('fetch', (path: string, init: RequestInit) =>
    path === '/api/act' ? Promise.reject(new Error('no answer')) : answer(path, init),
  );
  const go = await connection.act('cue', 'next', 'evening');
  expect(go.text).toMatch(/^Go: the panel did not answer\. .*will not be done later/);
  const release = await connection.act('release', 'atmospheric');
  expect(release.text).toMatch(/^Release of atmospheric: .*goes off by itself/);
});

it('sends a stop until it is answered, and says meanwhile that it is not done', async () => {
  const connection = await started('right');
  let tries = 0;
  let isAway = true;
  vi.stubGlobal('fetch', (path: string, init: RequestInit) => {
    if (!isAway) return answer(path, init);
    if (path === '/api/act') tries += 1;
    return Promise.reject(new Error('no answer'));
  });
  const stop = connection.act('stop', 'everybody');
  expect(connection.lateStop).toBeUndefined();
  await vi.advanceTimersByTimeAsync(5100);
  expect(tries).toBe(6);
  expect(connection.lateStop).toBe('Stop is being sent: not done yet. Act at the desk.');
  isAway = false;
  await vi.advanceTimersByTimeAsync(1000);
  expect(bodies.at(-1)).toMatchObject({ words: ['stop', 'everybody'] });
  // The picture is of second 1 of the daemon's clock, and the press of just after it.
  expect((bodies.at(-1) as { pressedAtS: number }).pressedAtS).toBeCloseTo(1, 1);
  acts.at(-1)?.({ text: 'Everybody stopped.' });
  expect((await stop).text).toBe('Everybody stopped.');
  expect(connection.lateStop).toBeUndefined();
  const sent = bodies.length;
  await vi.advanceTimersByTimeAsync(5000);
  expect(bodies).toHaveLength(sent);
});

it('sends a stop no more once a resume is pressed', async () => {
  const connection = await started('right');
  vi.stubGlobal('fetch', () => Promise.reject(new Error('no answer')));
  const stop = connection.act('stop', 'everybody');
  await vi.advanceTimersByTimeAsync(4000);
  await connection.act('resume', 'everybody');
  expect((await stop).text).toBe('Stop is no longer sent, as you pressed Resume.');
  expect(connection.lateStop).toBeUndefined();
});

it('holds an enable by the newest snapshot, and waits a second for the answer', async () => {
  const connection = await started('right');
  const done = connection.hold('atmospheric');
  const page = expect.stringMatching(/^[\w-]{1,64}$/);
  expect(bodies).toEqual([{ words: ['hold', 'atmospheric'], seen: 41, page }]);
  acts[0]?.();
  expect(await done).toEqual({ ok: true, text: 'Done.' });
  const late = connection.hold('atmospheric');
  await vi.advanceTimersByTimeAsync(900);
  // It would be late by the time there is a connection for it: nobody is asked for one.
  expect(told).toEqual([]);
  await vi.advanceTimersByTimeAsync(150);
  expect(await late).toMatchObject({ ok: false, text: expect.stringMatching(/^No answer within/) });
});

it('sends no hold with an old picture', async () => {
  const connection = await started('right');
  await vi.advanceTimersByTimeAsync(1100);
  expect(await connection.hold('atmospheric')).toEqual({
    ok: false,
    text: 'The picture is 1.1 s old, so atmospheric is no longer held.',
    untilPicture: true,
  });
  expect(bodies).toEqual([]);
});

it('does not take for new what the panel has kept while the daemon said nothing', async () => {
  const snapshot = (sequence: number) =>
    new TextEncoder().encode(
      `event: snapshot\ndata: {"kind":"snapshot","sequence":${sequence},"atS":${sequence},"status":{"feed":{},"performers":[]},"engine":null}\n\n`,
    );
  vi.stubGlobal('fetch', (path: string, request: RequestInit) => {
    if (path === '/api/door') {
      const daemon = 'The daemon does not answer.';
      return Promise.resolve(Response.json({ mayLook: true, mayAct: true, ageS: 12, daemon }));
    }
    if (!path.startsWith('/api/stream')) return answer(path, request);
    const body = new ReadableStream({
      start: stream => {
        stream.enqueue(snapshot(1));
        setTimeout(() => stream.enqueue(snapshot(2)), 1000);
      },
    });
    return Promise.resolve(new Response(body));
  });
  const connection = await started('right');
  expect(connection.snapshot?.sequence).toBe(1);
  expect(Math.round((performance.now() - connection.cameMs) / 1e3)).toBe(12);
  expect(silenceInWords(connection.silence)).toBe('The panel answers, but the daemon does not.');
  await vi.advanceTimersByTimeAsync(1010);
  expect(connection.snapshot?.sequence).toBe(2);
  expect(performance.now() - connection.cameMs).toBeLessThan(100);
  expect(connection.silence).toBe('unknown');
});

it('keeps the last place of whoever is lost while a restarted engine has not heard them', async () => {
  const place = { x: 2, y: 6, z: 1.5 };
  const told = (more: object) => ({
    ...{ ...SNAPSHOT, status: { performers: [{ name: 'ines', state: 'lost' }], feed: FEED } },
    engine: { performers: [{ name: 'ines', confidence: { value: 0 }, ...more }] },
  });
  vi.stubGlobal('fetch', (path: string, request: RequestInit) => {
    if (!path.startsWith('/api/stream')) return answer(path, request);
    const lines = [told({ place }), told({})].map(line => `data: ${JSON.stringify(line)}\n\n`);
    return Promise.resolve(new Response(lines.join('')));
  });
  const { snapshot } = await started('right');
  expect(snapshot?.engine?.performers[0]?.place).toEqual(place);
});

/** What a page says of why nothing comes, each once, in the order in which it says it. */
async function saidOf(connection: Connection, forS: number): Promise<string[]> {
  const said: string[] = [];
  for (let tenth = 0; tenth < 10 * forS; tenth++) {
    await vi.advanceTimersByTimeAsync(100);
    const ageMs = performance.now() - connection.cameMs;
    const words = silenceInWords(connection.silence);
    if (ageMs > 1500 && said.at(-1) !== words) said.push(words);
  }
  return said;
}

const never = ({ signal }: RequestInit) =>
  new Promise<Response>((_, reject) => signal?.addEventListener('abort', reject));

it('says of a panel that hangs that it does not answer, and goes on saying so', async () => {
  const connection = await started('right');
  // The browser's own time for it is not the test's.
  vi.stubGlobal('fetch', () => new Promise((_, reject) => setTimeout(reject, 2000)));
  expect(await saidOf(connection, 60)).toEqual([
    'No new picture comes.',
    'The panel does not answer.',
  ]);
});

it('says of a panel that is gone, and then new and without a picture, one thing', async () => {
  const connection = await started('right');
  vi.stubGlobal('fetch', () => Promise.reject(new Error('refused')));
  streams[0]?.dispatchEvent(new Event('abort'));
  expect(await saidOf(connection, 10)).toEqual(['The panel does not answer.']);
  vi.stubGlobal('fetch', (path: string, request: RequestInit) =>
    path === '/api/door'
      ? Promise.resolve(Response.json({ mayLook: true, mayAct: true, ageS: null }))
      : never(request),
  );
  expect(await saidOf(connection, 1)).toEqual(['The panel does not answer.']);
});

it('says of a daemon that hangs that the panel answers, and goes on saying so', async () => {
  const connection = await started('right');
  const fromMs = performance.now();
  vi.stubGlobal('fetch', (path: string, request: RequestInit) => {
    const ageS = (performance.now() - fromMs) / 1e3;
    if (path !== '/api/door') return path === '/api/history' ? answer(path) : never(request);
    return Promise.resolve(Response.json({ mayLook: true, mayAct: true, ageS }));
  });
  expect(await saidOf(connection, 60)).toEqual(['The panel answers, but the daemon does not.']);
});
