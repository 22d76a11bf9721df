import { afterEach, beforeEach, vi } from 'vitest';

/** What commands write while a test runs, kept instead of printed; empty at the beginning of each test. */
export interface Captured {
  out: string;
  err: string;
  /** Forgets what has been written so far. */
  clear(): void;
}

export function captured(): Captured {
  const said: Captured = {
    out: '',
    err: '',
    clear: () => {
      said.out = '';
      said.err = '';
    },
  };
  const into = (where: 'out' | 'err') => (text: string | Uint8Array) => {
    said[where] += String(text);
    return true;
  };
  beforeEach(() => {
    said.clear();
    vi.spyOn(process.stdout, 'write').mockImplementation(into('out'));
    vi.spyOn(process.stderr, 'write').mockImplementation(into('err'));
  });
  afterEach(() => {
    vi.restoreAllMocks();
  });
  return said;
}
