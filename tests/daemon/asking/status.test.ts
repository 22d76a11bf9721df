import { expect, it } from 'vitest';
import type { PairPartView } from '../../../src/daemon/beats/pair-light.js';
import type { EngineNews } from '../../../src/daemon/engine/engine-link.js';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { unixOffsetS } from '../../../src/daemon/machine/clock.js';
import { StatusBook } from '../../../src/daemon/status/book.js';
import { statusInWords } from '../../../src/daemon/status/words.js';
import { describe } from '../../../src/daemon/words/describe.js';
import { doubtsOf } from '../../../src/live/engine-part.js';
import { ownOutputs } from '../../../src/show/model/own-outputs.js';
import { parseShow } from '../../../src/show/parse.js';
import { Rig } from '../../engine/harness.js';
import { HOUSE } from '../../engine/shows.js';
import { changed } from '../../show/base.js';

const BOTH = { 1: [2, 6], 2: [8, 7] } as const;

/** A show in an engine, whose events a book follows as those of a supervisor. */
function following(show = HOUSE, outputs?: readonly string[]) {
  const rig = new Rig(show);
  const own = ownOutputs(rig.show, outputs);
  const book = new StatusBook(
    own.ok ? own.show : rig.show,
    rig.nowS,
    undefined,
    () => rig.view.levels,
  );
  book.hear({ kind: 'engine-started', pid: 42 }, rig.nowS);
  book.hear({ kind: 'lights', from: 'safe', to: 'live', cause: 'the engine is well' }, rig.nowS);
  let heard = 0;
  const run = (seconds: number, places: Parameters<Rig['run']>[1]) => {
    rig.run(seconds, places, () => {
      for (const event of rig.events.slice(heard)) book.hear({ kind: 'engine', event }, event.atS);
      heard = rig.events.length;
    });
    return book.status(rig.nowS);
  };
  return { rig, book, run };
}

const counters = (datagrams: number, positions: number) => ({
  ...new Rig(HOUSE).view.counters,
  datagrams,
  positions,
  lateTicks: 0,
  framesSkipped: 0,
  messagesDropped: 0,
  heapUsed: 0,
  rss: 0,
});

it('never calls the stage live while every performer is lost', () => {
  const { run } = following();
  expect(run(6, BOTH)).toMatchObject({
    light: 'live',
    performers: [{ state: 'live' }, { state: 'live' }],
  });
  const one = run(3, { 1: BOTH[1] });
  expect(one).toMatchObject({
    light: 'partly',
    performers: [{ state: 'live' }, { state: 'lost', cause: 'tracker-silent' }],
  });
  expect(statusInWords(one)[0]).toMatch(
    /1 of 2 performers live; tobias lost since \d\d:\d\d:\d\d \(tracker silent\)/,
  );
  const none = run(6, {});
  expect(none).toMatchObject({ light: 'safe look', feed: { silent: true } });
  const [first, second] = statusInWords(none);
  expect(first).toMatch(/^Test house: THE STAGE IS AT THE SAFE LOOK: nobody is live; /);
  expect(first).toMatch(
    /tobias lost since .*; ines lost since|ines lost since .*; tobias lost since/,
  );
  expect(second).toMatch(/^tracking silent since /);
  expect(statusInWords(run(8, BOTH))[0]).toMatch(/both performers are live/);
});

it('says since when: the beginning of a loss, not that of its last phase', () => {
  const { rig, run } = following();
  run(6, BOTH);
  const fromS = rig.nowS;
  const [live, lost] = run(8, { 1: BOTH[1] }).performers;
  const losing = rig.eventsOf('performer').find(({ to }) => to === 'losing');
  expect(losing?.atS).toBeLessThan(fromS + 1);
  expect(lost?.phase).toBe('safe');
  // The book's clock is this machine's, the rig's another: only the difference between two moments counts.
  const sinceS = (one: typeof live) => Date.parse(one?.since ?? '') / 1e3;
  const becameLive = rig.eventsOf('performer').find(e => e.performer === 'ines' && e.to === 'live');
  const laterS = (losing?.atS ?? 0) - (becameLive?.atS ?? 0);
  expect(sinceS(lost) - sinceS(live)).toBeCloseTo(laterS, 1);
});

it('says which hazardous outputs are on, and of one that is held and stays off, why', () => {
  const { book, run, rig } = following();
  run(6, BOTH);
  const hear = (gate: 'on' | 'off' | 'latched-off', reason?: 'everybody-stopped' | 'released') => {
    const outputs = [{ fixture: 'hazer', hazard: 'atmospheric' }] as const;
    const wasOn = gate !== 'on';
    book.hear(
      { kind: 'engine', event: { kind: 'enable', gate, wasOn, reason, outputs } },
      rig.nowS,
    );
    const status = book.status(rig.nowS);
    return { on: status.hazardsOn, line: statusInWords(status)[0], troubles: status.troubles };
  };
  expect(hear('on')).toMatchObject({
    on: ['hazer (atmospheric)'],
    line: expect.stringContaining('; hazer (atmospheric) on; '),
    troubles: [],
  });
  const held = hear('latched-off', 'everybody-stopped');
  expect(held).toMatchObject({
    on: [],
    troubles: [{ what: expect.stringMatching(/^hazer \(atmospheric\) dropped: /) }],
  });
  expect(held.line).not.toContain('hazer');
  expect(hear('off', 'released')).toMatchObject({ on: [], troubles: [] });
});

it('names trackers and batteries in trouble, stops, and what is wrong with outputs', () => {
  const { book, run, rig } = following(HOUSE.replace('trackers: [2]', 'trackers: [2, 3]'));
  run(6, { ...BOTH, 3: BOTH[2] });
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  const status = run(4, BOTH);
  expect(status.silentTrackers).toMatchObject([{ tracker: '3', performer: 'tobias' }]);
  expect(status.stops).toMatchObject({ everybody: true, performers: ['ines', 'tobias'] });
  const { nowS } = rig;
  book.hear(
    {
      kind: 'engine',
      event: { kind: 'battery', tracker: '1', performer: 'ines', low: true, charge: 0.18 },
    },
    nowS,
  );
  book.hear({ kind: 'lighting', event: { kind: 'carrier-lost', interface: '127.0.0.1' } }, nowS);
  book.hear({ kind: 'state-unsaved', file: 'f', reason: 'ENOSPC' }, nowS);
  book.trouble('control', 'another daemon holds the universe', nowS);
  const [first, second] = statusInWords(book.status(nowS));
  expect(first).toContain('everybody is stopped');
  expect(book.status(nowS).notSent).toEqual(rig.show.fixtures.map(({ name }) => name));
  expect(second).toMatch(/tracker 3 of tobias silent since .*battery of tracker 1 of ines at 18 %/);
  expect(second).toMatch(
    /output lamps DOWN: no carrier.*ENOSPC.*another daemon holds the universe/,
  );
  book.hear({ kind: 'lighting', event: { kind: 'carrier-back', interface: '127.0.0.1' } }, nowS);
  book.hear({ kind: 'state-saved', file: 'f' }, nowS);
  book.trouble('control', undefined, nowS);
  expect(book.status(nowS)).toMatchObject({
    outputs: [{ trouble: undefined }],
    notSent: [],
    troubles: [],
  });
});

it('says of Art-Net that is left to the other machine of a pair that it is not sent', () => {
  const show = parseShow(
    changed(
      'outputs:',
      'outputs:\n  nodes: { protocol: artnet, interface: 127.0.0.1, to: [127.0.0.9], universes: [1] }',
    ),
    'held.show.yaml',
  );
  if (!show.ok) throw new Error('not valid');
  const book = new StatusBook(show.show, 10);
  const tell = (held: boolean) => {
    const event = { kind: 'artnet-held', interface: '127.0.0.1', held } as const;
    book.hear({ kind: 'lighting', event }, 11);
    return [statusInWords(book.status(12))[1], book.status(12).outputs[0]?.heldBack];
  };
  expect(tell(true)).toEqual([
    expect.stringMatching(/output nodes held back .*; output lamps sending/),
    true,
  ]);
  expect(tell(false)).toEqual([expect.stringMatching(/outputs nodes, lamps sending/), undefined]);
});

it('says which part the machine of a pair plays, and not that no light leaves where it is held back', () => {
  const show = parseShow(
    changed(
      'lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1]',
      'nodes: { protocol: artnet, interface: 127.0.0.1, to: [127.0.0.9]',
    ),
    'held.show.yaml',
  );
  if (!show.ok) throw new Error(show.problems.map(({ message }) => message).join());
  let views: readonly PairPartView[] = [];
  const book = new StatusBook(show.show, 10, { standby: true, look: () => views });
  const hold = { kind: 'artnet-held', interface: '127.0.0.1', held: true } as const;
  book.hear({ kind: 'lighting', event: hold }, 11);
  expect(book.status(12).pair).toBeUndefined();
  const main = { other: 'heard', lastHeardS: 11.5, address: '10.0.0.11' } as const;
  views = [{ interface: 'eth0', phase: 'standing-by', sinceS: 10, other: main }];
  const status = book.status(12);
  expect(status.pair).toMatchObject({
    machine: 'standby',
    parts: [{ interface: 'eth0', part: 'waits', other: 'heard', address: '10.0.0.11' }],
  });
  expect(statusInWords(status)[0]).toMatch(
    /^One lamp: standby, waits: the main machine at 10.0.0.11 has the light; /,
  );
  expect(statusInWords(status)[0]).not.toMatch(/NO LIGHT|live/);
});

it('warns of who was stopped at a standby while the main machine has the light', () => {
  let other: 'heard' | 'silent' = 'heard';
  const look = (): PairPartView[] => [
    {
      interface: 'eth0',
      phase: other === 'heard' ? 'standing-by' : 'standing-in',
      sinceS: 10,
      other: { other, lastHeardS: 11, address: '10.0.0.11' },
    },
  ];
  const { show } = new Rig(HOUSE);
  const [name = ''] = show.performers.map(one => one.name);
  const book = new StatusBook(show, 10, { standby: true, look });
  const stop = (toldByMain: readonly string[]) => {
    const by = toldByMain.length > 0 ? 'the main machine, 10.0.0.11' : 'root';
    const event = {
      kind: 'stopped',
      performers: [name],
      stillStopped: [name],
      everybody: false,
      stopOfEverybody: false,
      cause: 'command',
      by,
      ...(toldByMain.length > 0 && { toldByMain: { everybody: false, performers: toldByMain } }),
    } as const;
    book.hear({ kind: 'engine', event }, 12);
    return book.status(12);
  };
  const label = book.status(11).performers[0]?.label;
  const what = `${label} is stopped at this standby, but the main machine at 10.0.0.11 has the light: check that ${label} is stopped there too`;
  const status = stop([]);
  expect(status.troubles).toEqual([{ what, since: status.performers[0]?.since }]);
  expect(statusInWords(status).join()).toContain(what);
  // The main machine itself has said so, or is gone.
  expect(stop([name]).troubles).toEqual([]);
  other = 'silent';
  expect(stop([]).troubles).toHaveLength(1);
  expect(stop([]).troubles[0]?.what).toMatch(/this one stands in$/);
});

it('says beside the outputs that its standby is heard, and warns when it is not', () => {
  let views: readonly PairPartView[] = [];
  const book = new StatusBook(new Rig(HOUSE).show, 10, { standby: false, look: () => views });
  const at = (other: 'heard' | 'silent', phase: 'leading' | 'joining' = 'leading') => {
    const news = { other, lastHeardS: 11, address: '10.0.0.12' };
    views = [{ interface: 'eth0', phase, sinceS: 10, other: news }];
    return statusInWords(book.status(12));
  };
  expect(at('heard')[0]).not.toMatch(/main machine/);
  expect(at('heard')[1]).toMatch(/; main machine, leads, standby at 10.0.0.12 heard; output/);
  expect(at('silent')[1]).toMatch(
    /; its standby at 10.0.0.12 is no longer heard: nobody takes over/,
  );
  expect(at('heard', 'joining')[0]).toMatch(/^Test house: main machine, comes back: the standby/);
});

it('counts what comes in, and says that failed sends are over when that is told', () => {
  const { book } = following();
  const nowS = 2000;
  book.count(counters(100, 90), nowS);
  book.count(counters(160, 140), nowS + 1);
  expect(book.status(nowS + 1).feed).toMatchObject({ positionsPerS: 50, datagramsPerS: 60 });
  // An engine that is gone counts nothing.
  expect(book.status(nowS + 60).feed).toMatchObject({ positionsPerS: 0 });
  const event = {
    kind: 'send-failed',
    interface: '127.0.0.1',
    output: 'lamps',
    reason: 'EPERM',
    count: 3,
    sent: 0,
  } as const;
  book.hear({ kind: 'lighting', event }, nowS);
  expect(book.status(nowS).outputs[0]?.trouble).toMatch(/EPERM/);
  expect(book.status(nowS + 300).outputs[0]?.trouble).toMatch(/EPERM/);
  const over = { kind: 'sent-again', output: 'lamps', count: 3, forS: 0 } as const;
  book.hear({ kind: 'lighting', event: { ...over, interface: '127.0.0.1' } }, nowS + 304);
  expect(book.status(nowS + 304).outputs[0]?.trouble).toBeUndefined();
});

it('what keeps an output from sending stays said when a show is loaded that has the same outputs', () => {
  const { book, rig } = following();
  const nowS = 2000;
  const event = { kind: 'carrier-lost', interface: '127.0.0.1' } as const;
  book.hear({ kind: 'lighting', event }, nowS);
  const { show } = rig.view;
  book.take({ ...show, performers: show.performers.slice(0, 1) }, nowS + 1);
  expect(book.status(nowS + 2).outputs[0]?.trouble).toMatch(/no carrier/);
  // Other outputs have sockets of their own, which tell of it themselves.
  const outputs = show.outputs.map(output => ({ ...output, rateHz: 30 }));
  book.take({ ...show, outputs }, nowS + 3);
  expect(book.status(nowS + 4).outputs[0]?.trouble).toBeUndefined();
});

it('what failed on sockets that are closed is no trouble of those that take their place', () => {
  const { book } = following();
  const nowS = 2000;
  const on = { interface: '127.0.0.1' } as const;
  const hear = (event: LightingEvent, atS: number) => book.hear({ kind: 'lighting', event }, atS);
  const errand = 'Universe Discovery';
  hear({ kind: 'errand-failed', ...on, errand, reason: 'EPERM' }, nowS);
  hear({ kind: 'send-failed', ...on, output: 'lamps', reason: 'EPERM', count: 3, sent: 0 }, nowS);
  expect(book.status(nowS).troubles).toHaveLength(1);
  const outputs = [{ output: 'lamps', count: 9, forS: 1 }];
  hear({ kind: 'sends-ended', ...on, outputs, errands: [errand] }, nowS + 1);
  expect(book.status(nowS + 1).troubles).toEqual([]);
  expect(book.status(nowS + 1).outputs[0]?.trouble).toBeUndefined();
});

it('whom an operator has stopped is told as stopped, also before the engine has heard them', () => {
  const { book } = following();
  const stopped = {
    kind: 'stopped',
    performers: ['ines'],
    everybody: false,
    cause: 'restored',
    stillStopped: ['ines'],
    stopOfEverybody: false,
  } as const;
  book.hear({ kind: 'engine', event: stopped }, 2000);
  const [ines] = book.status(2001).performers;
  expect(ines).toMatchObject({ state: 'stopped', cause: 'operator-stop' });
});

it('who was left without a tracker wears none: no tracker of theirs is silent', () => {
  const { run, rig } = following();
  run(6, BOTH);
  rig.order({ kind: 'assign', tracker: '2', performer: 'ines', cause: 'command' });
  const status = run(3, { 1: BOTH[1], 2: BOTH[1] });
  expect(status.performers[1]).toMatchObject({ name: 'tobias', wearsNone: true });
  expect(statusInWords(status)[0]).toMatch(/tobias lost since [\d:]+ \(wears no tracker\)/);
});

it('says what the light of somebody waits for whose reports were far off, and are well again', () => {
  const { book, run, rig } = following();
  run(6, BOTH);
  const [x, y] = BOTH[2];
  let n = 0;
  // Most reports are metres away, each elsewhere.
  const jumping = () => {
    n += 1;
    const off = n % 4 === 0 ? 0 : 1;
    return { 1: BOTH[1], 2: [x + off * (2 + (n % 5)), y + off * ((n % 7) - 3), 1] as const };
  };
  // One that repeats itself to the digit would be frozen.
  const still = (t: number) => ({ 1: BOTH[1], 2: [x + 0.01 * Math.sin(9 * t), y, 1] as const });
  run(12, jumping);
  run(0.5, still);
  const tell = () => {
    const doubts = doubtsOf(rig.view);
    book.count({ ...counters(100, 90), doubts }, rig.nowS);
    return book.status(rig.nowS);
  };
  expect(tell().performers[1]).toMatchObject({
    state: 'lost',
    cause: 'confidence-low',
    doubt: 'gate',
  });
  expect(statusInWords(tell())[0]).toMatch(
    /tobias lost since [\d:]+ \(confidence low: too many recent reports were far off\)/,
  );
  run(20, still);
  expect(tell().performers[1]).toMatchObject({ state: 'live' });
  expect(tell().performers[1]?.doubt).toBeUndefined();
});

it('the first start is no return of an engine', () => {
  const book = new StatusBook(new Rig(HOUSE).show, 1000);
  const cause = 'the engine is starting';
  book.hear({ kind: 'lights', from: 'safe', to: 'rearming', cause }, 1000);
  expect(statusInWords(book.status(1001))[0]).toMatch(
    /all light is at the safe look, and the engine is about to take over \(since [\d:]+\); no engine$/,
  );
});

it('names a frozen tracker until it moves', () => {
  const book = new StatusBook(new Rig(HOUSE).show, 1000);
  const frozen = { kind: 'tracker-frozen', tracker: '2', performer: 'tobias' } as const;
  book.hear({ kind: 'engine', event: { ...frozen, frozen: true } }, 1000);
  expect(statusInWords(book.status(1001))[1]).toMatch(/tracker 2 of tobias frozen since/);
  book.hear({ kind: 'engine', event: { ...frozen, frozen: false } }, 1002);
  expect(statusInWords(book.status(1003))[1]).not.toContain('frozen');
});

it('a tracker is frozen or silent, and never both', () => {
  const book = new StatusBook(new Rig(HOUSE).show, 1000);
  const tell = (event: EngineNews, nowS: number) => book.hear({ kind: 'engine', event }, nowS);
  const frozen = {
    kind: 'tracker-frozen',
    tracker: '2',
    performer: 'tobias',
    frozen: true,
  } as const;
  const silent = { kind: 'tracker-contact', tracker: '2', performer: 'tobias' } as const;
  tell(frozen, 1000);
  tell({ ...silent, heard: false, silentForS: 2, others: [] }, 1010);
  expect(book.status(1011)).toMatchObject({
    frozenTrackers: [],
    silentTrackers: [{ tracker: '2' }],
  });
  tell(frozen, 1020);
  expect(book.status(1021)).toMatchObject({
    frozenTrackers: [{ tracker: '2' }],
    silentTrackers: [],
  });
});

it('a tracker that is silent through another engine is silent since it was heard last', () => {
  const book = new StatusBook(new Rig(HOUSE).show, 1000);
  const tell = (event: EngineNews, nowS: number) => book.hear({ kind: 'engine', event }, nowS);
  const silent = {
    kind: 'tracker-contact',
    tracker: '2',
    performer: 'tobias',
    heard: false,
    others: [],
  } as const;
  tell({ ...silent, silentForS: 2 }, 1010);
  const [before] = book.status(1011).silentTrackers;
  book.hear({ kind: 'engine-ended', how: 'crashed', reason: 'SIGKILL', again: 0.1 }, 1019);
  book.hear({ kind: 'engine-started', pid: 43 }, 1020);
  // It has never heard it.
  tell(silent, 1022);
  const [after] = book.status(1023).silentTrackers;
  expect(after).toMatchObject({ tracker: '2', performer: 'tobias' });
  // The clock of the wall and ours part by less than that.
  const apartMs = Date.parse(after?.since ?? '') - Date.parse(before?.since ?? '');
  expect(Math.abs(apartMs)).toBeLessThan(100);
});

/** The engine ends at the end of what has run, and another one begins; the light comes back to it once it has run. */
function restarting({ rig, book }: Pick<ReturnType<typeof following>, 'rig' | 'book'>) {
  const cause = 'the engine ended';
  book.hear({ kind: 'engine-ended', how: 'crashed', reason: 'SIGKILL', again: 0.1 }, rig.nowS);
  book.hear({ kind: 'lights', from: 'live', to: 'losing', cause }, rig.nowS);
  const without = book.status(rig.nowS + 0.5);
  const endedS = rig.nowS;
  const next = new Rig(HOUSE);
  const run = (seconds: number, places: Parameters<Rig['run']>[1]) => {
    const from = next.events.length;
    next.run(seconds, places);
    for (const event of next.events.slice(from)) book.hear({ kind: 'engine', event }, endedS + 2);
    return book.status(endedS + 2);
  };
  const start = () => book.hear({ kind: 'engine-started', pid: 43 }, endedS + 1);
  const takeLight = () => {
    book.hear({ kind: 'lights', from: 'returning', to: 'live', cause: 'well' }, endedS + 2);
  };
  return { without, run, start, takeLight };
}

it('whoever is lost stays lost through another engine, since when and why', () => {
  const { rig, book, run } = following();
  run(6, BOTH);
  const [, before] = run(4, { 1: BOTH[1] }).performers;
  expect(before).toMatchObject({ state: 'lost', cause: 'tracker-silent' });
  const next = restarting({ rig, book });
  const since = (one = before) => Math.round(Date.parse(one?.since ?? '') / 1e3);
  // While the supervisor has the light, one wants to know whose tracker to fetch.
  expect(statusInWords(next.without)[0]).toMatch(
    /: all light is fading to the safe look \(since .*\); last known: tobias lost since [\d:]+ \(tracker silent\); no engine$/,
  );
  next.start();
  expect(next.run(6, { 1: BOTH[1] }).performers[1]).toMatchObject({ state: 'lost' });
  next.takeLight();
  const status = next.run(1, { 1: BOTH[1] });
  const [ines, tobias] = status.performers;
  expect(ines).toMatchObject({ state: 'live' });
  expect(tobias).toMatchObject({ state: 'lost', phase: 'safe', cause: 'tracker-silent' });
  expect(since(tobias)).toBe(since());
  expect(status.light).toBe('partly');
  expect(statusInWords(status)[0]).toMatch(/; tobias lost since [\d:]+ \(tracker silent\);/);
  // Back, and gone again: that is a loss of its own.
  expect(next.run(6, BOTH).performers[1]).toMatchObject({ state: 'live' });
  const [, again] = next.run(4, { 1: BOTH[1] }).performers;
  expect(again).toMatchObject({ state: 'lost' });
  expect(since(again)).toBeGreaterThan(since());
});

it('whoever was live and is not heard by the next engine is lost once it has the light; nobody else is', () => {
  const { rig, book, run } = following();
  run(6, { 1: BOTH[1] });
  const next = restarting({ rig, book });
  const states = ({ performers }: ReturnType<StatusBook['status']>) =>
    performers.map(({ state }) => state);
  // It will hear them in a moment.
  expect(states(next.without)).toEqual(['not heard', 'not heard']);
  expect(statusInWords(next.without)[0]).not.toContain('lost');
  next.start();
  expect(states(next.run(4, {}))).toEqual(['not heard', 'not heard']);
  next.takeLight();
  const silent = next.run(1, {});
  // The other one has not come on stage yet.
  expect(states(silent)).toEqual(['lost', 'not heard']);
  expect(statusInWords(silent)[0]).toMatch(/ines lost since [\d:]+ \(tracking silent\)/);
  expect(states(next.run(6, { 1: BOTH[1] }))).toEqual(['live', 'not heard']);
});

it('who was lost and repeats itself to the next engine is lost, and that is why', () => {
  const { rig, book, run } = following();
  run(6, BOTH);
  run(4, { 1: BOTH[1] });
  const { start } = restarting({ rig, book });
  start();
  const event = { kind: 'heard-but', performer: 'tobias', but: 'frozen' } as const;
  book.hear({ kind: 'engine', event }, rig.nowS + 2);
  const [, tobias] = book.status(rig.nowS + 2).performers;
  expect(tobias).toMatchObject({ state: 'lost', cause: 'frozen' });
  expect(tobias?.heardBut).toBeUndefined();
});

it('names trackers of one performer that are far apart until they agree', () => {
  const book = new StatusBook(new Rig(HOUSE).show, 1000);
  const apart = { kind: 'trackers-apart', performer: 'tobias' } as const;
  book.hear({ kind: 'engine', event: { ...apart, trackers: ['5', '9'], apartM: 3.42 } }, 1000);
  expect(statusInWords(book.status(1001))[1]).toContain(
    'trackers 5 and 9 of tobias are 3.4 m apart: who wears them?',
  );
  book.hear({ kind: 'engine', event: { ...apart, trackers: [], apartM: 0 } }, 1002);
  expect(book.status(1003).apartTrackers).toEqual([]);
});

it('an engine that is gone takes with it what it knew', () => {
  const { book, run, rig } = following();
  run(6, BOTH);
  book.hear(
    { kind: 'engine-ended', how: 'crashed', reason: 'it was ended by SIGKILL', again: 0.1 },
    rig.nowS,
  );
  book.hear(
    {
      kind: 'lights',
      from: 'live',
      to: 'losing',
      cause: 'the engine is gone',
      condition: 'engine-dead',
    },
    rig.nowS,
  );
  const status = book.status(rig.nowS);
  expect(status).toMatchObject({
    light: 'safe look',
    performers: [{ state: 'not heard' }, { state: 'not heard' }],
  });
  expect(statusInWords(status)[0]).toMatch(
    /all light is fading to the safe look \(since [\d:]+: the engine is gone.*no engine/,
  );
});

it('does not say that light is coming back while nobody is tracked', () => {
  const { book, run, rig } = following();
  run(6, BOTH);
  run(4, {});
  const back = { kind: 'lights', from: 'rearming', to: 'returning', cause: 'engine well' } as const;
  book.hear(back, rig.nowS);
  const [first, second] = statusInWords(book.status(rig.nowS));
  expect(first).not.toContain('coming up');
  expect(first).toMatch(/the engine runs, THE STAGE IS AT THE SAFE LOOK: nobody is live/);
  expect(second).toMatch(/^tracking silent since/);
  expect(statusInWords(run(8, BOTH))[0]).toContain('the engine is taking over from the safe look');
});

it('names what a restart would not find, until it does', () => {
  const { book } = following();
  const file = '/s/accepted-show.json';
  const what = 'accepted-show';
  book.hear({ kind: 'unkept', what, file, reason: 'there is no such folder' }, 2000);
  expect(statusInWords(book.status(2000))[1]).toContain(
    "the show can't be saved, there is no such folder. A restart over a broken show file would fail",
  );
  book.hear({ kind: 'kept', what, file }, 2001);
  expect(book.status(2001).troubles).toEqual([]);
});

it('calls an output down for its own levels only: not for a poll, nor for another output', () => {
  const { book } = following(
    HOUSE.replace(
      'outputs:',
      'outputs:\n  nodes: { protocol: artnet, interface: 127.0.0.1, to: [127.0.0.9], universes: [1] }',
    ),
  );
  const nowS = 2000;
  const hear = (event: LightingEvent) => book.hear({ kind: 'lighting', event }, nowS);
  const troubles = () => book.status(nowS).outputs.map(({ trouble }) => trouble !== undefined);
  const where = { interface: '127.0.0.1', reason: 'send EPERM' };
  hear({ kind: 'errand-failed', errand: 'ArtPoll', ...where });
  expect(troubles()).toEqual([false, false]);
  expect(statusInWords(book.status(nowS))[1]).toContain(
    "ArtPoll can't be sent from 127.0.0.1, a firewall of this machine stops them; let UDP out to the receiver (send EPERM). Art-Net nodes that the show does not list are not found",
  );
  hear({ kind: 'errand-sent', errand: 'ArtPoll', interface: '127.0.0.1' });
  expect(book.status(nowS).troubles).toEqual([]);
  hear({ kind: 'send-failed', output: 'nodes', count: 40, sent: 40, ...where });
  expect(troubles()).toEqual([false, false]);
  expect(book.status(nowS).troubles).toMatchObject([
    {
      what: "output nodes: some packets can't be sent, a firewall of this machine stops them; let UDP out to the receiver (send EPERM)",
    },
  ]);
  hear({ kind: 'send-failed', output: 'nodes', count: 40, sent: 0, ...where });
  expect(book.status(nowS).outputs.filter(({ trouble }) => trouble !== undefined)).toMatchObject([
    { name: 'nodes' },
  ]);
});

it('says first that no light leaves, or which output sends nothing, without codes', () => {
  const { rig, book, run } = following(
    HOUSE.replace(
      'universes: [1, 2] }\n',
      'universes: [1] }\n  pit: { protocol: sacn, interface: pit0, to: multicast, universes: [2] }\n',
    ),
  );
  run(6, BOTH);
  const lose = (name: string, atS: number) => {
    const event = { kind: 'interface-lost', interface: name, reason: 'EADDRNOTAVAIL' } as const;
    book.hear({ kind: 'lighting', event }, atS);
  };
  const { outputs } = book.status(rig.nowS);
  expect(outputs.length).toBe(2);
  lose('pit0', rig.nowS);
  expect(statusInWords(book.status(rig.nowS))[0]).toMatch(
    /^Test house: output pit sends nothing \(since [\d:]{8}\); both performers are live; /,
  );
  for (const one of outputs) lose(one.interface, rig.nowS + 60);
  const [first, second] = statusInWords(book.status(rig.nowS + 61));
  expect(first).toMatch(
    /^Test house: NO LIGHT LEAVES THIS MACHINE \(since [\d:]{8}\); both performers are tracked; /,
  );
  expect(first).not.toContain('EADDR');
  expect(second).toContain('EADDRNOTAVAIL');
});

it('calls performers by label, and keeps the name for programs', () => {
  const { book, run, rig } = following(
    HOUSE.replace('tobias: { trackers: [2] }', 'tobias: { trackers: [2], label: Tobias Maar }'),
  );
  run(6, BOTH);
  const event = {
    kind: 'tracker-frozen',
    tracker: '2',
    performer: 'tobias',
    frozen: true,
  } as const;
  book.hear({ kind: 'engine', event }, rig.nowS);
  const status = run(3, { 1: BOTH[1] });
  const [first, second] = statusInWords(status);
  expect(first).toContain('; Tobias Maar lost since');
  expect(second).toContain('tracker 2 of Tobias Maar frozen since');
  expect(status).toMatchObject({
    performers: [{}, { name: 'tobias', label: 'Tobias Maar' }],
    frozenTrackers: [{ performer: 'tobias', performerLabel: 'Tobias Maar' }],
  });
});

it('who is resumed after a stop of everybody is no longer stopped: a dead tracker of theirs is told as such', () => {
  const { run, rig } = following();
  run(6, BOTH);
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  run(3, BOTH);
  rig.order({ kind: 'resume', performer: 'ines', cause: 'command' });
  const resumed = run(6, BOTH);
  expect(resumed.performers[0]).toMatchObject({ name: 'ines', state: 'live' });
  const [line] = statusInWords(resumed);
  expect(line).toMatch(/1 of 2 performers live; tobias stopped by an operator since/);
  expect(line).not.toContain('everybody is stopped');
  expect(line).toMatch(/light without a performer and hazardous outputs are stopped until/);
  const lost = run(3, { 2: BOTH[2] });
  expect(lost.performers[0]).toMatchObject({ state: 'lost', cause: 'tracker-silent' });
  expect(statusInWords(lost)[0]).toMatch(/ines lost since [\d:]+ \(tracker silent\)/);
});

it('after a stop the cause is what keeps the light away now, since when it has, and the log says so', () => {
  const { run, rig } = following();
  run(6, BOTH);
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  run(4, BOTH);
  run(4, { 2: BOTH[2] });
  const diedS = rig.nowS - 4;
  rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
  const status = run(4, { 2: BOTH[2] });
  expect(status.performers[0]).toMatchObject({ state: 'lost', cause: 'tracker-silent' });
  const since = Date.parse(status.performers[0]?.since ?? '') / 1e3 - unixOffsetS();
  expect(Math.abs(since - diedS)).toBeLessThan(0.3);
  expect(statusInWords(status)[0]).toMatch(/ines lost since [\d:]+ \(tracker silent\)/);
  const told = rig.eventsOf('performer').filter(({ from, to }) => from === to);
  expect(told).toMatchObject([{ performer: 'ines', to: 'safe', cause: 'tracker-silent' }]);
  const [entry] = told.map(event => describe({ kind: 'engine', event }));
  expect(entry).toMatchObject({ level: 'warn' });
  expect(entry?.text).toMatch(/^ines: lost, the light stays at its safe values \(tracker silent\)/);
  expect(run(5, BOTH).performers[0]).toMatchObject({ state: 'live' });
});

it('a stop is as old as it is, whichever engine knows of it', () => {
  const { book } = following();
  const stops = { everybody: false, stillStopped: ['ines'], stopOfEverybody: false } as const;
  const event = { kind: 'stopped', performers: ['ines'], ...stops } as const;
  book.hear({ kind: 'engine', event: { ...event, cause: 'command' } }, 2000);
  const since = () => book.status(2000).performers[0]?.since ?? '';
  const before = Date.parse(since());
  for (const nowS of [2100, 2200]) {
    book.hear({ kind: 'engine-started', pid: 43 }, nowS);
    book.hear({ kind: 'engine', event: { ...event, cause: 'restored' } }, nowS + 1);
    expect(Math.abs(Date.parse(since()) - before)).toBeLessThan(1000);
  }
  const resumed = { ...event, kind: 'resumed', stillStopped: [], cause: 'command' } as const;
  book.hear({ kind: 'engine', event: resumed }, 2300);
  book.hear({ kind: 'engine', event: { ...event, cause: 'command' } }, 2400);
  expect(Math.abs(Date.parse(since()) - before - 400_000)).toBeLessThan(1000);
});

it('a stop of before a restart of the daemon is told since it was asked for', () => {
  const rig = new Rig(HOUSE);
  const book = new StatusBook(rig.show, rig.nowS);
  const askedUnixS = 1_768_300_000;
  const stop = { kind: 'stop', performer: 'ines', cause: 'restored' } as const;
  const stoppedSince = { ines: askedUnixS };
  const stoppedBy = { ines: 'control socket (user anna uid 1000)' };
  const changes = [stop];
  book.hear(
    { kind: 'state-restored', file: '/s/o.json', entries: 1, changes, stoppedSince, stoppedBy },
    rig.nowS,
  );
  book.hear({ kind: 'engine-started', pid: 42 }, rig.nowS);
  rig.order(stop);
  rig.run(1, BOTH);
  for (const event of rig.events) book.hear({ kind: 'engine', event }, event.atS);
  const [ines] = book.status(rig.nowS).performers;
  expect(ines).toMatchObject({ state: 'stopped', stoppedBy: 'anna' });
  expect(Date.parse(ines?.since ?? '') / 1e3).toBeCloseTo(askedUnixS, 1);
});

it('says who stopped whom: a user, the panel at an address, or a sender', () => {
  const { rig, book, run } = following();
  run(6, BOTH);
  const anna = 'control socket (user anna uid 1000)';
  rig.order({ kind: 'stop', performer: 'tobias', cause: 'command', by: anna });
  run(4, BOTH);
  expect(statusInWords(book.status(rig.nowS))[0]).toContain('; tobias stopped by anna since ');
  // Who was stopped already stays so by whoever asked first.
  const panel = 'control socket (user panel at 10.0.0.5)';
  rig.order({ kind: 'stop', performer: undefined, cause: 'command', by: panel });
  run(4, BOTH);
  const { performers, stops } = book.status(rig.nowS);
  expect(performers.map(({ stoppedBy }) => stoppedBy)).toEqual(['the panel at 10.0.0.5', 'anna']);
  expect(stops).toMatchObject({ everybody: true, by: 'the panel at 10.0.0.5' });
  const [line] = statusInWords(book.status(rig.nowS));
  expect(line).toContain('; everybody is stopped (by the panel at 10.0.0.5);');
  // Another engine is told of the stops without who asked.
  book.hear({ kind: 'engine-started', pid: 43 }, rig.nowS);
  book.hear(
    {
      kind: 'engine',
      event: {
        ...{ kind: 'stopped', performers: ['ines', 'tobias'], everybody: true, cause: 'restored' },
        ...{ stillStopped: ['ines', 'tobias'], stopOfEverybody: true },
      },
    },
    rig.nowS + 1,
  );
  expect(book.status(rig.nowS + 1).stops).toEqual(stops);
  expect(book.status(rig.nowS + 1).performers[1]).toMatchObject({ stoppedBy: 'anna' });
});

it('says that it is a rehearsal, until that is over or is not said again', () => {
  const { rig, book, run } = following();
  run(6, BOTH);
  expect(book.rehearse('Act two', undefined, rig.nowS)).toBe(true);
  expect(statusInWords(book.status(rig.nowS + 9000))[0]).toContain(': REHEARSAL (Act two); ');
  expect(book.rehearse(undefined, undefined, rig.nowS)).toBe(true);
  expect(book.status(rig.nowS).rehearsal).toBeUndefined();
  // As a player says it: again and again, and it is over when the player has died.
  expect(book.rehearse('Act two', 10, rig.nowS)).toBe(true);
  expect(book.rehearse('Act two', 10, rig.nowS + 8)).toBe(false);
  expect(book.status(rig.nowS + 17).rehearsal?.what).toBe('Act two');
  expect(book.status(rig.nowS + 19).rehearsal).toBeUndefined();
});

it('lists who is told where people are, and why nothing leaves', () => {
  const { rig, book } = following(`${HOUSE}receivers:
  rack: { address: 10.0.0.5, port: 9050 }
positions:
  sound: { to: rack, protocol: psn, axes: [x, z, y], rate: 60, ahead: 0.1 }
`);
  const told = { name: 'sound', protocol: 'psn', receiver: 'rack', to: '10.0.0.5:9050' };
  expect(book.status(rig.nowS).positions).toEqual([
    { ...told, rateHz: 60, aheadS: 0.1, trouble: undefined },
  ]);
  book.trouble('receiver rack', "receiver rack can't be told: no cable", rig.nowS);
  expect(book.status(rig.nowS).positions[0]?.trouble).toContain('no cable');
});

it('calls the stage at the safe look only when all of it is, and names what a stop leaves alone', () => {
  const cues =
    'cues:\n  one: {}\n  two: { mappings: [glow], base: { window-wash: { Dimmer: 60 } } }\n';
  const named = HOUSE.replace(
    '{ zone: stove, fixtures: [stove-glow]',
    '{ name: glow, zone: stove, fixtures: [stove-glow]',
  );
  const { rig, book, run } = following(`${named}${cues}`);
  run(6, BOTH);
  rig.order({ kind: 'cue', to: { name: 'two' }, cause: 'command', by: 'x', id: 1 });
  book.cue.goTo(1, rig.nowS);
  run(8, BOTH);
  const wash = rig.level('window-wash');
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  const fading = run(0.5, BOTH);
  expect(statusInWords(fading)[0]).toMatch(
    /nobody is live; the light of all performers is fading to its safe values; left/,
  );
  const stopped = run(6, BOTH);
  // Nobody drives it in this cue: no stop takes it to the 30 % of its safe look.
  expect([wash, rig.level('window-wash')]).toEqual([60, 60].map(level => expect.closeTo(level, 0)));
  expect(stopped.light).toBe('partly');
  expect(stopped.leftAlone).toContain('window-wash');
  expect(stopped.leftAlone).not.toContain('stove-glow');
  const words =
    /cue two; nobody is live; the light of all performers is at its safe values; left as it is: window-wash, /;
  expect(statusInWords(stopped)[0]).toMatch(words);
  expect(statusInWords(stopped)[0]).not.toContain('SAFE LOOK');
  // The same light after a silent feed: the same words.
  rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
  run(8, BOTH);
  expect(statusInWords(run(6, {}))[0]).toMatch(words);
});

it('says what is highlighted after a reload that goes on, too, while the show has it', () => {
  const { rig, book, run } = following(
    `${HOUSE.replace('{ zone: stove', '{ name: glow, zone: stove')}cues: { one: { mappings: [glow] } }\n`,
  );
  run(2, {});
  rig.order({ kind: 'highlight', fixture: 'head', cause: 'command' });
  run(1, {});
  book.goOn(rig.show);
  expect(book.status(rig.nowS)).toMatchObject({ light: 'partly', highlighted: 'head' });
  expect(book.status(rig.nowS).leftAlone).not.toContain('head');
  const other = HOUSE.replace('  head:', '  renamed:').replaceAll('[head]', '[renamed]');
  book.goOn(new Rig(other).show);
  expect(book.status(rig.nowS).highlighted).toBeUndefined();
});

it('names nothing as left that is dark, as in the safe look', () => {
  const cues =
    'cues:\n  one: {}\n  two: { mappings: [glow], base: { lit-head: { Dimmer: 0 } } }\n  three: { mappings: [glow], base: { head: { Dimmer: 30 } } }\n';
  const named = HOUSE.replace(
    '{ zone: stove, fixtures: [stove-glow]',
    '{ name: glow, zone: stove, fixtures: [stove-glow]',
  );
  const { rig, book, run } = following(`${named}${cues}`);
  const inCue = (index: number, name: string) => {
    rig.order({ kind: 'cue', to: { name }, cause: 'command', by: 'x', id: index });
    book.cue.goTo(index, rig.nowS);
    run(8, BOTH);
    return run(6, {}).leftAlone;
  };
  const two = inCue(1, 'two');
  expect([rig.level('head'), rig.level('lit-head')]).toEqual([0, 0]);
  expect(two).not.toContain('head');
  // Dark, but 40 % in the safe look.
  expect(two).toContain('lit-head');
  expect(inCue(2, 'three')).toContain('head');
});

it('says nothing of the safe look while a fixture is highlighted', () => {
  const { rig, run } = following();
  run(6, BOTH);
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  expect(run(8, BOTH).light).toBe('safe look');
  rig.order({ kind: 'highlight', fixture: 'head', whileTracked: true, cause: 'command' });
  const shown = run(1, BOTH);
  expect(shown).toMatchObject({ light: 'partly', highlighted: 'head' });
  expect(statusInWords(shown)[0]).toMatch(
    /the light of all performers is at its safe values, except head, which is highlighted/,
  );
  rig.order({ kind: 'highlight', fixture: undefined, cause: 'command' });
  expect(run(1, BOTH).light).toBe('safe look');
});

it('says nothing of the safe look while no light leaves, nor while a light is that of somebody off stage', () => {
  const { rig, book, run } = following();
  run(6, BOTH);
  rig.order({ kind: 'off', performer: 'tobias', away: true, cause: 'command' });
  const silent = run(6, {});
  const [first] = statusInWords(silent);
  expect(first).toMatch(
    /nobody is live; the light of all performers is at its safe values; left as it is: /,
  );
  expect(silent.leftAlone).toEqual(['window-inverse', 'lit-head']);
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  const stopped = run(3, {});
  // The stop takes the light of those off stage too.
  expect(stopped).toMatchObject({ light: 'safe look', leftAlone: [] });
  book.hear(
    { kind: 'lighting', event: { kind: 'carrier-lost', interface: '127.0.0.1' } },
    rig.nowS,
  );
  expect(statusInWords(book.status(rig.nowS))[0]).not.toMatch(/SAFE LOOK|safe values/);
});

it('who is off stage and was never heard goes to the safe values by a stop, and that is told', () => {
  const { rig, run } = following();
  rig.order({ kind: 'off', performer: 'tobias', away: true, cause: 'command' });
  run(2, { 1: BOTH[1] });
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  run(2, { 1: BOTH[1] });
  const event = rig.eventsOf('performer').findLast(one => one.performer === 'tobias');
  expect(event).toMatchObject({ from: 'losing', to: 'waiting' });
  expect(event && describe({ kind: 'engine', event }).text).toBe(
    'tobias: the light is at its safe values; not heard since the engine started',
  );
});

it('says on whom each head is that chooses, and goes on after a reload', () => {
  const { run, book, rig } = following(
    HOUSE.replace(/follow: ines/, 'follow: { share: company }').replace(
      /\nzones:/,
      '\ngroups: { company: [ines, tobias] }\nzones:',
    ),
  );
  const heads = (status: ReturnType<typeof run>) =>
    status.heads.map(({ fixture, performer, performerLabel }) => [
      fixture,
      performer,
      performerLabel,
    ]);
  expect(heads(run(0.1, {}))).toEqual([['head', undefined, undefined]]);
  const one = run(8, { 1: BOTH[1] });
  expect(heads(one)).toEqual([['head', 'ines', 'ines']]);
  book.goOn(rig.show);
  expect(heads(book.status(rig.nowS))).toEqual([['head', 'ines', 'ines']]);
  const pin = (performer: string | undefined) => {
    rig.order({ kind: 'pin', fixture: 'head', performer, cause: 'command', by: 'x', id: 1 });
    return statusInWords(run(0.2, { 1: BOTH[1] }))[1];
  };
  expect(pin('ines')).toContain('head pinned to ines');
  expect(pin(undefined)).not.toContain('pinned');
  expect(heads(run(12, { 2: BOTH[2] }))).toEqual([['head', 'tobias', 'tobias']]);
  book.hear({ kind: 'engine-started', pid: 43 }, rig.nowS);
  expect(heads(book.status(rig.nowS))).toEqual([['head', undefined, undefined]]);
});

it('names a signal by OSC that is not heard, for as long', () => {
  const { book } = following();
  const tell = (event: Partial<Extract<EngineNews, { kind: 'signal' }>>, atS: number) => {
    book.hear(
      {
        kind: 'engine',
        event: { kind: 'signal', signal: 'train', silent: true, silentForS: 3, ...event },
      },
      atS,
    );
    return book.status(atS).troubles.map(({ what }) => what);
  };
  expect(tell({ neverHeard: true }, 5)).toEqual([
    'signal train has not been heard yet: what depends on it is at its safe values',
  ]);
  expect(tell({ silent: false }, 6)).toEqual([]);
  expect(tell({}, 9)).toEqual([
    'signal train is no longer heard: what depends on it is at its safe values',
  ]);
  book.hear({ kind: 'engine-started', pid: 43 }, 10);
  expect(book.status(10).troubles).toEqual([]);
});

it('says which nodes that an output lists do not answer, until they do', () => {
  const show = parseShow(
    changed(
      'outputs:',
      'outputs:\n  nodes: { protocol: artnet, interface: 127.0.0.1, to: [127.0.0.9, 127.0.0.8], universes: [1] }',
    ),
    'nodes.show.yaml',
  );
  if (!show.ok) throw new Error('not valid');
  const book = new StatusBook(show.show, 10);
  const told = (event: LightingEvent, nowS: number) => {
    book.hear({ kind: 'lighting', event }, nowS);
    return book.status(nowS).troubles.map(({ what }) => what);
  };
  const where = 'where output nodes sends: is it on, and its cable in?';
  expect(told({ kind: 'node-silent', ip: '127.0.0.9', output: 'nodes' }, 11)).toEqual([
    `no Art-Net node answers at 127.0.0.9, ${where}`,
  ]);
  expect(told({ kind: 'node-gone', ip: '127.0.0.8', name: 'wash' }, 12)).toEqual([
    `no Art-Net node answers at 127.0.0.9 and 127.0.0.8, ${where}`,
  ]);
  const found = (ip: string) => ({ kind: 'node-found', ip, name: '', portAddresses: [] }) as const;
  expect(told(found('127.0.0.9'), 13)).toEqual([`no Art-Net node answers at 127.0.0.8, ${where}`]);
  expect(told(found('127.0.0.8'), 14)).toEqual([]);
  told({ kind: 'node-silent', ip: '127.0.0.9', output: 'nodes' }, 14);
  expect(told({ kind: 'node-is-partner', ip: '127.0.0.9', output: 'nodes' }, 14)).toEqual([]);
  expect(told({ kind: 'node-gone', ip: '127.0.0.77', name: 'not ours' }, 15)).toEqual([]);
});

it('says why positions that come are refused, of trackers that nobody wears while somebody is missed', () => {
  const { book, run, rig } = following();
  const { nowS } = rig;
  const refused = (perS: number, unworn = 0) => {
    const all = counters(100, 0);
    const drops = { ...all.drops, 'sender-not-allowed': perS, 'unknown-tracker': unworn };
    return { ...all, drops, latestFrom: { 'sender-not-allowed': '10.1.0.77' } };
  };
  book.count(refused(0), nowS);
  book.count(refused(30, 20), nowS + 1);
  const what = '30 a second refused: 10.1.0.77 is not in allow';
  const unworn = '20 a second refused: positions of a tracker that nobody in the show wears';
  const whats = () =>
    book
      .status(rig.nowS)
      .troubles.map(one => one.what)
      .sort();
  expect(whats()).toEqual([unworn, what]);
  expect(statusInWords(book.status(nowS + 1))[1]).toContain(what);
  run(6, BOTH);
  expect(whats()).toEqual([what]);
  run(4, { 2: BOTH[2] });
  expect(whats()).toEqual([unworn, what]);
  book.count(refused(30, 20), nowS + 2);
  expect(book.status(rig.nowS).troubles).toEqual([]);
});

it('names the sockets that were full, for a minute after the last datagram was lost there', () => {
  const { book } = following();
  const full = (fullSockets: Readonly<Record<string, number>>) => ({
    ...counters(100, 0),
    fullSockets,
  });
  const troubles = (nowS: number) => book.status(nowS).troubles;
  const words = 'the system dropped them, because more came than this machine could read';
  book.count(full({}), 2000);
  book.count(full({ a: 3 }), 2001);
  book.count(full({ a: 3, b: 1 }), 2002);
  book.count(full({ a: 5, b: 1 }), 2030);
  expect(troubles(2062)).toMatchObject([
    { what: `5 datagrams lost at a: ${words}` },
    { what: `1 datagram lost at b: ${words}` },
  ]);
  expect(troubles(2063)).toMatchObject([{ what: `5 datagrams lost at a: ${words}` }]);
  expect(troubles(2091)).toEqual([]);
  // Another flood is another matter.
  book.count(full({ a: 5, b: 1 }), 2099);
  book.count(full({ a: 6, b: 1 }), 2100);
  expect(troubles(2100)).toMatchObject([{ what: `1 datagram lost at a: ${words}` }]);
  const still = 'the system dropped them, because the daemon stood still and did not read them';
  book.hear({ kind: 'stood-still', forS: 5 }, 2200);
  book.count(full({ a: 31, b: 1 }), 2201);
  expect(troubles(2201)).toMatchObject([{ what: `25 datagrams lost at a: ${still}` }]);
  book.count(full({ a: 33, b: 1 }), 2210);
  expect(troubles(2210)).toMatchObject([{ what: `27 datagrams lost at a: ${words}` }]);
  book.hear({ kind: 'engine', event: { kind: 'stalled', stalledS: 5 } }, 2300);
  book.count(full({ a: 34, b: 1 }), 2301);
  expect(troubles(2301)).toMatchObject([{ what: `1 datagram lost at a: ${still}` }]);
});

it('does not call somebody unheard whose positions come and are not followed, and says why', () => {
  const measured = HOUSE.replace('port: 9010', 'port: 9010\n    timeTags: measured');
  const { run, rig } = following(measured);
  const fromS = rig.nowS;
  const status = run(8, BOTH);
  expect(status.performers).toMatchObject([
    { state: 'not heard', heardBut: 'no-time-stamp' },
    { state: 'not heard', heardBut: 'no-time-stamp' },
  ]);
  const sinceS = Date.parse(status.performers[0]?.since ?? '') / 1e3 - unixOffsetS();
  expect(sinceS - fromS).toBeGreaterThan(1);
  expect(statusInWords(status)[0]).toMatch(
    /ines, tobias heard since \d\d:\d\d:\d\d, but without a time stamp: its system sends none/,
  );
  // Nothing comes any more.
  const [ines] = run(4, {}).performers;
  expect(ines?.heardBut).toBeUndefined();
});

it('says of everybody that their positions are refused where nobody is heard for it', () => {
  const { book, run, rig } = following();
  run(8, {});
  const refused = (perS: number) => {
    const all = counters(100, 0);
    return { ...all, drops: { ...all.drops, 'sender-not-allowed': perS } };
  };
  book.count(refused(0), rig.nowS);
  book.count(refused(30), rig.nowS + 1);
  const [line] = statusInWords(book.status(rig.nowS + 1));
  expect(line).toMatch(/ines, tobias heard since .*, but every position is refused/);
  book.count(refused(30), rig.nowS + 2);
  expect(statusInWords(book.status(rig.nowS + 2))[0]).toContain('ines, tobias not heard since');
});

it('says what the panel has turned away, in words for ten minutes, and what else is wrong with it meanwhile', () => {
  const { book } = following();
  const kind = 'panel';
  const one = { reason: 'token wrong', from: '10.0.0.9', lastS: 1_764_000_000 } as const;
  book.hearPanel({ kind, state: 'trouble', reason: 'its token file is gone' }, 100);
  const told = (count: number, since: number, atS: number) =>
    book.hearPanel(
      { kind, state: 'turned-away', all: [{ ...one, count }], since: [{ ...one, count: since }] },
      atS,
    );
  told(3, 3, 110);
  told(12, 9, 120);
  const status = book.status(130);
  expect(status.turnedAway).toEqual([
    {
      reason: 'token wrong',
      count: 12,
      recent: 12,
      from: '10.0.0.9',
      last: '2025-11-24T16:00:00.000Z',
    },
  ]);
  const [, line] = statusInWords(status);
  expect(line).toContain('the panel turned away 12 wrong tokens, the last from 10.0.0.9');
  expect(line).toContain('the panel: its token file is gone');
  expect(statusInWords(book.status(715))[1]).toContain('turned away 9 wrong tokens');
  expect(statusInWords(book.status(800))[1]).not.toContain('turned away');
  expect(book.status(800).turnedAway[0]).toMatchObject({ count: 12, recent: 0 });
  // Another process of it counts from 0.
  book.hearPanel({ kind, state: 'listening', url: 'http://127.0.0.1:7240' }, 810);
  expect(book.status(811).turnedAway).toEqual([]);
  expect(book.status(811).troubles.map(({ what }) => what)).toEqual([]);
});

it('names the light of who is stopped that another machine sends, for as long as they are', () => {
  const shared = HOUSE.replace(
    'universes: [1, 2] }',
    'universes: [1] }\n  upstage: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [2] }',
  );
  const { rig, run } = following(shared, ['lamps']);
  expect(run(6, BOTH).troubles).toEqual([]);
  rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
  const one = run(1, BOTH);
  expect(one.troubles).toEqual([
    {
      what: 'the light of ines on output "upstage" is sent by another machine: check that they are stopped there too',
      since: one.performers[0]?.since,
    },
  ]);
  expect(statusInWords(one)[1]).toContain(one.troubles[0]?.what);
  rig.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
  expect(run(1, BOTH).troubles).toMatchObject([
    { what: expect.stringMatching(/^the light of ines and tobias on output/) },
  ]);
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  expect(run(1, BOTH).troubles).toMatchObject([
    {
      what: 'light on output "upstage" is sent by another machine: check that everybody is stopped there too',
    },
  ]);
  rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
  expect(run(1, BOTH).troubles).toEqual([]);
});

const SACN = `outputs:
  lamps: { protocol: sacn, interface: eth0, to: multicast, universes: [1, 2] }
`;
const OUTPUTS = /outputs:\n(?: .*\n)+/;

it('says what the stage shows where no light leaves, or receivers take the other machine', () => {
  const rig = new Rig(HOUSE.replace(OUTPUTS, SACN));
  rig.run(4, BOTH);
  let views: readonly PairPartView[] = [];
  let standby = false;
  const book = new StatusBook(rig.show, 0, {
    get standby() {
      return standby;
    },
    look: () => views,
  });
  book.hear({ kind: 'lights', from: 'safe', to: 'live', cause: 'the engine is well' }, rig.nowS);
  for (const event of rig.events) book.hear({ kind: 'engine', event }, event.atS);
  const hear = (event: LightingEvent) => book.hear({ kind: 'lighting', event }, rig.nowS);
  const light = () => book.status(rig.nowS).light;
  expect(light()).toBe('live');

  const main = { other: 'heard', lastHeardS: rig.nowS, address: '10.0.0.11' } as const;
  const part = (phase: PairPartView['phase'], other: PairPartView['other'] = main) => {
    views = [{ interface: 'eth0', phase, sinceS: 10, other }];
    return light();
  };
  expect(part('joining')).toBe('other machine');
  expect(part('leading')).toBe('live');
  standby = true;
  expect(part('standing-by')).toBe('other machine');
  expect(part('standing-by', { ...main, other: 'comes back' })).toBe('live');
  expect(part('standing-in', { ...main, other: 'silent' })).toBe('live');
  // On one of two networks this machine leads.
  standby = false;
  const leads = { interface: 'eth1', phase: 'leading', sinceS: 10, other: main } as const;
  views = [{ ...leads, interface: 'eth0', phase: 'joining' }, leads];
  expect(light()).toBe('live');
  views = [];

  hear({ kind: 'carrier-lost', interface: 'eth0' });
  expect(light()).toBe('not sent');
  hear({ kind: 'carrier-back', interface: 'eth0' });
  expect(light()).toBe('live');
  const reason = 'EPERM';
  hear({
    kind: 'send-failed',
    output: 'lamps',
    interface: 'eth0',
    reason,
    count: 9,
    sent: 0,
  });
  expect(light()).toBe('not sent');
});

it('a main machine that comes back still sends the Art-Net that it goes on with', () => {
  const show = HOUSE.replace(
    OUTPUTS,
    `${SACN.replace('[1, 2]', '[1]')}  heads: { protocol: artnet, interface: eth0, to: [10.0.0.5], universes: [2] }\n`,
  );
  const other = { other: 'heard', lastHeardS: 11, address: '10.0.0.12' } as const;
  const look = () => [{ interface: 'eth0', phase: 'joining', sinceS: 10, other } as const];
  const book = new StatusBook(new Rig(show).show, 10, { standby: false, look });
  expect(book.status(12).light).toBe('safe look');
  book.hear(
    { kind: 'lighting', event: { kind: 'artnet-held', interface: 'eth0', held: true } },
    12,
  );
  expect(book.status(13).light).toBe('other machine');
});
