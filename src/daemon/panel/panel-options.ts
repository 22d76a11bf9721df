import { isIP } from 'node:net';

/** Where the panel listens, and by what name and certificate. */
export interface PanelOptions {
  readonly address: string;
  readonly port: number;
  readonly hosts: readonly string[];
  readonly certificate: { readonly cert: string; readonly key: string } | undefined;
}

export const USUAL_PANEL = { address: '127.0.0.1', port: 7240 } as const;
const HOST_NAME = /^[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?$/;

export interface PanelWords {
  /** `off`, an address, a port, or both: 10.0.0.5:7240, [fe80::1]:7240. */
  readonly panel: string | undefined;
  /** Names with commas. */
  readonly hosts: string | undefined;
  readonly cert: string | undefined;
  readonly key: string | undefined;
}

/** @returns the options; undefined for no panel; or what is wrong, in a sentence */
export function readPanelOptions(words: PanelWords): PanelOptions | undefined | string {
  const { panel = '', hosts = '', cert, key } = words;
  if (panel === 'off') return undefined;
  const where = readWhere(panel);
  if (where === undefined) {
    return `--panel is an address, a port, or both (127.0.0.1:7240), or off; not "${panel}".`;
  }
  const names = hosts
    .split(',')
    .flatMap(one => (one.trim() === '' ? [] : [one.trim().toLowerCase()]));
  const wrong = names.find(name => !HOST_NAME.test(name));
  if (wrong !== undefined)
    return `--panel-host is a name such as panel.house.example, not "${wrong}".`;
  if ((cert === undefined) !== (key === undefined)) {
    return '--panel-cert and --panel-key belong together: a certificate and its key, PEM files.';
  }
  const certificate = cert === undefined || key === undefined ? undefined : { cert, key };
  return { ...where, hosts: names, certificate };
}

function readWhere(text: string): { address: string; port: number } | undefined {
  if (text === '') return USUAL_PANEL;
  if (/^\d+$/.test(text)) return checked(USUAL_PANEL.address, Number(text));
  const [, bracketed, plain, port] = /^(?:\[([^\]]+)\]|([^:]+))(?::(\d+))?$/.exec(text) ?? [];
  const address = bracketed ?? plain;
  if (address === undefined) return isIP(text) === 6 ? checked(text, USUAL_PANEL.port) : undefined;
  return checked(address, port === undefined ? USUAL_PANEL.port : Number(port));
}

function checked(address: string, port: number) {
  const isRight = isIP(address) !== 0 && port >= 1 && port <= 65_535;
  return isRight ? { address, port } : undefined;
}
