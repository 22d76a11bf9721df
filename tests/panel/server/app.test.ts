import { EventEmitter } from 'node:events';
import { describe, expect, it } from 'vitest';
import { LightDelays } from '../../../src/live/light-delays.js';
import { ACTS } from '../../../src/panel/server/act-schema.js';
import { Connections } from '../../../src/panel/server/serve.js';
import { LANTERN, seen, snapshotOf } from '../support.js';
import { by, panel, TOKEN } from './panel.js';

interface Said {
  readonly text: string;
}

describe('the panel', () => {
  it('has no stream for HEAD', async () => {
    const { ask, streams } = panel();
    expect((await ask('/api/stream', { method: 'HEAD' })).status).toBe(405);
    expect(streams.count).toBe(0);
    expect((await ask('/api/stream')).status).toBe(200);
    expect(streams.count).toBe(1);
  });

  it('counts a wrong token at the door once, and says there that it is wrong', async () => {
    const { ask, metrics } = panel();
    const said = await (await ask('/api/door', by('old'))).json();
    const daemon = { ageS: null, daemon: 'The daemon does not answer.' };
    expect(said).toEqual({
      ...{ mayLook: true, mayAct: false, text: 'that is not the token' },
      ...daemon,
    });
    expect(await metrics.text()).toMatch(/refused_total\{reason="token wrong"\} 1\n/);
    expect(await (await ask('/api/door', by('the-right-token'))).json()).toEqual({
      ...{ mayLook: true, mayAct: true },
      ...daemon,
    });
  });

  it('says at the door how old its picture is', async () => {
    const { ask, record, clock } = panel();
    clock.nowS = 3;
    record.take(snapshotOf(LANTERN));
    clock.nowS = 15;
    const said = await (await ask('/api/door', by('the-right-token'))).json();
    expect(said).toEqual({ mayLook: true, mayAct: true, ageS: 12 });
  });

  it('holds an enable for whoever has seen a picture within a second, and for nobody else', async () => {
    const { act, acts, metrics, record, clock } = panel();
    const hold = async (seen?: number) =>
      (await act({ words: ['hold', 'atmospheric'], ...(seen !== undefined && { seen }) })).status;
    record.take({ ...snapshotOf(LANTERN), sequence: 7 });
    clock.nowS = 0.4;
    record.take({ ...snapshotOf(LANTERN), sequence: 8 });
    clock.nowS = 0.9;
    expect([await hold(), await hold(7), await hold(8), await hold(9)]).toEqual([
      400, 200, 200, 409,
    ]);
    // Here and on the way to the daemon together it may take a second.
    expect(acts).toEqual([
      ['hold', expect.closeTo(0.1)],
      ['hold', expect.closeTo(0.5)],
    ]);
    clock.nowS = 1;
    expect([await hold(7), await hold(8)]).toEqual([409, 200]);
    // The process stood still, and what had waited for it comes at once.
    clock.nowS = 9;
    expect(await hold(8)).toBe(409);
    expect(await metrics.text()).toMatch(/refused_total\{reason="too late"\} 3\n/);
  });

  it('holds nothing by what the hand saw before it let go, or went away', async () => {
    const { act, ask, acts, metrics, record, streams, clock } = panel();
    const say = async (verb: string, page: string, seen: number, hazard = 'atmospheric') =>
      (await (await act({ words: [verb, hazard], page, seen })).json()).outcome;
    const show = (sequence: number) => record.take({ ...snapshotOf(LANTERN), sequence });
    clock.nowS = 5;
    show(7);
    expect(await say('hold', 'one', 7)).toBe('done');
    clock.nowS = 5.1;
    show(8);
    await say('release', 'one', 7);
    // Held up on the way, or sent again by somebody; of another hand, or another enable, it is none.
    clock.nowS = 5.2;
    expect(await say('hold', 'one', 7)).toBe('overtaken');
    expect(await say('hold', 'one', 8)).toBe('overtaken');
    expect(await say('hold', 'two', 8)).toBe('done');
    expect(await say('hold', 'one', 8, 'strobe')).toBe('done');
    show(9);
    expect(await say('hold', 'one', 9)).toBe('done');
    expect(acts.filter(([verb]) => verb === 'hold').length).toBe(4);
    // A page that is closed says nothing.
    const abort = new AbortController();
    const stream = await ask('/api/stream?page=one', { signal: abort.signal });
    await stream.body?.cancel();
    expect(streams.count).toBe(0);
    expect(await say('hold', 'one', 9)).toBe('overtaken');
    expect(await say('hold', 'two', 9)).toBe('done');
    clock.nowS = 5.4;
    show(10);
    expect(await say('hold', 'one', 10)).toBe('done');
    expect(await metrics.text()).toMatch(/refused_total\{reason="overtaken"\} 3\n/);
  });

  it('releases what a page held as the last of its streams ends, and nothing that others hold', async () => {
    const { act, acts, ask, hands, record, streams, clock } = panel();
    record.take({ ...snapshotOf(LANTERN), sequence: 7 });
    const open = async (page: string, from?: string) =>
      (await ask(`/api/stream?page=${page}`, {}, from)).body;
    const hold = (page: string, hazard: string) => act({ words: ['hold', hazard], page, seen: 7 });
    const one = await open('one');
    const two = await open('two');
    const three = await open('three');
    await hold('one', 'atmospheric');
    await hold('one', 'strobe');
    await hold('two', 'atmospheric');
    await act({ words: ['release', 'strobe'], page: 'one' });
    // One that is on another network by now.
    const moved = await open('one', '127.0.0.2');
    acts.length = 0;
    hands.length = 0;
    await one?.cancel();
    await three?.cancel();
    expect([acts, streams.count]).toEqual([[], 2]);
    await moved?.cancel();
    expect([acts, hands]).toEqual([[['release', undefined]], ['one']]);
    // What is no longer repeated is no hold.
    clock.nowS = 6;
    await two?.cancel();
    expect(acts.length).toBe(1);
  });

  it('releases again where the page left while a hold of it was on its way to the daemon', async () => {
    const { act, acts, ask, daemon, record } = panel();
    record.take({ ...snapshotOf(LANTERN), sequence: 7 });
    const { body } = await ask('/api/stream?page=one');
    daemon.answers = async () => {
      delete daemon.answers;
      await body?.cancel();
    };
    await act({ words: ['hold', 'strobe'], page: 'one', seen: 7 });
    expect(acts.map(([verb]) => verb)).toEqual(['hold', 'release', 'release']);
  });

  it('says at a stop which snapshot was the newest, as a resume takes a newer one', async () => {
    const { act, record } = panel();
    const newest = async (words: string[]) =>
      ((await (await act({ words, seen: 7 })).json()) as { newest?: number }).newest;
    expect(await newest(['stop', 'everybody'])).toBeUndefined();
    record.take({ ...snapshotOf(LANTERN), sequence: 7 });
    expect(await newest(['stop', 'everybody'])).toBe(7);
    expect(await newest(['cue', 'storm'])).toBeUndefined();
  });

  it('resumes nobody by what was seen before a stop, of whomever it was', async () => {
    const { act, acts, record, clock } = panel();
    const say = async (verb: string, seen: number, page: string) =>
      (await (await act({ words: [verb, 'everybody'], seen, page })).json()).outcome;
    const show = (sequence: number) => record.take({ ...snapshotOf(LANTERN), sequence });
    clock.nowS = 5;
    show(7);
    expect(await say('resume', 7, 'one')).toBe('done');
    clock.nowS = 5.1;
    await say('stop', 7, 'two');
    expect(await say('resume', 7, 'one')).toBe('overtaken');
    expect(await say('resume', 7, 'two')).toBe('overtaken');
    clock.nowS = 5.3;
    show(8);
    expect(await say('resume', 7, 'one')).toBe('overtaken');
    expect(await say('resume', 8, 'one')).toBe('done');
    expect(acts.map(([verb]) => verb)).toEqual(['resume', 'stop', 'resume']);
  });

  it('undoes no resume by a stop that was pressed before it and is still being sent', async () => {
    const { act, acts, record } = panel();
    const stop = async (pressedAtS?: number) =>
      (await (await act({ words: ['stop', 'everybody'], pressedAtS })).json()).outcome;
    const resumed = { kind: 'event', level: 'warn', what: 'resumed' } as const;
    record.take({ ...resumed, atS: 4990, text: 'Ines and Tobias resumed (panel at 10.0.0.5).' });
    record.take({ ...resumed, atS: 4999, text: 'Ines resumed, as before.' });
    // Pressed after it, as it seems just before it, 8 s before it; one that says nothing is done however late.
    expect(await stop(4992)).toBe('done');
    expect(await stop(4989.5)).toBe('done');
    expect(await stop(4982)).toBe('overtaken');
    expect(await stop()).toBe('done');
    expect(acts).toHaveLength(3);
  });

  it('names each thing that is wrong with a request, and what would be right', async () => {
    const { act, ask, acts, metrics } = panel();
    const faults = async (body: unknown) => {
      const response = await act(body as object);
      const said = (await response.json()) as { text: string; faults: string[] };
      expect([response.status, said.text]).toEqual([
        400,
        `Nothing was done: ${said.faults.join('; ')}.`,
      ]);
      return said.faults;
    };
    const all = ACTS.join(', ');
    expect(await faults({ words: ['stpo', 'everybody'] })).toEqual([
      `"stpo" is not an act: ${all}; did you mean stop?`,
    ]);
    expect(await faults({ words: ['reload'] })).toEqual([
      '"reload" can\'t be done here: on the show machine, lampwright tell STATE_DIR reload',
    ]);
    expect(await faults({ words: ['Cue', '', 3, 'x'], seen: 1.5, page: 'a b', sen: 4 })).toEqual([
      `"Cue" is not an act: ${all}; did you mean cue?`,
      '4 words: at most 3',
      '"" is no word: a text of 1 to 100 letters',
      '3 is no word: a text of 1 to 100 letters',
      '`seen` is 1.5: the `sequence` of the newest snapshot that the hand has seen, a whole number from 0',
      '`page` is "a b": 1 to 64 letters, digits, _ or -',
      '"sen" is not known: `words`, `seen`, `pressedAtS`, `page`',
    ]);
    expect((await faults({ words: ['resume', 'everybody'], seen: -1 }))[0]).toMatch(
      /^`seen` is -1: .* a whole number from 0$/,
    );
    expect(await faults({ words: ['resume', 'everybody'] })).toEqual([
      '`seen` is missing: resume takes the `sequence` of the newest snapshot that the hand has seen',
    ]);
    for (const words of [undefined, [], 'stop everybody']) {
      expect((await faults({ words }))[0]).toMatch(/^`words` is .*: a list of one to three words/);
    }
    for (const body of [[], null, 'stop']) {
      expect((await faults(body))[0]).toMatch(/^the body is not a JSON object/);
    }
    const text = await (
      await ask('/api/act', { method: 'POST', body: '{"words":', ...by(TOKEN) })
    ).text();
    expect(text).toContain('the body is not a JSON object');
    expect(acts).toEqual([]);
    expect(await metrics.text()).toMatch(/refused_total\{reason="not understood"\} 12\n/);
  });

  it('names each thing that is wrong with the query of a stream', async () => {
    const { ask, streams } = panel();
    for (const rate of ['fast', '', '0', '0.1', '11', '1e1', '-5', 'NaN', 'Infinity']) {
      const response = await ask(`/api/stream?rate=${rate}`);
      const { faults } = (await response.json()) as { faults: string[] };
      expect([response.status, faults]).toEqual([
        400,
        [`\`rate\` is "${rate}": snapshots a second, a number from 0.2 to 10`],
      ]);
    }
    const response = await ask('/api/stream?rate=x&page=a%20b&rte=5');
    expect(((await response.json()) as { faults: string[] }).faults).toHaveLength(3);
    expect(streams.count).toBe(0);
    for (const query of ['', '?rate=0.2', '?rate=10', '?page=one&rate=2.5']) {
      expect((await ask(`/api/stream${query}`)).status).toBe(200);
    }
  });

  it('names the page that holds, as several may have one address', async () => {
    const { act, hands, record } = panel();
    record.take({ ...snapshotOf(LANTERN), sequence: 7 });
    const hold = async (page?: string) =>
      (await act({ words: ['hold', 'atmospheric'], seen: 7, ...(page !== undefined && { page }) }))
        .status;
    expect([await hold('one-1'), await hold('two-2'), await hold()]).toEqual([200, 200, 200]);
    expect(hands).toEqual(['one-1', 'two-2', undefined]);
    expect([await hold(''), await hold('a b'), await hold('x'.repeat(65))]).toEqual([
      400, 400, 400,
    ]);
  });

  it('does what makes light safe however late, and nothing else for whoever saw no picture within 3 s', async () => {
    const { act, acts, metrics, record, clock } = panel();
    const late = ['resume', 'off', 'on', 'cue', 'assign', 'unassign', 'mapping'];
    const statuses = async (verbs: readonly string[], more: object) => {
      const all = [];
      for (const verb of verbs) all.push((await act({ words: [verb, 'x'], ...more })).status);
      return [...new Set(all)];
    };
    record.take({ ...snapshotOf(LANTERN), sequence: 7 });
    clock.nowS = 1;
    expect(await statuses(late, {})).toEqual([400]);
    expect(await statuses(late, { seen: 7 })).toEqual([200]);
    expect(await statuses(['stop', 'release'], {})).toEqual([200]);
    expect(acts).toEqual([
      ...late.map(verb => [verb, 2]),
      ['stop', undefined],
      ['release', undefined],
    ]);
    // The process stood still, and what had waited for it comes at once.
    clock.nowS = 10;
    expect(await statuses(late, { seen: 7 })).toEqual([409]);
    expect(await statuses(['stop', 'release'], { seen: 7 })).toEqual([200]);
    const { text } = (await (await act({ words: ['cue', 'next'], seen: 7 })).json()) as Said;
    expect(text).toMatch(/^Nothing was done: it came more than 3 s late/);
    expect(await metrics.text()).toMatch(/refused_total\{reason="too late"\} 8\n/);
  });

  it('gives a page that begins anew the place of its stream before, and no other', async () => {
    const { ask, streams } = panel();
    for (let i = 0; i < 40; i++) {
      expect((await ask('/api/stream?page=one')).status).toBe(200);
    }
    await ask('/api/stream?page=two');
    await ask('/api/stream');
    await ask('/api/stream');
    expect(streams.count).toBe(4);
  });

  it('closes the streams of whoever sent the old token when there is another, and no others', async () => {
    const { ask, streams } = panel();
    const far = await ask('/api/stream', by('the-right-token'), '10.0.0.9');
    // One that may look without it, but would go on believing that it may act.
    const near = await ask('/api/stream', by('the-right-token'));
    await ask('/api/stream');
    expect(streams.count).toBe(3);
    streams.closeByToken();
    expect(streams.count).toBe(1);
    expect([await far.text(), await near.text()]).toEqual(['', '']);
  });

  it('tells Prometheus how long positions take to the light, by part of the way', async () => {
    const { metrics, record } = panel();
    const delays = new LightDelays();
    delays.add(
      { stampS: 1, arrivalS: 1.004, tickS: 1.02, handedS: 1.0205, receivedS: 1.021 },
      1.024,
    );
    record.take(
      snapshotOf(LANTERN, {
        status: { delays: [...delays.told].map(one => ({ ...one, counts: [...one.counts] })) },
      }),
    );
    const lines = (await metrics.text()).split('\n');
    const name = 'lampwright_position_to_light_seconds';
    expect(lines).toContain(`# TYPE ${name} histogram`);
    expect(lines).toContain(`${name}_bucket{part="whole",le="0.02"} 0`);
    expect(lines).toContain(`${name}_bucket{part="whole",le="0.025"} 1`);
    expect(lines).toContain(`${name}_bucket{part="whole",le="+Inf"} 1`);
    expect(lines).toContain(`${name}_count{part="network"} 1`);
  });

  it('keeps what happened once, though a daemon tells it again', () => {
    const { record } = panel();
    const event = (atS: number) =>
      ({ kind: 'event', atS, level: 'info', text: `at ${atS}`, what: 'feed' }) as const;
    const isNew = [1, 2, 1, 2, 3].map(atS => record.take(event(atS)));
    expect(isNew).toEqual([true, true, false, false, true]);
    expect(record.events.map(({ atS }) => atS)).toEqual([1, 2, 3]);
  });

  it('keeps confidence by name: a reload may bring people in another order', () => {
    const { record } = panel();
    const snapshot = snapshotOf(LANTERN, { engine: seen(LANTERN) });
    record.take(snapshot);
    const { status, engine } = snapshot;
    const turned = { ...status, performers: [...status.performers].reverse() };
    record.take({
      ...snapshot,
      atS: snapshot.atS + 1,
      status: turned,
      engine: engine && { ...engine, performers: [...engine.performers].reverse() },
    });
    const [first, second] = record.moments;
    expect(Object.keys(first?.confidence ?? {})).toEqual(['ines', 'tobias', 'gull']);
    expect(second?.confidence).toEqual(first?.confidence);
  });
});

describe('connections', () => {
  class Wire extends EventEmitter {
    isEnded = false;
    static ports = 1024;
    readonly remotePort = Wire.ports++;
    constructor(readonly remoteAddress: string) {
      super();
    }
    destroy() {
      this.isEnded = true;
      this.emit('close');
      return this as never;
    }
  }

  const opens = (connections: Connections) => (from: string, count: number) =>
    Array.from({ length: count }, () => {
      const wire = new Wire(from);
      connections.take(wire as never);
      return wire;
    });

  it('are 64 of one address, which others do not feel; of the machine itself any number', () => {
    const connections = new Connections();
    const open = opens(connections);
    const many = open('10.0.0.9', 100);
    expect(many.filter(({ isEnded }) => !isEnded)).toHaveLength(64);
    expect(open('10.0.0.10', 1)[0]?.isEnded).toBe(false);
    expect(open('127.0.0.1', 100).some(({ isEnded }) => isEnded)).toBe(false);
    many[0]?.destroy();
    expect(open('10.0.0.9', 2).map(({ isEnded }) => isEnded)).toEqual([false, true]);
  });

  it('are closed when their other end has acknowledged nothing for 10 s, and not before', () => {
    const refused: string[] = [];
    const connections = new Connections(reason => refused.push(reason));
    const [gone, slow, well] = opens(connections)('10.0.0.9', 3);
    const ends = [gone, slow].map(one => `${one?.remoteAddress} ${one?.remotePort}`);
    for (let nowS = 100; nowS < 110; nowS++) connections.hear(ends, nowS);
    expect([gone, slow, well].map(one => one?.isEnded)).toEqual([false, false, false]);
    // One is heard again: it begins anew.
    connections.hear(ends.slice(0, 1), 109.9);
    connections.hear(ends, 110);
    connections.hear(ends, 119);
    expect([gone, slow, well].map(one => one?.isEnded)).toEqual([true, false, false]);
    expect(refused).toEqual(['gone']);
    expect(connections.count).toBe(2);
  });

  it('are 256 in all: the oldest that asks for nothing makes room for whoever comes', () => {
    const connections = new Connections();
    const open = opens(connections);
    const [stream, ...idle] = open('127.0.0.1', 256);
    const answer = new EventEmitter();
    connections.asks(stream as Wire, answer as never);
    const [late] = open('10.0.0.9', 1);
    expect([stream, idle[0], idle[1], late].map(one => one?.isEnded)).toEqual([
      false,
      true,
      false,
      false,
    ]);
    answer.emit('close');
    open('10.0.0.9', 1);
    expect(stream?.isEnded).toBe(true);
    // Who asks all the time makes room as well, where nobody else can.
    for (const one of open('127.0.0.1', 256)) connections.asks(one, new EventEmitter() as never);
    expect(open('10.0.0.9', 1)[0]?.isEnded).toBe(false);
  });

  it('that send requests far ahead of their answers are cut off', () => {
    const connections = new Connections();
    const [wire] = opens(connections)('127.0.0.1', 1);
    const answers = Array.from({ length: 6 }, () => new EventEmitter());
    const asks = (i: number) => connections.asks(wire as Wire, answers[i] as never);
    expect([asks(0), asks(1), asks(2), asks(3)]).toEqual([true, true, true, true]);
    answers[0]?.emit('close');
    expect([asks(4), asks(5), asks(5)]).toEqual([true, false, false]);
    expect(wire?.isEnded).toBe(true);
  });
});
