import { spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { checkJson, lampwright, SALT_LANTERN, variantOf } from './support.js';

describe('a reader that has seen enough', () => {
  it('is no fault: the command ends with its own exit code and says nothing of it', () => {
    // More than a pipe holds, so that the command still writes when the reader has gone.
    const command = `node dist/main.js check ${SALT_LANTERN} --json | head -c 1; echo "\${PIPESTATUS[0]}"`;
    const { stdout, stderr } = spawnSync('bash', ['-c', command], { encoding: 'utf8' });
    expect(stderr).toBe('');
    expect(stdout).toBe('{0\n');
  });
});

describe('a process that may have only few files open', () => {
  // Of fewer than some twenty Node has too few itself, and ends before a line of ours. `run`, which is one file, starts with as
  // few: tests/system/few-descriptors.test.ts.
  it.each([
    ['panel-process', 22, 'The panel ends, the light goes on'],
    ['check', 26, 'Nothing was done'],
  ])(
    '%s with %i says in plain words that it ends, and what that means for the light',
    (name, limit, means) => {
      // prlimit is part of util-linux.
      const node = [process.execPath, 'dist/main.js', name, SALT_LANTERN];
      const options = { encoding: 'utf8', input: '' } as const;
      const { status, stderr } = spawnSync('prlimit', [`--nofile=${limit}`, ...node], options);
      expect(stderr).toMatch(
        /^lampwright: too many files are open \(EMFILE\).* `ulimit -n 1024` .*\n$/,
      );
      expect(stderr).toContain(means);
      expect(status).toBe(3);
    },
  );
});

describe('check', () => {
  it.each(readdirSync('config').filter(name => name.endsWith('.yaml')))(
    'passes config/%s',
    async name => {
      const { code, stderr } = await lampwright(['check', `config/${name}`]);
      expect(stderr).toBe('');
      expect(code).toBe(0);
    },
  );

  it('prints the show and its safe look as JSON', async () => {
    const { ok, errors, show } = await checkJson(SALT_LANTERN);
    expect({ ok, errors }).toEqual({ ok: true, errors: [] });
    expect(show?.performers).toEqual(['ines', 'tobias', 'gull']);
    expect(show?.zones).toEqual(['stove', 'window', 'lantern', 'harbour']);
    expect(show?.universes).toEqual([1, 2]);
    // 20 per cent of 255 is 51: the safe value of the stove in slot 1.
    expect(show?.safeLook['1']).toHaveLength(512);
    expect(show?.safeLook['1']?.[0]).toBe(51);
    // Head stage right, slots 5 and 6: Dimmer 0 in 16 bits.
    expect(show?.safeLook['2']?.slice(4, 6)).toEqual([0, 0]);
  });

  it('says all that is wrong, with places, and exits with 1', async () => {
    const broken = variantOf(SALT_LANTERN, [
      ['zone: stove', 'zone: stowe'],
      ['radius: 1.2', 'radius: 9'],
    ]);
    const { code, stderr } = await lampwright(['check', broken.file]);
    const json = await checkJson(broken.file);
    broken.remove();
    expect(code).toBe(1);
    expect(stderr).toContain('[zone-outside-stage]');
    expect(stderr).toContain('Did you mean "stove"?');
    expect(json.ok).toBe(false);
    expect(json.errors.map(error => error.code)).toEqual(['zone-outside-stage', 'unknown-name']);
    expect(json.show).toBeNull();
  });
});

describe('usage', () => {
  it.concurrent.each([
    [[], 2],
    [['--help'], 0],
    [['--version'], 0],
    [['chekc'], 2],
    [['check'], 2],
    [['check', 'a', 'b'], 2],
    [['check', '--jsno', SALT_LANTERN], 2],
    [['check', 'no/such.show.yaml'], 2],
    [['check', 'config'], 2],
    [['run', '--log', 'xml', SALT_LANTERN], 2],
    [['demo', '--seconds', 'soon'], 2],
    [['run', '--help'], 0],
  ] as const)('%j exits with %i', async (args, expected) => {
    const { code, stdout, stderr } = await lampwright(args);
    expect(code).toBe(expected);
    expect((expected === 0 ? stdout : stdout + stderr).length).toBeGreaterThan(0);
    expect(stderr).not.toContain('at file:');
  });
});

describe('run', () => {
  it('says what is wrong with a show and exits with 1', async () => {
    const broken = variantOf('config/minimal.show.yaml', [['radius: 0.8', 'radius: near']]);
    const { code, stderr } = await lampwright(['run', broken.file]);
    broken.remove();
    expect(code).toBe(1);
    expect(stderr).toMatch(/:\d+:\d+: .*radius should be a number, and is "near"/);
  });
});

describe('tell', () => {
  it('loads only what it takes to ask: a stop waits for no other command', () => {
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-loaded-'));
    spawnSync(process.execPath, ['dist/main.js', 'tell', '/nowhere', 'status'], {
      // V8 lists there what was loaded.
      env: { ...process.env, NODE_V8_COVERAGE: folder },
    });
    const [name = ''] = readdirSync(folder);
    const { result } = JSON.parse(readFileSync(join(folder, name), 'utf8')) as {
      result: { url: string }[];
    };
    rmSync(folder, { recursive: true });
    const loaded = result.map(({ url }) => url).filter(url => url.includes('/dist/'));
    expect(loaded.join()).toContain('tell-command.js');
    const bytes = loaded.reduce((sum, url) => sum + statSync(fileURLToPath(url)).size, 0);
    // All commands are 1.4 MB.
    expect(bytes).toBeLessThan(60_000);
  });
});

describe('assess', () => {
  const DATA = 'tests/fixtures/data/tracking';

  it('prints JSON of every file and peer, and writes a plot a file', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-assess-'));
    const files = [`${DATA}/uwb_trolley_fast_8anchor_cal.csv`, `${DATA}/dance05_17_head.csv`];
    const { code, stdout, stderr } = await lampwright([
      'assess',
      ...files,
      '--json',
      '--plot',
      folder,
    ]);
    const plots = readdirSync(folder).sort();
    const svg = readFileSync(join(folder, plots[0] ?? ''), 'utf8');
    rmSync(folder, { recursive: true });
    expect(stderr).toBe('');
    expect(code).toBe(0);
    expect(plots).toEqual([
      'dance05_17_head.svg',
      'front.svg',
      'reliability.svg',
      'uwb_trolley_fast_8anchor_cal.svg',
    ]);
    expect(svg).toMatch(/^<svg xmlns="http:\/\/www\.w3\.org\/2000\/svg"/);
    const result = JSON.parse(stdout);
    expect(result.files.map((one: { file: string }) => one.file)).toEqual(files);
    const figures = ['rmse', 'median', 'p95', 'max', 'jitter', 'roughness', 'lagS'];
    for (const { ours, hold, peers, againstHold } of result.files) {
      expect(Object.keys(ours)).toEqual([...figures, 'containment90']);
      expect(Object.keys(hold)).toEqual(figures);
      expect(Object.keys(peers)).toHaveLength(18);
      for (const peer of Object.values(peers)) expect(Object.keys(peer as object)).toEqual(figures);
      // The lag may be below 0: the trolley's reports lead its truth.
      for (const figure of figures) {
        expect(ours[figure]).toBeGreaterThan(figure === 'lagS' ? -0.1 : 0);
      }
      expect(againstHold.ratio).toBeCloseTo(ours.rmse / hold.rmse, 9);
    }
    // The dance is too short for an interval; the trolley is not.
    expect(result.files[1].againstHold.low).toBeNull();
    expect(result.files[0].againstHold.low).toBeLessThan(result.files[0].againstHold.ratio);
    expect(Object.keys(result.fronts)).toEqual(['measured', 'simulated sensor']);
    // One file a group here, so that the group's share of holding is the file's. Whether it is good is judged at each
    // file's own lag (tests/reference): the trolley's reports lead its truth, which at no lag is held against us.
    Object.values<(typeof result.fronts)[string]>(result.fronts).forEach(
      ({ front, rival, ours }, index) => {
        expect(front.map(({ name }: { name: string }) => name)).toContain(rival);
        expect(ours.rmse).toBeCloseTo(result.files[index].againstHold.ratio, 6);
      },
    );
    expect(result.reliability.bins).toHaveLength(9);
    expect(result.reliability.offAtFull).toBeGreaterThanOrEqual(0);
  });

  it('is the same for the same seed, and another for another', async () => {
    const of = (seed: string) =>
      lampwright(['assess', `${DATA}/dance05_06_head.csv`, '--json', '--seed', seed]);
    const [one, again, other] = [await of('3'), await of('3'), await of('4')];
    expect(again.stdout).toBe(one.stdout);
    expect(other.stdout).not.toBe(one.stdout);
  });

  it('says all that is wrong with what it was given', async () => {
    const { code, stderr } = await lampwright([
      'assess',
      'no-such.csv',
      SALT_LANTERN,
      '--rate',
      'fast',
    ]);
    expect(code).toBe(2);
    expect(stderr).toContain('--rate is a number from 1 to 1000, not "fast".');
    expect(stderr).toContain("no-such.csv can't be read");
    expect(stderr).toContain('line 1: the head is');
    expect((await lampwright(['assess'])).stderr).toContain(
      'the path of a CSV file with true positions is missing.',
    );
  });

  it('says of a recording that it has no true positions, and what takes it', async () => {
    for (const path of ['engine-0001.lwrec', 'config']) {
      const { code, stderr } = await lampwright(['assess', path]);
      expect(code).toBe(2);
      expect(stderr).toContain(
        `${path}: assess compares with the true positions, which a recording`,
      );
      expect(stderr).toContain('`lampwright tune` finds settings');
    }
  });
});

describe('sweep', () => {
  it('says where a case is worse than in an earlier run, and ends with 1 then', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-sweep-'));
    const file = join(folder, 'before.json');
    const first = await lampwright(['sweep', '--only', 'stand, 10 Hz', '--json']);
    expect(first.code).toBe(0);
    writeFileSync(file, first.stdout);
    const again = await lampwright(['sweep', '--only', 'stand, 10 Hz', '--against', file]);
    expect(again.code).toBe(0);
    expect(again.stdout).toContain('0 of 1 cases are worse than before');
    const before = JSON.parse(first.stdout);
    before.cases[0].rmse = 0.001;
    writeFileSync(file, JSON.stringify(before));
    const worse = await lampwright(['sweep', '--only', 'stand, 10 Hz', '--against', file]);
    const seeds = ['sweep', '--only', 'stand, 10 Hz', '--seed', '2', '--against', file];
    const other = await lampwright(seeds);
    writeFileSync(file, '{"seed": 1, "cases": [{"name": 5}]}');
    const wrong = await lampwright(['sweep', '--only', 'nothing', '--against', file]);
    rmSync(folder, { recursive: true });
    expect(worse.code).toBe(1);
    expect(worse.stdout).toMatch(/worse: rmse 0\.001 -> 0\.0\d\d/);
    expect(other.code).toBe(2);
    expect(other.stderr).toContain('was made with --seed 1, not 2.');
    expect(wrong.code).toBe(2);
    expect(wrong.stderr).toContain('no case has "nothing" in its name.');
    expect(wrong.stderr).toContain('is not the --json of a sweep: cases.0.name');
  });
});
