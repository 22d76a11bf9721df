import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { ask } from '../daemon/asking/ask.js';
import { type Followed, follow } from '../daemon/asking/follow.js';
import { goBehind } from '../daemon/beats/go-behind.js';
import { OwnFolder } from '../daemon/files/own-folder.js';
import { inPlainWords } from '../daemon/files/read-file.js';
import { monotonicS } from '../daemon/machine/clock.js';
import { ALLOW_MORE_FILES, descriptorsLeft } from '../daemon/machine/descriptor-limit.js';
import { CertificateWatch, readCertificate } from '../daemon/panel/certificate.js';
import { HistoryFile } from '../daemon/panel/history-file.js';
import type { PanelOrders, PanelWord } from '../daemon/panel/panel-runner.js';
import { forgetWhere, noteWhere, readWhere, tokenOf } from '../daemon/panel/token.js';
import { TokenWatch } from '../daemon/panel/token-watch.js';
import { LastPlaces } from '../live/last-places.js';
import type { LiveLine } from '../live/schema.js';
import { type PanelParts, panelApp } from '../panel/server/app.js';
import { Doors } from '../panel/server/doors.js';
import { Metrics } from '../panel/server/metrics.js';
import { PageFiles } from '../panel/server/page-files.js';
import { Record } from '../panel/server/record.js';
import { Releases } from '../panel/server/releases.js';
import { roomFor, scarceRoom } from '../panel/server/room.js';
import { serve } from '../panel/server/serve.js';
import { Streams } from '../panel/server/streams.js';
import { TurnedAwayLog } from '../panel/server/turned-away-log.js';
import { messageOf } from '../stage/message-of.js';
import { EXIT } from './terminal/exit-codes.js';

const BEAT_MS = 1000;
const AGAIN_MS = 500;
/** How often the last ten minutes are saved: so much of them may be lost in a restart. */
const KEEPS_EVERY_MS = 5000;
/** Rate of the daemon's stream while nobody looks: enough for metrics and the strips. */
const IDLE_HZ = 1;
const IGNORED = ['SIGINT', 'SIGTERM', 'SIGQUIT', 'SIGHUP', 'SIGUSR1', 'SIGUSR2'] as const;

/** The panel's process: not a command for people, the supervisor starts it. It ends when its standard input closes. */
export async function panelProcess(): Promise<number> {
  for (const signal of IGNORED) process.on(signal, () => undefined);
  process.stdout.on('error', () => process.exit(EXIT.ok));
  process.stderr.on('error', () => undefined);
  goBehind();
  const lines = createInterface({ input: process.stdin });
  const gone = new Promise<void>(resolve => lines.once('close', resolve));
  const first = await new Promise<string | undefined>(resolve => {
    lines.once('line', resolve);
    void gone.then(() => resolve(undefined));
  });
  if (first === undefined) return EXIT.ok;
  try {
    await run(JSON.parse(first) as PanelOrders);
  } catch (error) {
    say({ kind: 'fault', message: faultOf(error) });
    return EXIT.fault;
  }
  await gone;
  return EXIT.ok;
}

async function run(orders: PanelOrders): Promise<void> {
  const { folder, hosts } = orders;
  const history = new HistoryFile(folder);
  const record = new Record(monotonicS, line => history.add(line));
  record.restore(history.read(), Date.now() / 1e3);
  const kept = tokenIn(folder);
  if (kept.anew !== undefined) say({ kind: 'warning', message: kept.anew });
  const doors = new Doors(kept.token, hosts, monotonicS);
  const source = new Source(folder, record);
  const releases = new Releases(monotonicS);
  const room = roomFor(descriptorsLeft());
  const scarce = scarceRoom(room);
  if (scarce !== undefined) say({ kind: 'warning', message: `${scarce} ${ALLOW_MORE_FILES}` });
  const streams = new Streams(monotonicS, rateHz => source.look(Math.max(IDLE_HZ, rateHz)), room);
  source.onLine = line => streams.tell(line);
  const turnedAway = new TurnedAwayLog(monotonicS, () => Date.now() / 1e3);
  const metrics = new Metrics(record, streams, (reason, from) => turnedAway.note(reason, from));
  const files = new PageFiles(pageFolder());
  const act: PanelParts['act'] = async ({ words, by, hand, withinS }) => {
    const untilS = withinS === undefined ? undefined : monotonicS() + withinS;
    const asking = { user: by, hand, untilS };
    const answer = await ask(folder, words, asking);
    if (answer.outcome !== 'no daemon') return answer;
    // The folder with its socket may be gone, or on another disk, while the daemon lives.
    return (await source.ask(words, asking)) ?? { ...answer, text: CANT_ACT };
  };
  const app = panelApp({ doors, record, streams, releases, metrics, files, act });
  // If the address is taken, whoever has it is not our panel.
  forgetWhere(folder);
  const { address, port, certificate } = orders;
  const certificates = certificate && new CertificateWatch(certificate);
  const { url, renew } = await serve(
    app,
    { address, port, certificate: certificate && readCertificate(certificate) },
    (reason, from) => metrics.refused(reason, from),
    room,
  );
  const own = new OwnFolder(folder);
  try {
    noteWhere(folder, url);
    await own.fault();
  } catch (error) {
    // With a full disk the panel still works for those who know its address.
    const why = inPlainWords(error, 'written');
    say({
      kind: 'warning',
      message: `lampwright panel can't print its address: ${folder}: ${why}`,
    });
  }
  say({ kind: 'listening', url });
  source.begin();
  let { token } = kept as { token: string | undefined };
  const watch = new TokenWatch(folder, kept.token);
  setInterval(() => void history.write(() => record.history(), monotonicS()), KEEPS_EVERY_MS);
  const troubles: { token?: string | undefined; certificate?: string | undefined } = {};
  let said: string | undefined;
  const sayTrouble = () => {
    const all = [troubles.token, troubles.certificate].filter(one => one !== undefined);
    const message = all.length === 0 ? undefined : all.join('. ');
    if (message !== said) say({ kind: 'trouble', message });
    said = message;
  };
  setInterval(() => {
    say({ kind: 'beat' });
    const away = turnedAway.news();
    if (away !== undefined) say({ kind: 'turned-away', ...away });
    void keepWhere(own, url);
    const news = certificates?.look();
    if (news !== undefined) {
      if ('renewed' in news) {
        renew(news.renewed);
        say({ kind: 'renewed' });
      }
      troubles.certificate = 'fault' in news ? news.fault : undefined;
      sayTrouble();
    }
    const now = watch.look();
    if (now === undefined) return;
    troubles.token = now.trouble;
    sayTrouble();
    if (now.token === token) return;
    token = now.token;
    doors.take(token);
    streams.closeByToken();
  }, BEAT_MS);
}

/** Writes the address again if it was lost with its folder. The folder itself is not made again: a disk may belong there. */
async function keepWhere(folder: OwnFolder, url: string): Promise<void> {
  if (!folder.wasThere || (await folder.fault()) !== undefined) return;
  if (readWhere(folder.path) === url) return;
  try {
    noteWhere(folder.path, url);
  } catch {
    // The disk is full: it is tried again at the next beat, and reported elsewhere.
  }
}

/** The token of a folder. Throws a sentence that says why there is none. */
function tokenIn(folder: string): ReturnType<typeof tokenOf> {
  try {
    return tokenOf(folder);
  } catch (error) {
    throw new Error(`its token can't be kept in ${folder}: ${inPlainWords(error, 'written')}`);
  }
}

/** Folder of the page's files: beside the bundle, or below it when compiled modules run. */
function pageFolder(): string {
  return fileURLToPath(new URL('./panel', import.meta.url));
}

const CANT_ACT =
  "The panel can't reach the daemon, so nothing was done. Act at the desk, or on the show machine.";

/** The daemon's stream, at the rate that is wanted at the moment. */
class Source {
  onLine: (line: Parameters<Record['take']>[0]) => void = () => undefined;
  #rateHz = IDLE_HZ;
  #open: Followed | undefined;
  /** A page that opens after a new engine has begun sees where the lost were, too. */
  readonly #places = new LastPlaces();

  constructor(
    private readonly folder: string,
    private readonly record: Record,
  ) {}

  look(rateHz: number): void {
    if (rateHz === this.#rateHz) return;
    this.#rateHz = rateHz;
    this.#open?.turn(rateHz);
  }

  #withPlaces(line: LiveLine): LiveLine {
    if (line.kind === 'snapshot') return this.#places.fill(line);
    if (line.kind === 'stage' && line.show !== this.record.stage?.show) this.#places.clear();
    return line;
  }

  ask(...asked: Parameters<Followed['ask']>): ReturnType<Followed['ask']> {
    return this.#open?.ask(...asked) ?? Promise.resolve(undefined);
  }

  begin(): void {
    const { record } = this;
    this.#open = follow(this.folder, this.#rateHz, {
      line: line => {
        const told = this.#withPlaces(line);
        if (record.take(told)) this.onLine(told);
      },
      ended: why => {
        record.fault = why;
        setTimeout(() => this.begin(), AGAIN_MS);
      },
    });
  }
}

function say(word: PanelWord): void {
  process.stdout.write(`${JSON.stringify(word)}\n`);
}

function faultOf(error: unknown): string {
  const { code, address, port } = error as NodeJS.ErrnoException & {
    address?: string;
    port?: number;
  };
  if (code === 'EADDRINUSE') return `${address}:${port} is taken by another program`;
  if (code === 'EADDRNOTAVAIL') return `${address} is not an address of this machine`;
  return messageOf(error);
}
