// A gateway on the lighting network: hears all universes, arbitrates as E1.31 6.2.3 and 6.7.1 say, and tells of it. Each
// line of standard input is answered by one of JSON: what was heard since the last "begin".
import { createSocket } from 'node:dgram';
import { createInterface } from 'node:readline';

const [universes, address] = [Number(process.argv[2]), process.argv[3]];
const GONE_S = 2.5;
const [FIRST_LEVEL, PRIORITY, OPTIONS, UNIVERSE] = [126, 108, 112, 113];

const nowS = () => performance.now() / 1e3;
const all = Array.from({ length: universes }, () => ({ sources: new Map(), owner: '', lastS: 0 }));
let stretch = all.map(() => blank());
let packets = 0;

function blank() {
  return { longestS: 0, changes: 0, step: 0 };
}

const socket = createSocket({ type: 'udp4', reuseAddr: true });
socket.on('message', (bytes, from) => {
  const one = all[bytes.readUInt16BE(UNIVERSE) - 1];
  if (one === undefined || bytes.length <= FIRST_LEVEL) return;
  packets += 1;
  const atS = nowS();
  const heard = stretch[bytes.readUInt16BE(UNIVERSE) - 1];
  if (bytes[OPTIONS] & 0x40) one.sources.delete(from.address);
  else one.sources.set(from.address, { atS, priority: bytes[PRIORITY], level: bytes[FIRST_LEVEL] });
  let best;
  for (const [who, source] of one.sources) {
    if (atS - source.atS > GONE_S) continue;
    if (best === undefined || source.priority > best.priority) best = { ...source, who };
  }
  if (best === undefined) return;
  if (best.who !== one.owner) heard.changes += 1;
  // What it shows stays until another packet of whoever has it.
  if (best.who === from.address || best.who !== one.owner) {
    if (one.lastS > 0) heard.longestS = Math.max(heard.longestS, atS - one.lastS);
    if (one.level !== undefined)
      heard.step = Math.max(heard.step, Math.abs(best.level - one.level));
    one.level = best.level;
    one.lastS = atS;
  }
  one.owner = best.who;
  one.priority = best.priority;
});
socket.bind(5568, () => {
  socket.setRecvBufferSize(8 << 20);
  for (let universe = 1; universe <= universes; universe++) {
    socket.addMembership(`239.255.${universe >> 8}.${universe & 0xff}`, address);
  }
  console.log('ready');
});

createInterface({ input: process.stdin }).on('line', line => {
  const heard = all.map(({ owner, priority, sources }, i) => ({
    owner,
    priority,
    sources: [...sources].filter(([, { atS }]) => nowS() - atS <= GONE_S).length,
    ...stretch[i],
  }));
  console.log(JSON.stringify({ packets, heard }));
  if (line !== 'begin') return;
  stretch = all.map(() => blank());
  packets = 0;
});
