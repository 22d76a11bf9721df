import { MOST_ANSWER_S } from '../../protocols/artnet/options.js';

/** An asker is answered no more often, seconds; a poll comes every 2.5 s. */
const ANSWER_EVERY_S = 0.5;
/** Art-Net 4: within a second, at a moment by chance; less, as the beat and the network take some of it. */
const ANSWER_WITHIN_S = 0.9 * MOST_ANSWER_S;
const MOST_ASKERS = 64;

/** When polls are answered, and to whom. */
export class PollAnswers<Where> {
  readonly #answeredS = new Map<string, number>();
  readonly #pending: { readonly where: Where; readonly to: string; readonly dueS: number }[] = [];
  #replies = 0;

  /**
   * @param random from 0 to 1: when a poll is answered
   * @param answer called when it is time; with how often it has been before
   */
  constructor(
    private readonly random: () => number,
    private readonly answer: (where: Where, to: string, repliesBefore: number) => void,
  ) {}

  /** Somebody has asked. */
  plan(where: Where, to: string, nowS: number): void {
    const answeredS = this.#answeredS.get(to) ?? Number.NEGATIVE_INFINITY;
    if (nowS - answeredS < ANSWER_EVERY_S || this.#pending.length >= MOST_ASKERS) return;
    // The oldest goes: strangers' polls can't fill the memory.
    const oldest = this.#answeredS.keys().next().value;
    if (this.#answeredS.size >= MOST_ASKERS && oldest !== undefined) this.#answeredS.delete(oldest);
    this.#answeredS.delete(to);
    this.#answeredS.set(to, nowS);
    this.#pending.push({ where, to, dueS: nowS + ANSWER_WITHIN_S * this.random() });
  }

  look(nowS: number): void {
    for (let i = this.#pending.length - 1; i >= 0; i--) {
      const due = this.#pending[i];
      if (due === undefined || nowS < due.dueS) continue;
      this.#pending.splice(i, 1);
      this.answer(due.where, due.to, this.#replies);
      this.#replies += 1;
    }
  }
}
