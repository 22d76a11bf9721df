import { describe, expect, it } from 'vitest';
import { compiledFolder } from '../../src/commands/compiled-folder.js';

// systemd.exec(5): "If multiple directories are set, then in the environment variable the paths are concatenated with
// colon". XDG Base Directory Specification: $XDG_CACHE_HOME, or $HOME/.cache; "All paths set in these environment
// variables must be absolute. If an implementation encounters a relative path ... it should ... ignore it."
describe('where what Node has compiled is kept', () => {
  it('is the folder of the service before that of a user', () => {
    const env = { CACHE_DIRECTORY: '/var/cache/lampwright/main:/var/cache/b', HOME: '/root' };
    expect(compiledFolder(env)).toBe('/var/cache/lampwright/main');
  });

  it("is a folder of ours in the user's cache", () => {
    expect(compiledFolder({ HOME: '/home/ann' })).toBe('/home/ann/.cache/lampwright');
    const env = { HOME: '/home/ann', XDG_CACHE_HOME: '/fast' };
    expect(compiledFolder(env)).toBe('/fast/lampwright');
  });

  it('is nowhere without a home, and never beside what happens to be the current folder', () => {
    expect(compiledFolder({})).toBeUndefined();
    const relative = { CACHE_DIRECTORY: 'a', XDG_CACHE_HOME: 'b', HOME: '' };
    expect(compiledFolder(relative)).toBeUndefined();
  });
});
