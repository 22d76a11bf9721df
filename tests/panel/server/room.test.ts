import { describe, expect, it } from 'vitest';
import { roomFor, scarceRoom } from '../../../src/panel/server/room.js';
import { Connections } from '../../../src/panel/server/serve.js';
import { Streams } from '../../../src/panel/server/streams.js';

describe('with few descriptors', () => {
  it('the panel takes on so many that streams, and as many who act, find one', () => {
    for (let left = 14; left < 1000; left++) {
      const { connections, streams, streamsOfOne } = roomFor(left);
      // A stream has one; each of the other connections may act, and takes a second one then.
      expect(streams + 2 * (connections - streams)).toBeLessThanOrEqual(left);
      expect(connections - streams).toBeGreaterThanOrEqual(Math.min(streams, 2));
      expect(streamsOfOne).toBeLessThanOrEqual(streams);
      expect(streams).toBeGreaterThan(0);
    }
  });

  it('it says how many may look, and nothing where all may', () => {
    expect(scarceRoom(roomFor(19))).toContain('4 pages at most');
    expect(scarceRoom(roomFor(0))).toContain('one page at most');
    expect([undefined, 400].map(left => scarceRoom(roomFor(left)))).toEqual([undefined, undefined]);
  });

  it('one stream too many is refused, and one connection too many closes the oldest', () => {
    const room = roomFor(19);
    const streams = new Streams(() => 0, undefined as never, room);
    expect(streams.hasRoomFor('10.0.0.9')).toBe(true);
    const none = new Streams(() => 0, undefined as never, { ...room, streams: 0 });
    expect(none.hasRoomFor('10.0.0.9')).toBe(false);
    const ended: number[] = [];
    const connections = new Connections(() => undefined, room.connections);
    for (let port = 0; port <= room.connections; port++) {
      const once = () => undefined as never;
      const destroy = () => ended.push(port) as never;
      connections.take({ remoteAddress: '127.0.0.1', remotePort: port, once, destroy });
    }
    expect(ended).toEqual([0]);
  });
});
