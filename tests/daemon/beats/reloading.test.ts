import { describe, expect, it, vi } from 'vitest';
import { asPassing } from '../../../src/daemon/beats/passing.js';
import { type ReloadHost, Reloading } from '../../../src/daemon/beats/reloading.js';
import type { ReadShow, SupervisorEvent } from '../../../src/daemon/beats/supervisor-options.js';
import { describe as describeEvent } from '../../../src/daemon/words/describe.js';
import { parseShow } from '../../../src/show/parse.js';
import { MINIMAL } from '../../show/base.js';

const { show } = parsed(MINIMAL);
function parsed(text: string) {
  const result = parseShow(text, 'a.show.yaml');
  if (!result.ok) throw new Error('the base show is not valid');
  return result;
}
const read = (text: string): ReadShow => ({ show, text, file: 'a.show.yaml' });

const OTHER_PATCH = 'its patch changed';

/** A host whose swaps end when the test says so, with what it says. */
function host(
  staleBecause?: readonly string[],
  goOn: ReloadHost['goOn'] = () => ({ because: OTHER_PATCH }),
) {
  const events: SupervisorEvent[] = [];
  const refused: string[] = [];
  const swaps: { next: ReadShow; end: (problems: readonly string[]) => void }[] = [];
  const held: {
    current: ReadShow;
    isEnding: boolean;
    fault?: string | undefined;
    retries: number;
  } = {
    current: read('running'),
    isEnding: false,
    retries: 0,
  };
  const reloading = new Reloading({
    current: () => held.current,
    isEnding: () => held.isEnding,
    goOn,
    swap: next =>
      new Promise(resolve => {
        const end = (problems: readonly string[]) => {
          if (problems.length === 0) held.current = next;
          resolve(problems);
        };
        swaps.push({ next, end });
      }),
    engineFault: () => held.fault,
    retry: () => {
      held.retries += 1;
    },
    onEvent: event => events.push(event),
    refused: next => refused.push(next.text),
    staleBecause,
  });
  return { events, swaps, refused, held, reloading };
}

describe('a reload', () => {
  it('that is asked for twice at once is done once, and both are told how it ended', async () => {
    const { reloading, swaps, refused, events } = host();
    const both = [reloading.reload(read('next'), 'anna'), reloading.reload(read('next'), 'SIGHUP')];
    swaps[0]?.end(['no such interface']);
    expect(await Promise.all(both)).toEqual([['no such interface'], ['no such interface']]);
    expect(swaps).toHaveLength(1);
    expect(refused).toEqual(['next']);
    expect(events.map(({ kind }) => kind)).toEqual(['reload-refused']);
    void reloading.reload(read('next'));
    expect(swaps).toHaveLength(2);
  });

  it('for which the machine has no process just now is not kept as refused: a restart runs that show', async () => {
    const { reloading, swaps, refused, events } = host();
    const asked = reloading.reload(read('next'));
    swaps[0]?.end(asPassing(["its engine can't be started: spawn EAGAIN."]));
    expect(await asked).toEqual(["its engine can't be started: spawn EAGAIN."]);
    expect(refused).toEqual([]);
    expect(events.map(({ kind }) => kind)).toEqual(['reload-refused']);
  });

  it('that the end of the daemon overtakes is no fault of the show', async () => {
    const { reloading, swaps, held, refused, events } = host();
    const asked = reloading.reload(read('next'), 'anna');
    held.isEnding = true;
    swaps[0]?.end(['it was ended']);
    expect(await asked).toEqual([expect.stringContaining('told to stop before it was loaded')]);
    expect(refused).toEqual([]);
    expect(events.map(event => describeEvent(event).text)).toEqual([
      'not loaded (asked by anna): the daemon was told to stop before it was loaded; it is read again at the next start.',
    ]);
  });

  it('of another show meanwhile is refused, and at the end every one', async () => {
    const { reloading, swaps, held } = host();
    const first = reloading.reload(read('next'));
    expect(await reloading.reload(read('another'))).toEqual(['another reload is under way.']);
    swaps[0]?.end([]);
    expect(await first).toEqual({ because: OTHER_PATCH });
    held.isEnding = true;
    expect(await reloading.reload(read('next'))).toHaveLength(1);
    expect(swaps).toHaveLength(1);
  });

  it('of the show that runs does nothing, and is no longer stale', async () => {
    const { reloading, swaps, events } = host(['line 3']);
    expect(await reloading.reload(read('running'), 'anna')).toBe('already so');
    expect(swaps).toEqual([]);
    expect(reloading.stale.problems).toBeUndefined();
    expect(events).toEqual([{ kind: 'reload-unneeded', show: show.name, by: 'anna' }]);
  });

  it('whose engine can not run goes back to the show before, and nothing else is loaded meanwhile', async () => {
    const { reloading, swaps, refused, events } = host(['line 3']);
    const first = reloading.reload(read('next'));
    swaps[0]?.end([]);
    await first;
    expect(reloading.stale.problems).toBeUndefined();
    expect(reloading.cannotRun('the port is taken')).toBe(true);
    expect(refused).toEqual(['next']);
    expect(swaps[1]?.next.text).toBe('running');
    expect(reloading.stale.problems).toEqual(['line 3']);
    expect(await reloading.reload(read('another'))).toHaveLength(1);
    expect(events.map(({ kind }) => kind)).toEqual([
      'reloaded',
      'reload-refused',
      'reload-refused',
    ]);
    swaps[1]?.end([]);
    expect(reloading.cannotRun('again')).toBe(false);
  });

  it('whose way back fails too is said, and its own engine is tried again', async () => {
    const { reloading, swaps, held, events } = host();
    const first = reloading.reload(read('next'));
    swaps[0]?.end([]);
    await first;
    held.fault = 'the port is taken';
    expect(reloading.cannotRun('the port is taken')).toBe(true);
    expect(held.retries).toBe(0);
    swaps[1]?.end(['no such interface']);
    await vi.waitFor(() => expect(held.retries).toBe(1));
    expect(events.at(-1)).toEqual({
      kind: 'reload-stuck',
      show: show.name,
      problems: ['no such interface'],
    });
    // Not given up a second time.
    expect(reloading.cannotRun('the port is taken')).toBe(false);
    // The same file is loaded, and yet nothing is well.
    expect(await reloading.reload(read('next'))).toEqual({ engineFault: 'the port is taken' });
    expect(events.at(-1)).toMatchObject({ kind: 'reload-unneeded', engineFault: held.fault });
    held.fault = undefined;
    expect(await reloading.reload(read('next'))).toBe('already so');
  });

  it('that throws is refused with what it said', async () => {
    const thrown = new Reloading({
      current: () => read('running'),
      isEnding: () => false,
      goOn: () => ({ because: OTHER_PATCH }),
      swap: () => Promise.reject(new Error('no descriptors')),
      engineFault: () => undefined,
      retry: () => undefined,
      onEvent: () => undefined,
      refused: () => undefined,
    });
    expect(await thrown.reload(read('next'))).toEqual(['no descriptors']);
  });
});

describe('a show with the same patch', () => {
  it('goes on from the light that is out, and is not swapped', async () => {
    const { reloading, swaps, events, refused } = host(['bad file'], () => Promise.resolve([]));
    expect(await reloading.reload(read('next'), 'anna')).toBe('went on');
    expect(swaps).toEqual([]);
    expect(refused).toEqual([]);
    expect(events).toEqual([{ kind: 'reloaded', show: show.name, overS: 2, by: 'anna' }]);
    expect(reloading.stale.problems).toBeUndefined();
    // An engine that can't run later is no failed reload.
    expect(reloading.cannotRun('port taken')).toBe(false);
  });

  it('whose engine dies over it is refused, and nothing is swapped', async () => {
    const { reloading, swaps, refused } = host(undefined, () => Promise.resolve(['it died']));
    expect(await reloading.reload(read('next'))).toEqual(['it died']);
    expect(swaps).toEqual([]);
    expect(refused).toEqual(['next']);
  });

  it('goes by the safe look where the light is lost in the meantime, or the host throws', async () => {
    const lost = host(undefined, () => Promise.resolve({ because: 'the engine was late' }));
    const reload = lost.reloading.reload(read('next'));
    await vi.waitFor(() => expect(lost.swaps).toHaveLength(1));
    lost.swaps[0]?.end([]);
    expect(await reload).toEqual({ because: 'the engine was late' });
    expect(lost.events).toMatchObject([{ kind: 'reloaded', because: 'the engine was late' }]);
    const thrown = host(undefined, () => Promise.reject(new Error('broken')));
    expect(await thrown.reloading.reload(read('next'))).toEqual(['broken']);
  });
});
