import { expect, test } from 'vitest';
import { SenderWatch } from '../../../src/daemon/status/sender-watch.js';

/** Positions a second by tracker and sender, for some looks, one a second. */
class Feeds {
  readonly #watch = new SenderWatch();
  readonly #positions = new Map<string, number>();
  #nowS = 100;

  look(perS: Readonly<Record<string, number>>, looks: number): string | undefined {
    let said: string | undefined;
    for (let i = 0; i < looks; i++) {
      this.#nowS += 1;
      for (const [key, more] of Object.entries(perS)) {
        this.#positions.set(key, (this.#positions.get(key) ?? 0) + more);
      }
      const feeds = [...this.#positions].map(([key, positions]) => {
        const [tracker = '', from = '', input = 'tracking'] = key.split(' ');
        return { tracker, from, input, positions };
      });
      said = this.#watch.look(feeds, this.#nowS);
    }
    return said;
  }

  restart(): void {
    for (const key of this.#positions.keys()) this.#positions.set(key, 0);
  }
}

test('a scene that is played beside the live feed is told of, with both addresses, until it ends', () => {
  const feeds = new Feeds();
  const live = { '1 10.0.0.5': 40, '2 10.0.0.5': 40, '7 10.0.0.5': 40 };
  expect(feeds.look(live, 20)).toBeUndefined();
  const both = { ...live, '1 10.0.0.9': 25, '2 10.0.0.9': 25 };
  expect(feeds.look(both, 3)).toBeUndefined();
  // Both have sent for three seconds: sooner than a performer who is lost by it comes back.
  expect(feeds.look(both, 1)).toBe(
    'trackers 1 and 2 are sent by two at once: 10.0.0.5 (input tracking, 40 a second) and 10.0.0.9 (input tracking, 25 a second)',
  );
  // It stays told while one of them falters.
  expect(feeds.look(live, 1)).toContain('sent by two');
  expect(feeds.look(both, 1)).toContain('sent by two');
  expect(feeds.look(live, 4)).toBeUndefined();
});

test('a server that begins before the other has ended is none either', () => {
  const feeds = new Feeds();
  feeds.look({ '1 10.0.0.5': 40 }, 10);
  feeds.look({ '1 10.0.0.5': 40, '1 10.0.0.9': 40 }, 1);
  for (let i = 0; i < 10; i++) {
    const old: Record<string, number> = i < 2 ? { '1 10.0.0.5': 20 } : {};
    expect(feeds.look({ ...old, '1 10.0.0.9': 40 }, 1)).toBeUndefined();
  }
});

test('one number by two inputs is two senders, a slow one too', () => {
  const feeds = new Feeds();
  expect(feeds.look({ '1 10.0.0.5': 1, '1 10.0.0.5 stage': 60 }, 12)).toBe(
    'tracker 1 is sent by two at once: 10.0.0.5 (input tracking, 1 a second) and 10.0.0.5 (input stage, 60 a second)',
  );
});

test('a server that makes room for another is none, nor is an engine that counts from 0', () => {
  const feeds = new Feeds();
  feeds.look({ '1 10.0.0.5': 40 }, 10);
  expect(feeds.look({ '1 10.0.0.9': 40 }, 1)).toBeUndefined();
  for (let i = 0; i < 10; i++) expect(feeds.look({ '1 10.0.0.9': 40 }, 1)).toBeUndefined();
  feeds.restart();
  for (let i = 0; i < 10; i++) expect(feeds.look({ '1 10.0.0.9': 40 }, 1)).toBeUndefined();
});

/** What an engine has counted of tracker 1, one look a second. @param perS positions a second by port */
function byPorts(
  watch: SenderWatch,
  looks: number,
  perS: (look: number) => Readonly<Record<number, number>>,
  apartPerS: number,
) {
  const counts = new Map<number, number>();
  let said: string | undefined;
  for (let look = 1; look <= looks; look++) {
    for (const [port, more] of Object.entries(perS(look))) {
      counts.set(Number(port), (counts.get(Number(port)) ?? 0) + more);
    }
    const ports = [...counts].slice(-4).map(([port, positions]) => ({ port, positions }));
    const positions = [...counts.values()].reduce((a, b) => a + b);
    const feed = { tracker: '1', from: '10.0.0.5', input: 'tracking', positions };
    said ??= watch.look([{ ...feed, ports: ports.reverse(), apart: apartPerS * look }], 100 + look);
  }
  return said;
}

test('two programs on one machine are told of by their ports, if they place the tracker apart', () => {
  const both = () => ({ 50002: 25, 50001: 20 });
  expect(byPorts(new SenderWatch(), 20, both, 40)).toBe(
    'tracker 1 is sent by two at once: 10.0.0.5 port 50001 (input tracking, 20 a second) and 10.0.0.5 port 50002 (input tracking, 25 a second)',
  );
  expect(byPorts(new SenderWatch(), 60, both, 0)).toBeUndefined();
});

test('one sender is not taken for two where its port changes: at each restart, or with each datagram', () => {
  const restarts = (look: number) => ({ [50_000 + Math.floor(look / 10)]: 25 });
  expect(byPorts(new SenderWatch(), 100, restarts, 1)).toBeUndefined();
  const each = (look: number) =>
    Object.fromEntries(Array.from({ length: 25 }, (_, i) => [40_000 + 25 * look + i, 1]));
  expect(byPorts(new SenderWatch(), 100, each, 25)).toBeUndefined();
});

test('of many trackers some are named', () => {
  const feeds = new Feeds();
  const all = Array.from({ length: 40 }, (_, i) => i + 1);
  const both = Object.fromEntries(
    all.flatMap(n => [
      [`${n} 10.0.0.5`, 40],
      [`${n} 10.0.0.9`, 40],
    ]),
  );
  expect(feeds.look(both, 12)).toMatch(/^trackers 1, 2, 3, 4, 5, 6 and 34 more are sent by two/);
});
