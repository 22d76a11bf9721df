import { getSystemErrorMap } from 'node:util';
import { messageOf } from '../../stage/message-of.js';

const PLAIN: Readonly<Record<string, string>> = {
  EMFILE: 'too many files are open in this process',
  ENFILE: 'too many files are open on this machine',
  ENOMEM: 'the machine has no memory left',
};

/**
 * What an error of the system says, its name first: `EMFILE: too many files are open in this process`. Some functions
 * of libuv report it by its bare number, which Node words as "Unknown system error 24".
 */
export function systemFault(error: unknown): string {
  const { code, errno } = Object(error) as { code?: unknown; errno?: unknown };
  const byNumber =
    typeof errno === 'number' ? getSystemErrorMap().get(-Math.abs(errno)) : undefined;
  const name = byNumber?.[0] ?? (typeof code === 'string' ? code : '');
  const words = PLAIN[name] ?? byNumber?.[1];
  return words === undefined ? messageOf(error) : `${name}: ${words}`;
}

/** The same of a process that could not be started: where it is not the machine that lacks something, its command is named. */
export function startFault(error: unknown): string {
  const { code } = Object(error) as { readonly code?: unknown };
  return typeof code === 'string' && code in PLAIN ? systemFault(error) : messageOf(error);
}
