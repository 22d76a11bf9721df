import { expect, test } from 'vitest';
import { EnabledOutputs } from '../../../src/daemon/engine/enabled-outputs.js';
import type { EngineNews } from '../../../src/daemon/engine/engine-link.js';
import type { EnabledOutput } from '../../../src/engine/events/events.js';

const MIST: EnabledOutput = { fixture: 'mist', hazard: 'atmospheric' };
const FLASH: EnabledOutput = { fixture: 'flash', hazard: 'strobe' };

const told = (gate: 'on' | 'off' | 'latched-off', ...outputs: EnabledOutput[]): EngineNews => {
  return { kind: 'enable', gate, outputs, wasOn: gate !== 'on', reason: undefined };
};

test('those that the engine had on when it ended, and each once', () => {
  const enabled = new EnabledOutputs();
  expect(enabled.drop()).toEqual([]);
  enabled.hear(told('on', MIST, FLASH));
  enabled.hear(told('on', MIST));
  enabled.hear(told('latched-off', FLASH));
  expect(enabled.drop()).toEqual([MIST]);
  expect(enabled.drop()).toEqual([]);
  enabled.hear(told('on', FLASH));
  enabled.hear(told('off', FLASH));
  expect(enabled.drop()).toEqual([]);
});
