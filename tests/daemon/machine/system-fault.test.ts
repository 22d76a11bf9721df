import { constants, networkInterfaces } from 'node:os';
import { expect, it } from 'vitest';
import { InterfaceList } from '../../../src/daemon/lighting/interfaces.js';
import { systemFault } from '../../../src/daemon/machine/system-fault.js';

/** As Node 20 throws it out of os.networkInterfaces() at the limit of RLIMIT_NOFILE. */
function bareNumber(errno: number): Error {
  const call = `uv_interface_addresses returned Unknown system error ${errno}`;
  return Object.assign(new Error(`A system error occurred: ${call}`), {
    code: 'ERR_SYSTEM_ERROR',
    errno,
  });
}

it.each([
  [bareNumber(constants.errno.EMFILE), 'EMFILE: too many files are open in this process'],
  [bareNumber(constants.errno.ENOMEM), 'ENOMEM: the machine has no memory left'],
  [bareNumber(constants.errno.EACCES), 'EACCES: permission denied'],
  [
    Object.assign(new Error('open'), { code: 'ENFILE' }),
    'ENFILE: too many files are open on this machine',
  ],
  [
    Object.assign(new Error('x'), { code: 'EMFILE', errno: -constants.errno.EMFILE }),
    'EMFILE: too many files are open in this process',
  ],
  [new Error('what else'), 'what else'],
  ['no error at all', 'no error at all'],
])('%s', (error, text) => {
  expect(systemFault(error)).toBe(text);
});

it('is how a list of interfaces that can not be read is told of; the last one stands', () => {
  let fails = false;
  const list = new InterfaceList(() => {
    if (fails) throw bareNumber(constants.errno.EMFILE);
    return networkInterfaces();
  });
  const before = list.now;
  fails = true;
  expect(list.now).toBe(before);
  expect(list.fault).toBe('EMFILE: too many files are open in this process');
});
