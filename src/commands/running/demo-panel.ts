import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { LiveFeed } from '../../daemon/live/feed.js';
import { Control } from '../../daemon/operator/requests.js';
import { type PanelOptions, USUAL_PANEL } from '../../daemon/panel/panel-options.js';
import { describePanel, PanelRunner } from '../../daemon/panel/panel-runner.js';
import { readToken } from '../../daemon/panel/token.js';
import type { Supervisor, SupervisorEvent } from '../../daemon/supervisor.js';
import { messageOf } from '../../stage/message-of.js';

/** The system picks a free port. */
const ANY_PORT = 0;

export interface DemoPanelHooks {
  /** The panel listens; whoever has the link may act. */
  listening(link: string): void;
  say(text: string): void;
}

/** The panel of a demo: its state folder, with token and socket, lives as long as the demo. */
export class DemoPanel {
  readonly #control: Control;
  #runner: PanelRunner | undefined;

  private constructor(
    /** State folder of the demo, deleted at its end. */
    readonly folder: string,
    private readonly hooks: DemoPanelHooks,
  ) {
    this.#control = new Control(folder, fault => {
      if (fault !== undefined) hooks.say(`the panel can only look: ${fault}`);
    });
  }

  /** @returns undefined, with a message, if its folder can't be made */
  static make(hooks: DemoPanelHooks): DemoPanel | undefined {
    try {
      return new DemoPanel(mkdtempSync(join(tmpdir(), 'lampwright-demo-')), hooks);
    } catch (error) {
      hooks.say(`no panel: ${messageOf(error)}`);
      return undefined;
    }
  }

  async open(supervisor: Supervisor, looking: LiveFeed, wanted: PanelOptions): Promise<void> {
    const { folder, hooks } = this;
    await this.#control.open(supervisor, async () => 'already so', looking);
    // A show that runs on this machine may have the usual port.
    const isTaken = wanted.port === USUAL_PANEL.port && !(await isFree(wanted));
    const options = isTaken ? { ...wanted, port: ANY_PORT } : wanted;
    this.#runner = new PanelRunner({ ...options, folder }, event => {
      if (event.state !== 'listening') return hooks.say(describePanel(event).text);
      const read = readToken(folder);
      hooks.listening(read.ok ? `${event.url}/#token=${read.token}` : event.url);
    });
    this.#runner.start();
  }

  hear(event: SupervisorEvent): void {
    this.#control.hear(event);
  }

  /** @returns when its port is free, and nothing writes to its folder any more */
  async close(): Promise<void> {
    await this.#runner?.end();
    this.#control.close();
    rmSync(this.folder, { recursive: true, force: true });
  }
}

function isFree({ address, port }: PanelOptions): Promise<boolean> {
  return new Promise(resolve => {
    const server = createServer();
    server.once('error', () => resolve(false));
    server.listen(port, address, () => server.close(() => resolve(true)));
  });
}
