import { createSocket, type Socket } from 'node:dgram';
import { reportDatagram } from '../../rehearsal/report-datagram.js';
import { type Scene, type ScenePosition, scenePosition } from '../../rehearsal/scenes/scene.js';
import { seededNormal } from '../../rehearsal/sensors/random.js';
import type { InputPlan } from '../../show/model/model.js';
import { monotonicS } from '../machine/clock.js';

/** A usual rate of radio tracking, between 10 and 100 Hz. */
const RATE_HZ = 30;
/** Noise of a good radio system at its best, metres. */
const NOISE_M = 0.03;

/** Plays a scene as a tracking system would: real OSC datagrams to an address on this machine. */
export class SceneFeed {
  readonly #socket: Socket = createSocket('udp4');
  readonly #normal = seededNormal(1);
  readonly #at: ScenePosition = { x: 0, y: 0, z: 0 };
  readonly #startS = monotonicS();
  #timer: NodeJS.Timeout | undefined;

  constructor(
    private readonly scene: Scene,
    /** Whose address it is sent to, and in whose frame, unit and form. */
    private readonly input: InputPlan,
  ) {
    this.#socket.on('error', () => undefined); // nobody listens yet: the next report may be heard
  }

  start(): void {
    this.#timer = setInterval(() => this.#send(), 1000 / RATE_HZ);
  }

  stop(): void {
    clearInterval(this.#timer);
    this.#socket.close();
  }

  #send(): void {
    const atS = monotonicS() - this.#startS;
    for (const part of this.scene.parts) {
      if (!scenePosition(this.scene, part, atS, this.#at)) continue;
      const { x, y, z } = this.#at;
      const noisy = {
        x: x + NOISE_M * this.#normal(),
        y: y + NOISE_M * this.#normal(),
        z: z + NOISE_M * this.#normal(),
      };
      const datagram = reportDatagram(this.input, part.tracker, noisy, Date.now() / 1e3);
      if (datagram !== undefined) this.#socket.send(datagram, this.input.port, this.input.listen);
    }
  }
}
