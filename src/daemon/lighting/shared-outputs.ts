import { CatchUp, type LimitedLight } from './catch-up.js';
import type { LightingEvent } from './events.js';
import { type Line, wayOf } from './line.js';
import type { Stream } from './streams.js';

export interface SharedOptions {
  readonly universeCount: number;
  limited?(): LimitedLight;
  onEvent(event: LightingEvent): void;
}

/** Outputs that send one universe of the show: each of them comes back from where it was itself. */
export class SharedOutputs {
  readonly #catchUps: readonly CatchUp[];
  /** Streams that have come back in this beat by way of the safe look, while others of their universe went on. */
  #returned: { readonly line: Line; readonly stream: Stream }[] = [];

  constructor(
    lines: readonly Line[],
    private readonly options: SharedOptions,
  ) {
    const all = lines.flatMap(line => line.streams.map(stream => ({ line, stream })));
    const counts = new Uint32Array(options.universeCount);
    for (const { stream } of all) counts[stream.index] = (counts[stream.index] ?? 0) + 1;
    const shared = all.filter(({ stream }) => (counts[stream.index] ?? 0) > 1);
    const light = shared.length === 0 ? undefined : options.limited?.();
    this.#catchUps = light === undefined ? [] : shared.map(one => this.#catchUp(one, light));
  }

  /** What one of them sends is not yet what the show has: it was cut off. */
  get isBehind(): boolean {
    return this.#catchUps.some(one => one.isBehind);
  }

  /** Another show has the same outputs, and other fixtures. */
  take(light: () => LimitedLight, nowS: number): void {
    if (this.#catchUps.length === 0) return;
    const limited = light();
    for (const one of this.#catchUps) one.take(limited, nowS);
  }

  /** Once a beat: of those that have come back in it. */
  tell(): void {
    if (this.#returned.length === 0) return;
    const byOutput = new Map<string, { name: string; universes: number[] }>();
    for (const { line, stream } of this.#returned) {
      const { name: output } = stream.plan;
      const one = byOutput.get(output) ?? { name: line.name, universes: [] };
      one.universes.push(stream.onWire);
      byOutput.set(output, one);
    }
    this.#returned = [];
    for (const [output, { name, universes }] of byOutput) {
      this.options.onEvent({ kind: 'output-rejoins', interface: name, output, universes });
    }
  }

  #catchUp(one: { readonly line: Line; readonly stream: Stream }, light: LimitedLight): CatchUp {
    const { stream } = one;
    const onReturn = () => this.#returned.push(one);
    stream.catchUp = new CatchUp(stream.index, light, stream.delivery, onReturn);
    return stream.catchUp;
  }
}

/** What a stream is to send of the levels that the show has for it; undefined: nothing, another machine does. */
export function levelsOf(
  line: Line,
  stream: Stream,
  ofShow: Uint8Array,
  nowS: number,
): Uint8Array | undefined {
  const { catchUp, plan } = stream;
  const isHeld = line.holdsArtnet && plan.protocol === 'artnet';
  if (isHeld && !line.staysOnArtnet) {
    catchUp?.forget();
    stream.delivery.forget();
  } else if (catchUp !== undefined) {
    const levels = catchUp.step(ofShow, wayOf(line, stream, line.stuck), nowS);
    return isHeld ? undefined : levels;
  }
  return isHeld ? undefined : ofShow;
}
