/** What the system says of packets that it does not take, by its code: what it means, and what to do. */
const WORDS: Readonly<Record<string, string>> = {
  EACCES:
    'the system does not let them out; check the firewall of this machine, and the address in the show',
  EADDRNOTAVAIL:
    'the address of its interface is gone; give this machine its address again (ip addr shows what it has)',
  ECONNREFUSED: 'nothing listens at the receiver; check that it runs, and its port',
  EHOSTUNREACH: "the receiver can't be reached; check that it is on, and its cable",
  EMSGSIZE: 'they are longer than the network allows; set the MTU of the interface to 1500',
  ENETDOWN: 'the interface is down; check its cable, and switch it on (ip link set NAME up)',
  ENETUNREACH:
    "there is no route to the receiver's network; check the address in the show, and this machine's address and netmask",
  ENOBUFS: "the network card can't take any more; check its cable and the speed of its link",
  ENOMEM: 'the machine has no memory left; close other programs on it',
  EPERM: 'a firewall of this machine stops them; let UDP out to the receiver',
};

/** "a firewall of this machine stops them; let UDP out to the receiver (send EPERM)": plain words first. */
export function sendFaultInWords(reason: string): string {
  const words = WORDS[/\bE[A-Z]+\b/.exec(reason)?.[0] ?? ''];
  return words === undefined ? reason : `${words} (${reason})`;
}
