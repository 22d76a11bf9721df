import { execFileSync } from 'node:child_process';
import { expect, it } from 'vitest';
import { descriptorsLeft, parseOpenFiles } from '../../../src/daemon/machine/descriptor-limit.js';

it('reads the limit as the kernel writes it, and none where there is none', () => {
  // prlimit is part of util-linux; the file is that of proc_pid_limits(5).
  const limitsWith = (limit: string) =>
    execFileSync('prlimit', [`--nofile=${limit}`, 'cat', '/proc/self/limits'], {
      encoding: 'utf8',
    });
  expect(parseOpenFiles(limitsWith('77'))).toBe(77);
  expect(
    parseOpenFiles('Max open files            unlimited            unlimited            files'),
  ).toBe(undefined);
  expect(parseOpenFiles('')).toBe(undefined);
});

it('this process has some left', () => {
  expect(descriptorsLeft()).toBeGreaterThan(0);
});
