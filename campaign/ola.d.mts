export interface OlaPacket {
  /** Seconds from the first. */
  readonly atS: number;
  readonly protocol: 'sacn' | 'artnet';
  readonly universe: number;
  readonly slots: Uint8Array;
}

export class Ola {
  static open(
    host: string,
    universes: Readonly<Partial<Record<'sacn' | 'artnet', number>>>,
    sends?: boolean,
  ): Promise<Ola>;
  close(): Promise<OlaPacket[]>;
}
