/** What the system says of packets that it does not take, by its code: what it means, and what to do. */
const WORDS: Readonly<Record<string, string>> = {
  EACCES:
    'the system does not let them out; look at the firewall of this machine, and at the address in the show',
  EADDRNOTAVAIL:
    'the address of its interface is gone; give this machine its address again (ip addr shows what it has)',
  ECONNREFUSED: 'nothing listens at the receiver; look whether it runs, and at its port',
  EHOSTUNREACH: 'the receiver is not reached; look whether it is on, and at its cable',
  EMSGSIZE: 'they are longer than the network takes; set the MTU of the interface to 1500',
  ENETDOWN: 'the interface is down; look at its cable, and switch it on (ip link set NAME up)',
  ENETUNREACH:
    'there is no way to the network of the receiver; look at the address in the show, and at address and netmask of this machine',
  ENOBUFS: 'the network card takes no more; look at its cable and at the speed of its link',
  ENOMEM: 'the machine has no memory left; end what else runs on it',
  EPERM: 'a firewall of this machine stops them; let UDP out to the receiver',
};

/** "a firewall of this machine stops them; let UDP out to the receiver (send EPERM)": plain words first. */
export function sendFaultInWords(reason: string): string {
  const words = WORDS[/\bE[A-Z]+\b/.exec(reason)?.[0] ?? ''];
  return words === undefined ? reason : `${words} (${reason})`;
}
