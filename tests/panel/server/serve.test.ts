import { request } from 'node:http';
import { afterEach, expect, it } from 'vitest';
import { serve } from '../../../src/panel/server/serve.js';
import { panel } from './panel.js';

let end = () => undefined as unknown;
afterEach(() => end());

async function listening() {
  const { app, metrics } = panel();
  const { url, server } = await serve(app, { address: '127.0.0.1', port: 0 });
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
