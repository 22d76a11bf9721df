import { encodeNames, encodeRound } from '../../engine/encode-positions.js';
import {
  createPositionsOut,
  lostRound,
  type PositionRound,
  silentRound,
} from '../../engine/positions-out.js';
import type { PositionsPlan, Show } from '../../show/model/model.js';
import { monotonicS } from '../machine/clock.js';
import type { ReceiverSockets } from './receiver-sockets.js';

/** An engine that has sent none for so long is gone, or hangs, seconds: everybody is lost until it is back. */
const SILENT_AFTER_S = 0.5;
/** How often that is looked at, and said while it lasts. */
const WATCH_MS = 100;
const NAMES_EVERY_S = 1;

interface Output {
  readonly plan: PositionsPlan;
  /** What was said last, so that nobody is taken elsewhere when they are lost. */
  round: PositionRound;
  heardS: number;
  namesDueS: number;
  frame: number;
}

/** Tells the receivers of a show where people are: what the engine says or, while it is silent, that everybody is lost. */
export class PositionsSender {
  #show: Show | undefined;
  #outputs = new Map<string, Output>();
  readonly #watch: NodeJS.Timeout;

  constructor(
    private readonly sockets: ReceiverSockets,
    /** The show that runs now. */
    private readonly show: () => Show,
    /** A standby sends nothing until it stands in. */
    private readonly leads: () => boolean,
    private readonly now: () => number = monotonicS,
  ) {
    this.#watch = setInterval(() => this.#sayLost(), WATCH_MS);
  }

  send(rounds: readonly PositionRound[]): void {
    this.#takeShow();
    const nowS = this.now();
    for (const round of rounds) {
      const output = this.#outputs.get(round.output);
      // Of a show that has just gone.
      if (output === undefined || round.performers.length !== output.plan.performers.length)
        continue;
      output.heardS = nowS;
      output.round = round;
      if (this.leads()) this.#say(output, round, nowS);
    }
  }

  /** Says once more that nobody is tracked, and ends. */
  end(): void {
    clearInterval(this.#watch);
    this.#takeShow();
    if (!this.leads()) return;
    const nowS = this.now();
    for (const output of this.#outputs.values()) {
      this.#say(output, lostRound(output.round, nowS), nowS);
    }
  }

  #sayLost(): void {
    this.#takeShow();
    if (this.#outputs.size === 0 || !this.leads()) return;
    const nowS = this.now();
    for (const output of this.#outputs.values()) {
      if (nowS - output.heardS < SILENT_AFTER_S) continue;
      this.#say(output, lostRound(output.round, nowS), nowS);
    }
  }

  #say(output: Output, round: PositionRound, nowS: number): void {
    const { plan } = output;
    const show = this.#show;
    const receiver = show?.receivers.find(({ name }) => name === plan.receiver);
    if (show === undefined || receiver === undefined) return;
    output.frame = (output.frame + 1) % 256;
    const datagrams = encodeRound(plan, round, nowS, output.frame);
    if (nowS >= output.namesDueS) {
      output.namesDueS = nowS + NAMES_EVERY_S;
      datagrams.push(...encodeNames(plan, show.name, nowS, output.frame));
    }
    this.sockets.send(receiver, datagrams);
  }

  /** Outputs that are also in the new show go on: their frames count up, and lost performers stay where they were. */
  #takeShow(): void {
    const show = this.show();
    if (show === this.#show) return;
    const before = this.#outputs;
    const blank = createPositionsOut(show);
    this.#show = show;
    this.#outputs = new Map(
      show.positions.map((plan): [string, Output] => {
        const was = before.get(plan.name);
        const isSame = was?.plan.performers.length === plan.performers.length;
        return [
          plan.name,
          {
            plan,
            round: was !== undefined && isSame ? was.round : silentRound(blank, plan),
            // A new engine has time to start before it counts as silent.
            heardS: was?.heardS ?? this.now(),
            namesDueS: 0,
            frame: was?.frame ?? 0,
          },
        ];
      }),
    );
  }
}
