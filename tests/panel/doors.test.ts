import { describe, expect, it } from 'vitest';
import { readPanelOptions } from '../../src/daemon/panel/panel-options.js';
import { Doors, type Knock } from '../../src/panel/server/doors.js';

const TOKEN = 'Bp1tpk2MnxTDtlu-pzNNfw';

let nowS = 0;
const doors = () => new Doors(TOKEN, ['panel.house.example'], () => nowS);

function knock(fields: Partial<Knock> = {}): Knock {
  return {
    method: 'GET',
    from: '127.0.0.1',
    at: '127.0.0.1',
    host: '127.0.0.1:7240',
    origin: undefined,
    site: undefined,
    isForwarded: false,
    authorization: undefined,
    ...fields,
  };
}
const with_ = (token: string) => ({ authorization: `Bearer ${token}` });
const REMOTE = { from: '10.0.0.9', at: '10.0.0.5', host: '10.0.0.5:7240' } as const;

describe('whoever looks', () => {
  it('needs no token on the machine itself, and one from anywhere else, or by way of a proxy', () => {
    expect(doors().look(knock())).toBeUndefined();
    expect(
      doors().look(knock({ from: '::ffff:127.0.0.1', at: '::ffff:127.0.0.1' })),
    ).toBeUndefined();
    expect(doors().look(knock(REMOTE))?.refusal).toBe('token missing');
    expect(doors().look(knock({ isForwarded: true }))?.refusal).toBe('token missing');
    expect(doors().look(knock({ ...REMOTE, ...with_(TOKEN) }))).toBeUndefined();
  });

  it.each([
    ['a name that was pointed here', { host: 'evil.example:7240' }],
    ['no name', { host: undefined }],
    ['another address', { host: '10.0.0.5' }],
    ['localhost from elsewhere', { ...REMOTE, host: 'localhost:7240', ...with_(TOKEN) }],
  ])('is refused under %s', (_, fields) => {
    expect(doors().look(knock(fields))?.refusal).toBe('host');
  });

  it.each(['localhost:7240', '127.0.0.1', 'PANEL.house.example:443'])('is let in by %s', host => {
    expect(doors().look(knock({ host }))).toBeUndefined();
  });

  it('is refused on a page of another origin', () => {
    expect(doors().look(knock({ origin: 'http://evil.example' }))?.refusal).toBe('origin');
    expect(doors().look(knock({ origin: 'null' }))?.refusal).toBe('origin');
    expect(doors().look(knock({ origin: 'http://127.0.0.1:7240' }))).toBeUndefined();
  });

  it('gets the page by a link from elsewhere, and no data on a page of elsewhere', () => {
    for (const site of ['cross-site', 'same-site']) {
      expect(doors().page(knock({ site }))).toBeUndefined();
      expect(doors().look(knock({ site }))?.refusal).toBe('origin');
    }
    for (const site of ['same-origin', 'none']) {
      expect(doors().look(knock({ site }))).toBeUndefined();
    }
  });

  it('is let in by an IPv6 address', () => {
    const v6 = { from: '::1', at: '::1' };
    expect(doors().look(knock({ ...v6, host: '[::1]:7240' }))).toBeUndefined();
    expect(doors().look(knock({ ...v6, host: '[::1]' }))).toBeUndefined();
    expect(doors().look(knock({ ...v6, host: '[::2]:7240' }))?.refusal).toBe('host');
  });
});

describe('whoever acts', () => {
  const act = (fields: Partial<Knock>) =>
    doors().act(knock({ method: 'POST', ...fields }))?.refusal;

  it('needs the token everywhere, and no other page', () => {
    expect(act({})).toBe('token missing');
    expect(act(with_('wrong'))).toBe('token wrong');
    expect(act(with_(TOKEN))).toBeUndefined();
    expect(act({ ...with_(TOKEN), site: 'cross-site' })).toBe('origin');
    expect(act({ ...with_(TOKEN), origin: 'http://localhost:7240' })).toBe('origin');
  });

  it('has ten tries a minute, and does not lock out who has the token', () => {
    nowS = 1000;
    const one = doors();
    const said = (token: string, from = '10.0.0.9') =>
      one.act(knock({ ...REMOTE, from, method: 'POST', ...with_(token) }))?.refusal;
    expect(said(TOKEN)).toBeUndefined();
    for (let i = 0; i < 10; i++) expect(said(`guess ${i}`)).toBe('token wrong');
    for (let i = 0; i < 1000; i++) expect(said(`guess ${i}`)).toBe('too many tries');
    expect(said(TOKEN)).toBeUndefined();
    expect(said(TOKEN, '10.0.0.10')).toBeUndefined();
    nowS += 61;
    expect(said('guess')).toBe('token wrong');
  });

  it('is let in by the right token, whatever was sent from that address before', () => {
    const one = doors();
    const said = (token: string) =>
      one.act(knock({ ...REMOTE, method: 'POST', ...with_(token) }))?.refusal;
    for (let i = 0; i < 10; i++) said('old');
    expect(said('old')).toBe('too many tries');
    expect(said(TOKEN)).toBeUndefined();
  });

  it('uses one try to ask what it may do, and may look on the machine itself', () => {
    const one = doors();
    const asks = (fields: Partial<Knock>) => one.entry(knock(fields));
    expect(asks({})).toEqual({ mayLook: true, mayAct: false, fault: undefined });
    expect(asks(REMOTE)).toEqual({ mayLook: false, mayAct: false, fault: undefined });
    expect(asks(with_(TOKEN)).mayAct).toBe(true);
    const refusals = Array.from({ length: 11 }, () => asks(with_('old')).fault?.refusal);
    expect(refusals).toEqual([...Array(10).fill('token wrong'), 'too many tries']);
    expect(asks(with_('old')).mayLook).toBe(true);
    expect(one.look(knock(with_('old')))).toBeUndefined();
  });

  it('is held up for all once a hundred have come from everywhere', () => {
    nowS = 5000;
    const one = doors();
    const from = (i: number) => `10.0.${i >> 3}.${i & 7}`;
    const said = (i: number) =>
      one.act(knock({ ...REMOTE, from: from(i), method: 'POST', ...with_('guess') }))?.refusal;
    for (let i = 0; i < 100; i++) expect(said(i)).toBe('token wrong');
    expect(said(500)).toBe('too many tries');
  });

  it('may not act with the old token once there is a new one', () => {
    const one = doors();
    one.take('another-token-of-the-house');
    expect(one.act(knock({ method: 'POST', ...with_(TOKEN) }))?.refusal).toBe('token wrong');
  });
});

describe('where it listens', () => {
  const read = (panel?: string, more: object = {}) =>
    readPanelOptions({ panel, hosts: undefined, cert: undefined, key: undefined, ...more });
  it.each([
    [undefined, '127.0.0.1', 7240],
    ['10.0.0.5', '10.0.0.5', 7240],
    ['8080', '127.0.0.1', 8080],
    ['10.0.0.5:81', '10.0.0.5', 81],
    ['[::1]:81', '::1', 81],
    ['::1', '::1', 7240],
  ])('%s is %s, port %i', (panel, address, port) => {
    expect(read(panel)).toMatchObject({ address, port });
  });

  it('is nowhere with off, and says what would be right', () => {
    expect(read('off')).toBeUndefined();
    for (const wrong of ['house', '10.0.0.5:0', '10.0.0.5:99999', ':80', '1.2.3']) {
      expect(read(wrong)).toMatch(/^--panel is an address, a port, or both/);
    }
    expect(read(undefined, { cert: 'a.pem' })).toMatch(/belong together/);
    expect(read(undefined, { hosts: 'a b' })).toMatch(/--panel-host is a name/);
  });
});
