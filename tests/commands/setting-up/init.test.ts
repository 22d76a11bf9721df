import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { main } from '../../../src/commands/cli.js';
import { loadShow } from '../../../src/commands/files/show-file.js';
import { showWarnings } from '../../../src/commands/files/show-warnings.js';
import { type FirstShow, firstShow } from '../../../src/interchange/first-show.js';
import { parseScene } from '../../../src/rehearsal/scenes/scene-file.js';
import { parseShow } from '../../../src/show/parse.js';
import { fixtureXml, HAZER_MODE, headGdtf, layerXml, plot } from '../../interchange/make.js';
import { captured } from '../captured.js';

let folder: string;
const said = captured();
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-init-'));
});
afterEach(() => rmSync(folder, { recursive: true }));
const at = (name: string) => join(folder, name);

/** The show that was made, which has to be without error and without warning. */
function made(name: string) {
  const loaded = loadShow(at(name));
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.problems));
  return { ...loaded, warnings: showWarnings(loaded.show, loaded.text, at(name)) };
}

describe('a first show', () => {
  it('passes the check without a warning, has the schema line, comments, and a scene that fits it', async () => {
    expect(await main(['init', at('a.show.yaml')])).toBe(0);
    const { text, show, warnings } = made('a.show.yaml');
    expect(warnings).toEqual([]);
    const [, schema = ''] = /^# yaml-language-server: \$schema=(.+)\n/.exec(text) ?? [];
    // Relative, as yaml-language-server takes it from the folder of the file: it holds wherever the folder goes.
    expect(schema).toBe('schemas/show.schema.json');
    expect(JSON.parse(readFileSync(at(schema), 'utf8')).title).toBe('lampwright show file');
    const [, ofScene = ''] = /\$schema=(.+)\n/.exec(readFileSync(at('a.scene.yaml'), 'utf8')) ?? [];
    expect(ofScene).toBe('schemas/scene.schema.json');
    expect(JSON.parse(readFileSync(at(ofScene), 'utf8'))).toHaveProperty('properties.losses');
    expect(text.match(/ # /g)?.length).toBeGreaterThan(5);
    expect(show.performers.map(one => one.label)).toEqual(['Ines', 'Tobias']);
    expect(show.mappings).toHaveLength(3);
    expect(said.out).toContain(`lampwright run ${at('a.show.yaml')}`);
    said.clear();
    expect(await main(['rehearse', at('a.show.yaml'), at('a.scene.yaml'), '--json'])).toBe(0);
    expect(JSON.parse(said.out).lights).toContainEqual(
      expect.objectContaining({ fixture: 'lamp', highest: 100 }),
    );
  });

  it('takes a plot: its fixtures as they hang, a head for each performer', async () => {
    const hung = fixtureXml({ address: '2.1', matrix: '{1,0,0}{0,1,0}{0,0,1}{3000,1000,5000}' });
    writeFileSync(at('plot.mvr'), plot(layerXml(hung)));
    const args = ['init', at('b.show.yaml'), '--plot', at('plot.mvr'), '--performers', 'Ines'];
    expect(await main([...args, '--origin=1,0,0'])).toBe(0);
    const { show, text, warnings } = made('b.show.yaml');
    // A plot has no safe look: it is asked for, where it is made and in the file.
    expect(said.err).toMatch(/^to decide: the safe look is dark: no lamp is lit in it/m);
    expect(text).toContain('Until then the safe look is dark');
    expect(warnings.map(({ code }) => code)).toContain('safe-dark');
    expect(readdirSync(folder).sort()).toEqual([
      ...['b.scene.yaml', 'b.show.yaml', 'plot.mvr', 'profiles', 'schemas'],
    ]);
    expect(show.fixtures[0]?.position).toMatchObject({ x: 4, y: 1 });
    expect(show.mappings).toHaveLength(1);
    expect(show.mappings[0]).toMatchObject({ kind: 'follow' });
  });

  it('gives a hazer its class, all of it, and says so there and in the file', async () => {
    const hazer = headGdtf({ modes: HAZER_MODE });
    writeFileSync(at('plot.mvr'), plot(layerXml(fixtureXml({ name: 'Mist' })), hazer));
    expect(await main(['init', at('b.show.yaml'), '--plot', at('plot.mvr'), '--yes'])).toBe(0);
    const told =
      'Test head, long: it makes fog or haze: all of its channels, its fan too, leave their safe values only while the atmospheric enable is held.';
    expect(said.err).toContain(`hazard: ${told}`);
    const profile = readFileSync(at('profiles/test-head.profile.yaml'), 'utf8');
    expect(profile).toContain(`# ${told}\nprofile: 1\n`);
    expect(profile).toContain('label: Test head, long\nhazard: atmospheric\n');
    expect(made('b.show.yaml').show.fixtures[0]?.hazards).toEqual(Array(3).fill('atmospheric'));
    said.clear();
    expect(await main(['import', at('plot.mvr')])).toBe(0);
    expect(said.out).toContain(`# ${told}`);
    expect(said.err).toContain('it makes fog or haze');
  });

  it('takes a plot a second time in one folder: the same profile is kept, another is in the way', async () => {
    writeFileSync(at('spot.gdtf'), headGdtf());
    const args = ['--plot', at('spot.gdtf'), '--yes'];
    expect(await main(['init', at('a.show.yaml'), ...args])).toBe(0);
    said.clear();
    expect(await main(['init', at('b.show.yaml'), ...args])).toBe(0);
    expect(made('b.show.yaml').show.fixtures).toHaveLength(2);
    const [profile = ''] = readdirSync(at('profiles'));
    expect(said.out).toContain(`kept  ${at(`profiles/${profile}`)}`);
    writeFileSync(at(`profiles/${profile}`), '# mine');
    said.clear();
    expect(await main(['init', at('c.show.yaml'), ...args])).toBe(2);
    expect(said.err).toContain(
      `${at(`profiles/${profile}`)} is there already and differs from the one to be made: move it`,
    );
    expect(readFileSync(at(`profiles/${profile}`), 'utf8')).toBe('# mine');
    expect(readdirSync(folder)).not.toContain('c.show.yaml');
  });

  it('keeps the schemas that are there, and says how to renew those of another version', async () => {
    expect(await main(['init', at('a.show.yaml')])).toBe(0);
    said.clear();
    expect(await main(['init', at('b.show.yaml')])).toBe(0);
    expect(said.out).toContain(`kept  ${at('schemas/show.schema.json')}`);
    expect(said.err).toBe('');
    writeFileSync(at('schemas/show.schema.json'), '{}');
    said.clear();
    expect(await main(['init', at('c.show.yaml')])).toBe(0);
    expect(readFileSync(at('schemas/show.schema.json'), 'utf8')).toBe('{}');
    expect(said.err).toBe(
      `${at('schemas/show.schema.json')} is of another version: \`lampwright reference --schemas ${at('schemas')}\` writes those of this one over it.\n`,
    );
    expect(await main(['reference', '--schemas', at('schemas')])).toBe(0);
    for (const name of ['show', 'scene', 'profile']) {
      const file = `${name}.schema.json`;
      expect(readFileSync(at(`schemas/${file}`), 'utf8')).toBe(
        readFileSync(`docs/reference/${file}`, 'utf8'),
      );
    }
  });

  it('takes a kind of fixture: one of it for each performer', async () => {
    writeFileSync(at('spot.gdtf'), headGdtf());
    const args = ['init', at('c.show.yaml'), '--plot', at('spot.gdtf'), '--performers', 'A,B,C'];
    expect(await main(args)).toBe(0);
    const { show } = made('c.show.yaml');
    expect(show.fixtures).toHaveLength(3);
    expect(show.mappings).toHaveLength(3);
  });

  it('says all that is wrong at once, and writes nothing; nothing is overwritten', async () => {
    const args = ['--stage', '0x3', '--listen', '1.2.3', '--light', 'x', '--turn', 'y'];
    args.push('--performers', 'Ines, Tobias,ines', '--origin', '1,2', '--plot', at('none.mvr'));
    expect(await main(['init', at('d.yaml'), ...args])).toBe(2);
    for (const option of ['stage', 'listen', 'light', 'turn', 'performers', 'origin']) {
      expect(said.err).toContain(`--${option}`);
    }
    expect(said.err).toContain('each name once (ines is there twice)');
    expect(said.err).toContain('none.mvr');
    expect(said.err).toContain('ends in .show.yaml');
    said.clear();
    expect(await main(['init', at('d.show.yaml'), '--origin', '1,2,3', '--turn', '4'])).toBe(2);
    expect(said.err).toContain('--origin says how a plot lies: name the plot with --plot');
    expect(said.err).toContain('--turn says how a plot lies');
    // What only the whole show tells: no address of a host.
    expect(await main(['init', at('d.show.yaml'), '--to', '0.0.0.0'])).toBe(2);
    expect(said.err).toContain('no address of a host');
    expect(await main(['init', at('d.yaml')])).toBe(2);
    expect(await main(['init', at('d.show.yaml'), '--plot', at('none.mvr')])).toBe(2);
    expect(readdirSync(folder)).toEqual([]);
    writeFileSync(at('d.scene.yaml'), 'mine');
    expect(await main(['init', at('d.show.yaml')])).toBe(2);
    expect(readdirSync(folder)).toEqual(['d.scene.yaml']);
  });

  it('whatever the wishes: show and scene are valid', () => {
    const label = fc
      .string({ minLength: 1, maxLength: 40, unit: 'grapheme' })
      .filter(text => text.trim() !== '');
    const wishes: fc.Arbitrary<FirstShow> = fc.record({
      name: label,
      widthM: fc.double({ min: 1, max: 200, noNaN: true }).map(length => Number(length.toFixed(2))),
      depthM: fc.double({ min: 1, max: 200, noNaN: true }).map(length => Number(length.toFixed(2))),
      performers: fc.array(label, { minLength: 1, maxLength: 120 }),
      tracking: fc.constantFrom('osc', 'psn'),
      listen: fc.nat(250).map(host => `10.1.0.${host + 1}`),
      light: fc.constantFrom('sacn', 'artnet'),
      interface: fc.constantFrom('eth0', '10.0.0.5', 'enp0s31f6'),
      to: fc.uniqueArray(
        fc.nat(250).map(host => `10.0.0.${host + 1}`),
        { minLength: 1, maxLength: 3 },
      ),
      rig: fc.constant(undefined),
    });
    fc.assert(
      fc.property(wishes, wanted => {
        const [show, scene] = firstShow(wanted, 'x');
        const parsed = parseShow(show?.text ?? '', 'x.show.yaml');
        expect(parsed.ok ? [] : parsed.problems).toEqual([]);
        if (!parsed.ok) return;
        expect(parsed.show.performers).toHaveLength(wanted.performers.length);
        const played = parseScene(scene?.text ?? '', 'x.scene.yaml', parsed.show, () => ({
          ok: false,
          why: 'no file',
        }));
        expect(played.ok ? [] : played.problems).toEqual([]);
      }),
      { seed: 20, numRuns: 25 },
    );
  });
});
