import { createSocket, type Socket } from 'node:dgram';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { proofOf } from '../../src/daemon/reload-proof.js';
import type { Show } from '../../src/show/model.js';
import { parseShow } from '../../src/show/parse.js';
import { MINIMAL } from '../show/base.js';

let held: Socket;
let port: number;
beforeEach(async () => {
  held = createSocket('udp4');
  await new Promise<void>(resolve => held.bind(0, '127.0.0.1', resolve));
  port = held.address().port;
});
afterEach(() => held.close());

const parsed = parseShow(MINIMAL, 'a.show.yaml');
if (!parsed.ok) throw new Error('the base show is not valid');
const { show } = parsed;
const listening = (listen: string, at: number): Show => ({
  ...show,
  inputs: show.inputs.map(one => ({ ...one, listen, port: at })),
});
const none = () => undefined;

it('a port of another program speaks against a show; one that the running show has does not', async () => {
  const taken = listening('127.0.0.1', port);
  const [problem, ...more] = await proofOf(taken, listening('127.0.0.1', port - 1));
  expect(problem).toContain(`can't listen on 127.0.0.1:${port}`);
  expect(more).toEqual([]);
  expect(await proofOf(taken, taken)).toEqual([]);
  expect(await proofOf(listening('0.0.0.0', port), taken)).toEqual([]);
});

it("an address that this machine does not have does too (192.0.2.0/24 is nobody's: RFC 5737)", async () => {
  const mistyped = listening('192.0.2.1', port);
  expect(await proofOf(mistyped, listening('127.0.0.1', port))).toEqual([
    expect.stringContaining('this machine has no interface with that address'),
  ]);
});

it('so does an interface that is missing: by all outputs that name it', async () => {
  const [output] = show.outputs;
  if (output === undefined) throw new Error('no output');
  const outputs = ['one', 'two'].map(name => ({ ...output, name, interface: 'lighting9' }));
  const [problem, ...more] = await proofOf({ ...show, outputs }, show, none);
  expect(problem).toMatch(/^output "one" and "two" can't send from interface lighting9: /);
  expect(more).toEqual([]);
});
