import { Ajv2020 } from 'ajv/dist/2020.js';
import { expect, it } from 'vitest';
import { describeStage } from '../../../src/live/describe-stage.js';
import { LineSchema } from '../../../src/live/schema.js';
import { openApi } from '../../../src/panel/server/openapi.js';
import { LANTERN, seen, snapshotOf } from '../support.js';
import { by, panel, TOKEN } from './panel.js';

/** Two general validators (@readme/openapi-parser 9, @redocly/cli 2) take the description as a whole; this asks what it says. */
interface Described {
  readonly paths: {
    readonly [path: string]: {
      readonly [method: string]: {
        readonly responses: {
          readonly [status: string]: {
            readonly content: { readonly [type: string]: { readonly schema: object } };
          };
        };
      };
    };
  };
}
type Panel = ReturnType<typeof panel>;
type Case = (asked: Panel, path: string, init: RequestInit) => Promise<Response> | Response;

const description = openApi() as Described;
const ajv = new Ajv2020({ strict: false });
const FAR = '10.0.0.9';
const STOP = JSON.stringify({ words: ['stop', 'everybody'] });

function hear({ record }: Panel): void {
  record.take(describeStage(LANTERN, 1));
  record.take(snapshotOf(LANTERN, { engine: seen(LANTERN) }));
}

const ANYWHERE: Record<string, Case> = {
  '200': (asked, path, init) => {
    hear(asked);
    return asked.ask(path, { ...init, ...by(TOKEN) }, FAR);
  },
  '401': (asked, path, init) => asked.ask(path, init, FAR),
  '403': (asked, path, init) =>
    asked.ask(path, { ...init, headers: { origin: 'http://evil.example' } }),
  '421': (asked, path, init) => asked.ask(path, { ...init, headers: { host: 'evil.example' } }),
  '429': async (asked, path, init) => {
    for (let i = 0; i < 10; i++) await asked.ask(path, { ...init, ...by(`no-${i}`) }, FAR);
    return asked.ask(path, { ...init, ...by('no') }, FAR);
  },
};
const OWN: Record<string, Case> = {
  'get /healthz 503': ({ ask }) => ask('/healthz'),
  'get /api/snapshot 503': ({ ask }) => ask('/api/snapshot'),
  'get /api/stream 503': async ({ ask }) => {
    for (let i = 0; i < 24; i++) await ask('/api/stream?rate=0.2');
    return ask('/api/stream');
  },
  'get /api/stream 400': ({ ask }) => ask('/api/stream?rate=fast', by(TOKEN)),
  'post /api/act 400': ({ act }) => act({ words: ['reboot', 'now'] }),
  'post /api/act 409': ({ act }) => act({ words: ['hold', 'strobe'], seen: 1 }),
  'post /api/act 413': ({ act }) => act({ words: ['stop', 'x'.repeat(5000)] }),
};

const described = Object.entries(description.paths).flatMap(([path, methods]) =>
  Object.entries(methods).flatMap(([method, { responses }]) =>
    Object.entries(responses).map(([status, { content }]) => ({ method, path, status, content })),
  ),
);

it.each(described)('answers $method $path with $status as described', async one => {
  const { method, path, status, content } = one;
  const init = method === 'post' ? { method: 'POST', body: STOP } : {};
  const asks = OWN[`${method} ${path} ${status}`] ?? ANYWHERE[status];
  const response = await asks?.(panel(), path, init);
  expect(response?.status).toBe(Number(status));
  const type = response?.headers.get('content-type')?.split(';')[0] ?? '';
  expect(Object.keys(content)).toEqual([type]);
  if (type !== 'application/json') return;
  const isAsSaid = ajv.compile(content[type]?.schema ?? false);
  expect(isAsSaid(await response?.json()) || isAsSaid.errors).toBe(true);
});

it('describes each path that there is for programs, and no other', () => {
  const { app } = panel();
  const routes = app.routes
    .filter(({ method, path }) => method !== 'ALL' && path !== '/*')
    .map(({ method, path }) => `${method.toLowerCase()} ${path}`);
  const asked = described.map(({ method, path }) => `${method} ${path}`);
  expect(new Set(asked)).toEqual(new Set(routes));
});

it('streams what the reference of the stream says', async () => {
  const asked = panel();
  hear(asked);
  const response = await asked.ask('/api/stream');
  const reader = response.body?.getReader();
  const kinds: string[] = [];
  while (!kinds.includes('snapshot')) {
    const text = new TextDecoder().decode((await reader?.read())?.value);
    for (const part of text.split(/(?<=\n\n)/)) {
      const [, event, data = ''] = /^event: (\w+)\ndata: (.*)\n\n$/.exec(part) ?? [];
      expect(LineSchema.parse(JSON.parse(data)).kind).toBe(event);
      kinds.push(event ?? '');
    }
  }
  expect(kinds).toEqual(['stage', 'snapshot']);
});
