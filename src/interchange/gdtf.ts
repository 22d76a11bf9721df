import { ARCHIVE_LIMITS, clipped, readArchive } from './archive.js';
import { channelsOf, type GdtfChannel } from './gdtf-channels.js';
import { coloursOf, type GdtfColours } from './gdtf-colours.js';
import { type Part, partsUnder } from './gdtf-geometry.js';
import type { Remarks } from './outcome.js';
import { attributeOf, childOf, childrenOf, readXml, type XmlElement } from './xml.js';

/** What a GDTF file (DIN SPEC 15800:2022-02, GDTF 1.2) says of a kind of fixture, as far as it is of use here. */
export interface GdtfFixture {
  /** How messages call the file. */
  readonly where: string;
  readonly name: string;
  readonly longName: string;
  /** Physical unit of each attribute that the file defines. */
  readonly units: ReadonlyMap<string, string>;
  readonly colours: GdtfColours;
  readonly modes: readonly GdtfMode[];
}

export interface GdtfMode {
  readonly where: string;
  readonly name: string;
  /** The body that the mode moves; empty where it is missing. */
  readonly parts: readonly Part[];
  readonly channels: readonly GdtfChannel[];
}

export type GdtfResult =
  | {
      readonly ok: true;
      readonly fixture: GdtfFixture;
      /** Length of the description, unpacked. */
      readonly xmlBytes: number;
    }
  | { readonly ok: false; readonly fault: string };

const DESCRIPTION = 'description.xml';

/**
 * Reads a GDTF archive. Never throws.
 * @param file how to call it in remarks
 * @param budgetBytes longest description that is read
 */
export function readGdtf(
  bytes: Uint8Array,
  file: string,
  remarks: Remarks,
  budgetBytes = ARCHIVE_LIMITS.totalBytes,
): GdtfResult {
  const limits = { ...ARCHIVE_LIMITS, totalBytes: budgetBytes };
  const archive = readArchive(bytes, name => name === DESCRIPTION, limits);
  if (!archive.ok) return archive;
  const description = archive.entries.get(DESCRIPTION);
  if (description === undefined) {
    return { ok: false, fault: `it has no ${DESCRIPTION}, so it is no GDTF file` };
  }
  const xml = readXml(description, 'GDTF');
  if (!xml.ok) return { ok: false, fault: `${DESCRIPTION}: ${xml.fault}` };
  const type = childOf(xml.root, 'FixtureType');
  if (type === undefined) return { ok: false, fault: `${DESCRIPTION} has no FixtureType` };
  const modes = childrenOf(childOf(type, 'DMXModes'), 'DMXMode');
  if (modes.length === 0) return { ok: false, fault: `${DESCRIPTION} has no DMXMode` };
  const name = attributeOf(type, 'Name') ?? attributeOf(type, 'ShortName') ?? 'fixture';
  return {
    ok: true,
    xmlBytes: description.length,
    fixture: {
      where: file,
      name,
      longName: attributeOf(type, 'LongName') ?? name,
      units: unitsOf(type),
      colours: coloursOf(type),
      modes: modes.map((mode, index) => modeOf(type, mode, index, file, remarks)),
    },
  };
}

function modeOf(
  type: XmlElement,
  mode: XmlElement,
  index: number,
  file: string,
  remarks: Remarks,
): GdtfMode {
  const name = attributeOf(mode, 'Name') ?? `Mode ${index + 1}`;
  const where = `${file}, mode "${clipped(name)}"`;
  const root = attributeOf(mode, 'Geometry') ?? '';
  const parts = partsUnder(childOf(type, 'Geometries'), root, where, remarks);
  if (parts === undefined) {
    remarks.note(
      where,
      `there is no geometry "${clipped(root)}"; pan and tilt are taken to cross where it hangs`,
    );
  }
  const relations = childrenOf(childOf(mode, 'Relations'), 'Relation').length;
  if (relations > 0) {
    remarks.note(where, `${relations} of its Relations between channels are not used`);
  }
  const macros = childOf(mode, 'FTMacros')?.children.length ?? 0;
  if (macros > 0) remarks.note(where, `${macros} of its macros (FTMacros) are not used`);
  return { where, name, parts: parts ?? [], channels: channelsOf(mode, where, remarks) };
}

function unitsOf(type: XmlElement): Map<string, string> {
  const attributes = childrenOf(
    childOf(childOf(type, 'AttributeDefinitions'), 'Attributes'),
    'Attribute',
  );
  return new Map(
    attributes.map(one => [
      attributeOf(one, 'Name') ?? '',
      attributeOf(one, 'PhysicalUnit') ?? 'None',
    ]),
  );
}
