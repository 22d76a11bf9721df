// Every parser that reads what others send: good packets to begin with, and how to read a broken one.
// The modules come from the caller: from src/ in the tests, from dist/ in `npm run fuzz`.
const text = value => Buffer.from(value + '\0'.repeat(4 - (value.length % 4)), 'latin1');

/** @param library the functions of lampwright under test */
export function targetsOf(library) {
  const {
    encodePacket,
    decodeDatagram,
    DEFAULT_OSC_LIMITS,
    compileRoutes,
    readPositions,
    decodePsn,
    encodePsnData,
    encodePsnInfo,
    compilePsnFeed,
    readPsnPosition,
    compileTemplate,
    matchPattern,
    decodeSacn,
    createDataPacket,
    encodeDiscovery,
    decodePollReply,
    encodeControllerReply,
    decodeArtDmx,
    createDmxPacket,
    encodePoll,
    isPoll,
    PipeReader,
    PipeWriter,
    parseRequest,
    readOperatorState,
  } = library;
  const source = { cid: new Uint8Array(16).fill(7), sourceName: 'The Salt Lantern' };
  const float = value => ({ type: 'f', value });
  const position = address => ({ address, args: [2, 6, 1.4, 1].map(float) });
  const messages = [
    encodePacket(position('/tracker/1/position')),
    encodePacket({
      timeTag: 1_768_262_400,
      elements: [position('/tracker/1/position'), position('/tracker/2/position')],
    }),
    encodePacket({
      timeTag: 'immediately',
      elements: [{ timeTag: 1_768_262_401, elements: [position('/tracker/[1-3]/position')] }],
    }),
    Buffer.concat([text('/tracker/{1,2}/position'), text(',[fff]TFNI'), Buffer.alloc(12)]),
    Buffer.concat([text('/lampwright/stop'), text(',s'), text('ines')]),
    Buffer.concat([text('/a'), text(',sSbhtdcrm'), Buffer.alloc(64, 1)]),
    encodePacket({
      timeTag: 'immediately',
      elements: ['x', 'y'].map(axis => ({ address: `/t7/${axis}`, args: [float(0.5)] })),
    }),
    encodePacket({ address: '/all', args: [1, 2, 3, 4, 5, 6].map(float) }),
  ];
  const partsOf = (address, ...roles) => ({
    address,
    arguments: roles.map(role => ({ role, optional: false })),
    unitM: 1,
    axes: ['x', 'y', 'z'],
  });
  const routes = compileRoutes([
    { ...partsOf('/all'), each: partsOf('', 'tracker', 'x', 'y').arguments, quality: [0, 100] },
    { ...partsOf('/t{tracker}/x', 'x'), box: { x: [-6, 6] } },
    partsOf('/t{tracker}/y', 'y'),
    {
      address: '/tracker/{tracker}/position',
      arguments: ['x', 'y', 'z', 'quality'].map((role, i) => ({ role, optional: i > 1 })),
      unitM: 1,
      axes: ['x', 'y', 'z'],
    },
  ]);
  if (!routes.ok) throw new Error('the routes of the fuzzing are wrong');
  const feed = compilePsnFeed({ axes: ['x', '-z', 'y'], quality: [0, 100], stamps: 'if sent' });
  const frame = { timeUs: 5_000_000, number: 7 };
  const reports = [1, 2, 65_535].map(id => ({
    id,
    position: [id % 7, 1.4, 6],
    speed: [0, 0, 1],
    validity: 80,
    timestampUs: 4_990_000,
  }));
  const names = reports.map(({ id }) => ({ id, name: `Tracker ${id}` }));
  const raw = { tracker: '', x: 0, y: 0, z: 0, quality: undefined };
  const taker = {
    position({ x, y, z }) {
      if (!Number.isFinite(x + y + z)) throw new Error('not finite');
    },
    rejected() {},
  };
  const visitor = {
    message(address, args) {
      readPositions(routes.table, address, args, 1, raw, taker);
    },
    rejected() {},
  };

  const runs = { starts: Int32Array.of(0), lengths: Int32Array.of(8), count: 8 };
  const piped = [];
  const writer = new PipeWriter(
    { writableLength: 0, write: bytes => piped.push(Buffer.from(bytes)) },
    [runs, runs],
  );
  writer.section(0, new Uint8Array(8), 1, 2);
  writer.section(1, new Uint8Array(8), 1, 2);
  writer.json('hello', { pid: 1 });
  writer.json('events', [{ kind: 'feed', silent: true, performers: [] }]);
  writer.json('snapshot', { version: 1 });
  const nobody = { section() {}, json() {}, snapshot() {} };

  const poll = encodeControllerReply({ ip: '10.0.0.1', shortName: 'lampwright', longName: 'x' });
  poll.set([0x80, 0x80], 174);
  poll[173] = 2;

  return [
    {
      name: 'OSC datagram, address and route',
      corpus: messages,
      read: bytes => decodeDatagram(bytes, DEFAULT_OSC_LIMITS, visitor),
    },
    {
      name: 'PosiStageNet',
      corpus: [
        ...encodePsnData(frame, reports),
        ...encodePsnData(frame, [{ id: 3 }]),
        ...encodePsnInfo(frame, 'a tracking system', names),
      ],
      read: bytes =>
        decodePsn(bytes, {
          tracker(tracker) {
            if (readPsnPosition(feed, tracker, raw) === undefined) taker.position(raw);
          },
          systemName() {},
          trackerName() {},
          rejected() {},
        }),
    },
    {
      name: 'OSC address pattern and template',
      corpus: ['/tracker/{1,2,3}/pos*', '/a/[!b-d]?/{tracker}', '/tracker/{tracker}/position'].map(
        one => Buffer.from(one),
      ),
      read: bytes => {
        const address = bytes.toString('latin1');
        compileTemplate(address);
        matchPattern(address, '/tracker/2/position');
      },
    },
    {
      name: 'sACN',
      corpus: [
        createDataPacket({ ...source, universe: 1, priority: 100 }).buffer,
        ...encodeDiscovery(source, [1, 2, 3]),
        Buffer.from(
          '001000004153432d45312e3137000000702100000008' +
            '07'.repeat(16) +
            '700b00000001051f1a0000',
          'hex',
        ),
      ],
      read(bytes) {
        const packet = decodeSacn(bytes);
        if (packet.kind === 'data' && packet.slots.length > 512) throw new Error('too many slots');
      },
    },
    { name: 'ArtPollReply', corpus: [poll], read: bytes => decodePollReply(bytes) },
    {
      name: 'ArtDmx and ArtPoll',
      corpus: [createDmxPacket({ portAddress: 5, slotCount: 512 }).buffer, encodePoll()],
      read(bytes) {
        isPoll(bytes);
        if ((decodeArtDmx(bytes)?.slots.length ?? 0) > 512) throw new Error('too many slots');
      },
    },
    {
      name: 'pipe from the engine',
      corpus: [Buffer.concat(piped), ...piped],
      read(bytes) {
        const reader = new PipeReader([runs.count, runs.count], nobody);
        const half = bytes.length >> 1;
        reader.push(bytes.subarray(0, half));
        reader.push(bytes.subarray(half));
      },
    },
    {
      name: 'operator requests and state',
      corpus: [
        Buffer.from('["assign","7","ines"]'),
        Buffer.from(
          '{"trackers":{"7":"ines","1":null},"stopped":{"everybody":false,"performers":[]}}',
        ),
      ],
      read(bytes) {
        let value;
        try {
          value = JSON.parse(bytes.toString('utf8'));
        } catch {
          return;
        }
        readOperatorState(value);
        if (Array.isArray(value) && value.every(word => typeof word === 'string'))
          parseRequest(value);
      },
    },
  ];
}
