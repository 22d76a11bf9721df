import { createSocket, type Socket } from 'node:dgram';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { missingPlaces } from '../../../src/commands/files/show-warnings.js';
import { proofOf } from '../../../src/daemon/beats/reload-proof.js';
import type { Show } from '../../../src/show/model/model.js';
import { parseShow } from '../../../src/show/parse.js';
import { MINIMAL } from '../../show/base.js';

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
  const [problem, ...more] = await proofOf({ ...show, outputs }, show, [], none);
  expect(problem).toMatch(
    /^output "one" and "two" can't send from interface lighting9: this machine has no such interface; it has /,
  );
  expect(more).toEqual([]);
});

it('but not one that the running show sends by, just as the other: its sockets stay, and it is looked for', async () => {
  const outputs = show.outputs.map(one => ({ ...one, interface: 'lighting9' }));
  const lost = { ...show, outputs };
  expect(await proofOf({ ...lost, fixtures: [] }, lost, [], none)).toEqual([]);
  const renamed = await proofOf({ ...lost, name: 'another' }, lost, [], none);
  expect(renamed).toEqual([expect.stringContaining('no such interface')]);
});

it('with file and line, as `check` has them, where whoever read the show has found the place', async () => {
  const nowhere = {
    interfaceOf: () => undefined,
    broadcastOf: () => undefined,
    there: 'lo (127.0.0.1)',
  };
  const text = MINIMAL.replace('    port: 9010', '    listen: 192.0.2.1\n    port: 9010');
  const read = parseShow(text, 'a.show.yaml');
  if (!read.ok) throw new Error('the show is not valid');
  const places = missingPlaces(read.show, text, 'a.show.yaml', nowhere);
  const running = { ...listening('127.0.0.1', port), name: 'another' };
  const [output, input] = await proofOf(read.show, running, places, none);
  const line = (what: RegExp) => text.split('\n').findIndex(one => what.test(one)) + 1;
  expect(output).toMatch(
    new RegExp(
      `^a\\.show\\.yaml:${line(/interface:/)}:\\d+: output "\\w+" can't send from interface `,
    ),
  );
  expect(output).toMatch(/\[address-missing\]\n {2}\d+ \| .*\n +\| +\^$/);
  expect(input).toMatch(new RegExp(`^a\\.show\\.yaml:${line(/192\.0\.2\.1/)}:\\d+: input "`));
});
