import { ipv4, isIn } from '../../stage/ipv4.js';
import type { InputPlan, Show } from '../model/model.js';
import type { Finding } from '../problems/problem.js';

/** Warnings about inputs that shut out those who should send to them, by `allow` or by where they listen. */
export function allowWarnings({ inputs, operator }: Show): Finding[] {
  return inputs.flatMap(input => {
    const findings = input.carries === 'orders' ? machineWarnings(input, operator) : [];
    return findings.length > 0 ? findings : localWarnings(input);
  });
}

/** An input that listens to a network, but takes nothing from there. */
function localWarnings({ carries, name, listen, allow }: InputPlan): Finding[] {
  if (allow === 'any' || isLocal(listen) || !allow.every(isLocal)) return [];
  const message = `input "${name}" listens on ${listen}, but \`allow\` has only this machine (${allow.join(', ')}): whatever comes over the network is refused.`;
  const block = carries === 'orders' ? ['operator'] : ['inputs', name];
  return [{ code: 'sender-shut-out', message, path: [...block, 'allow'] }];
}

/** Each machine of a pair has to take orders from the other one; both have the same file. */
function machineWarnings(
  { listen, allow }: InputPlan,
  operator: Show['operator'],
): readonly Finding[] {
  const machines = [
    ['main machine', operator?.main],
    ['standby', operator?.standby],
  ] as const;
  const named = machines.flatMap(([role, all = []]) =>
    all.map(({ address }) => ({ role, address })),
  );
  if (named.length === 0 || allow === 'any') return [];
  const path = ['operator'];
  if (isLocal(listen) && named.some(({ address }) => !isLocal(address))) {
    const message = `\`operator\` listens on ${listen}, where the other machine of the pair is not heard.`;
    return [{ code: 'sender-shut-out', message, path: [...path, 'listen'] }];
  }
  const lacking = named.filter(({ address }) => !allow.some(entry => covers(entry, address)));
  const [only] = named;
  // The machine without an address in the file may have any of the others in `allow`.
  if (only !== undefined && named.every(({ role }) => role === only.role)) {
    const others = allow.filter(
      entry => !isLocal(entry) && !named.some(({ address }) => entry === address),
    );
    if (others.length > 0) return [];
    const unheard = only.role === 'standby' ? 'main machine' : 'standby';
    const message = `\`allow\` of \`operator\` lacks the address of the ${unheard}: the ${only.role} refuses its orders.`;
    return [{ code: 'sender-shut-out', message, path: [...path, 'allow'] }];
  }
  return lacking.map(({ role, address }) => ({
    code: 'sender-shut-out',
    message: `\`allow\` of \`operator\` lacks ${address}, the ${role}: the ${role === 'standby' ? 'main machine' : 'standby'} refuses its orders.`,
    path: [...path, 'allow'],
  }));
}

function isLocal(address: string): boolean {
  return address.startsWith('127.') || address === 'lo';
}

/** @param entry an address, or a range such as 10.0.0.0/24 */
function covers(entry: string, address: string): boolean {
  const [first = '', bits = '32'] = entry.split('/');
  const [from, it] = [ipv4(first), ipv4(address)];
  if (from === undefined || it === undefined) return false;
  const mask = bits === '0' ? 0 : (-1 << (32 - Number(bits))) >>> 0;
  return isIn({ address: from, mask }, it);
}
