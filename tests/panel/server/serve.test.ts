import { request } from 'node:http';
import { connect } from 'node:net';
import { connect as connectSecure } from 'node:tls';
import { afterEach, expect, it } from 'vitest';
import { serve } from '../../../src/panel/server/serve.js';
import { selfSigned } from '../../certificate.js';
import { panel, TOKEN } from './panel.js';

let end = () => undefined as unknown;
afterEach(() => end());

async function listening() {
  const { app, metrics } = panel();
  const { url, server } = await serve(app, { address: '127.0.0.1', port: 0 }, reason =>
    metrics.refused(reason),
  );
  end = () => server.close();
  return { url, metrics };
}

/** @returns its status */
function get(url: string, headers: Record<string, string>, method = 'GET'): Promise<number> {
  return new Promise((resolve, reject) => {
    request(url, { headers, method, agent: false }, response => {
      response.resume();
      response.once('end', () => resolve(response.statusCode ?? 0));
    })
      .once('error', reject)
      .end();
  });
}

it("sees a proxy's header behind any number of others", async () => {
  const { url } = await listening();
  for (const count of [0, 61, 62, 64, 200, 500]) {
    const padding = Array.from({ length: count }, (_, i) => [`a${i}`, '1']);
    const headers = { ...Object.fromEntries(padding), 'x-forwarded-for': '203.0.113.9' };
    expect([count, await get(`${url}/api/history`, headers)]).toEqual([count, 401]);
  }
  expect(await get(`${url}/api/history`, {})).toBe(200);
});

/** @returns all that comes back for it */
function send(url: string, text: string): Promise<string> {
  return new Promise(resolve => {
    let all = '';
    const socket = connect(Number(new URL(url).port), '127.0.0.1', () => socket.write(text));
    socket.on('data', bytes => {
      all += bytes.toString();
    });
    socket.on('error', () => undefined);
    socket.once('close', () => resolve(all));
  });
}

it('counts what never comes as far as a request', async () => {
  const { url, metrics } = await listening();
  expect(await send(url, 'nonsense\r\n\r\n')).toMatch(/^HTTP\/1.1 400 /);
  const long = `GET / HTTP/1.1\r\nHost: x\r\nA: ${'a'.repeat(9000)}\r\n\r\n`;
  expect(await send(url, long)).toMatch(/^HTTP\/1.1 431 /);
  await send(url, 'GET /api/stream HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n'.repeat(6));
  const said = await metrics.text();
  for (const reason of ['malformed', 'headers too large', 'sent ahead'])
    expect(said).toContain(`refused_total{reason="${reason}"} 1\n`);
});

it('reads no body that is too large, or comes in chunks', async () => {
  const { url, metrics } = await listening();
  const post = (headers: string, body: string) =>
    send(url, `POST /api/act HTTP/1.1\r\nHost: 127.0.0.1\r\n${headers}\r\n\r\n${body}`);
  // Most of it never comes, and nobody waits for it.
  expect(await post('Content-Length: 100000000', 'x'.repeat(200_000))).toMatch(/^HTTP\/1.1 413 /);
  expect(await post('Transfer-Encoding: chunked', '1\r\nx\r\n'.repeat(1000))).toMatch(
    /^HTTP\/1.1 411 [\s\S]*Content-Length/,
  );
  const said = await metrics.text();
  for (const reason of ['malformed', 'too large'])
    expect(said).toContain(`refused_total{reason="${reason}"} 1\n`);
});

it('does an order before whatever was asked for at the same moment', async () => {
  const done: string[] = [];
  const app = {
    fetch: ({ method }: Request) => {
      done.push(method);
      return new Response('');
    },
  } as unknown as Parameters<typeof serve>[0];
  const { url, server } = await serve(app, { address: '127.0.0.1', port: 0 }, () => undefined);
  end = () => server.close();
  const sockets = await Promise.all(
    Array.from({ length: 31 }, async () => {
      const socket = connect(Number(new URL(url).port), '127.0.0.1');
      await new Promise(resolve => socket.once('connect', resolve));
      return socket;
    }),
  );
  // All are accepted before any of them asks.
  expect(await get(url, {})).toBe(200);
  done.length = 0;
  const rest = 'HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Length: 0\r\n\r\n';
  await Promise.all(
    sockets.map((socket, i) => {
      socket.resume().write(`${i === 30 ? 'POST' : 'GET'} / ${rest}`);
      return new Promise(resolve => socket.once('close', resolve));
    }),
  );
  expect(done).toEqual(['POST', ...Array(30).fill('GET')]);
});

it('says in a sentence why it turns away what never comes to the app', async () => {
  const { url } = await listening();
  const said = async (text: string) => {
    const [head = '', body = ''] = (await send(url, text)).split('\r\n\r\n');
    const { ok, text: why } = JSON.parse(body) as { ok: boolean; text: string };
    expect([ok, head]).toEqual([false, expect.stringContaining(`ength: ${body.length}\r\n`)]);
    return [head.split(' ')[1], why];
  };
  expect(await said('nonsense\r\n\r\n')).toEqual([
    '400',
    'this is not an HTTP request: is it meant for another port, or for https?',
  ]);
  expect(await said(`GET / HTTP/1.1\r\nHost: x\r\nA: ${'a'.repeat(9000)}\r\n\r\n`)).toEqual([
    '431',
    'the headers are too long: at most 8192 bytes',
  ]);
  expect(await said('GET / HTTP/1.1\r\nHost: x\r\nExpect: tea\r\n\r\n')).toEqual([
    '417',
    "the header Expect asks for something else than 100-continue, which can't be met: leave it out",
  ]);
});

it('says which method a path takes, and what it does not understand is counted', async () => {
  const { ask, act, metrics } = panel();
  for (const method of ['PUT', 'DELETE']) {
    const answer = await ask('/api/snapshot', { method });
    expect([answer.status, answer.headers.get('allow')]).toEqual([405, 'GET']);
  }
  expect((await ask('/api/act')).headers.get('allow')).toBe('POST');
  expect((await act({ words: ['reboot', 'now'] })).status).toBe(400);
  const authorization = `bearer ${TOKEN}`;
  const door = await ask('/api/door', { headers: { authorization } });
  expect(await door.json()).toMatchObject({ mayAct: true });
  const said = await metrics.text();
  expect(said).toContain('refused_total{reason="method"} 3\n');
  expect(said).toContain('refused_total{reason="not understood"} 1\n');
});

/** Whose certificate whoever connects is shown. */
function shown(url: string): Promise<string> {
  const { port } = new URL(url);
  return new Promise((resolve, reject) => {
    const options = { port: Number(port), host: '127.0.0.1', rejectUnauthorized: false };
    const socket = connectSecure(options, () => {
      resolve(String(socket.getPeerCertificate().subject.CN));
      socket.destroy();
    });
    socket.once('error', reject);
  });
}

it('shows whoever connects a renewed certificate', async () => {
  const { app, metrics } = panel();
  const pem = (name: string) => {
    const { cert, key } = selfSigned(name);
    return { cert: Buffer.from(cert), key: Buffer.from(key) };
  };
  const options = { address: '127.0.0.1', port: 0, certificate: pem('before') };
  const { url, server, renew } = await serve(app, options, reason => metrics.refused(reason));
  end = () => server.close();
  expect(url).toMatch(/^https:/);
  expect(await shown(url)).toBe('before');
  renew(pem('after'));
  expect(await shown(url)).toBe('after');
});
