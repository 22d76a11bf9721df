import { type Affine, mvrMatrix, NOWHERE_ELSE, within } from './affine.js';
import { clipped } from './archive.js';
import type { Remarks } from './outcome.js';
import { attributeOf, childOf, childrenOf, numberOf, type XmlElement } from './xml.js';

/** What an MVR file (DIN SPEC 15801:2023-12, MVR 1.6) says of a fixture, as far as it is of use here. */
export interface MvrFixture {
  /** How messages call it. */
  readonly where: string;
  readonly name: string;
  /** What people call it by on paper; empty where there is none. */
  readonly fixtureId: string;
  readonly unitNumber: string;
  readonly gdtfSpec: string | undefined;
  readonly gdtfMode: string | undefined;
  /** In the frame of the plot; in words why nobody can say, where a Matrix can't be read. */
  readonly placed: Affine | string;
  readonly addresses: readonly MvrAddress[];
  /** The fixture has its channel of Pan, or of Tilt, set to run the other way. */
  readonly invertsPan: boolean;
  readonly invertsTilt: boolean;
}

export interface MvrAddress {
  readonly dmxBreak: number;
  /** Both counted from 1. */
  readonly universe: number;
  readonly address: number;
}

const MOST_FIXTURES = 20_000;
const SLOTS = 512;
const MOST_UNIVERSES = 63_999;

/** What is read of a fixture, and what only a drawing needs. */
const READ: ReadonlySet<string> = new Set([
  'Matrix', 'GDTFSpec', 'GDTFMode', 'Addresses', 'FixtureID', 'FixtureIDNumeric', 'UnitNumber',
  'ChildList', 'DMXInvertPan', 'DMXInvertTilt', 'Classing', 'CastShadow', 'CustomId', 'CustomIdType',
  'Geometries', 'Mappings', 'Position', 'Function', 'ChildPosition',
]); // biome-ignore format: a list

/** All the fixtures of a scene, groups unfolded. */
export function fixturesOf(root: XmlElement, remarks: Remarks): MvrFixture[] {
  const fixtures: MvrFixture[] = [];
  const others = new Map<string, number>();
  const unread = new Map<string, number>();
  let unplaced = 0;
  const visit = (element: XmlElement, outer: Affine | string): void => {
    const isFixture = element.name === 'Fixture';
    const where = `${isFixture ? 'fixture' : element.name} "${clipped(attributeOf(element, 'name') ?? '')}"`;
    const placed = placeOf(element, isFixture ? 'its Matrix' : `the Matrix of ${where}`, outer);
    if (isFixture && fixtures.length < MOST_FIXTURES) {
      fixtures.push(fixtureOf(element, where, placed, remarks));
      if (textOfMatrix(element) === '') unplaced += 1;
      for (const { name } of element.children) {
        if (!READ.has(name)) unread.set(name, (unread.get(name) ?? 0) + 1);
      }
    } else if (element.name !== 'Layer' && element.name !== 'GroupObject') {
      others.set(element.name, (others.get(element.name) ?? 0) + 1);
    }
    // Whatever holds fixtures: a later version may have more kinds of it.
    for (const { children } of childrenOf(element, 'ChildList')) {
      for (const child of children) visit(child, placed);
    }
  };
  const layers = childrenOf(root, 'Scene').flatMap(scene => childrenOf(scene, 'Layers'));
  for (const { children } of layers) for (const layer of children) visit(layer, NOWHERE_ELSE);
  if (unplaced > 0) {
    remarks.note(
      'the scene',
      `${counted(unplaced)} no Matrix, so ${unplaced === 1 ? 'it hangs' : 'they hang'} at the origin of the layer, group or fixture around, as MVR has it`,
    );
  }
  for (const [name, count] of unread) {
    remarks.note('the scene', `${counted(count)} a ${clipped(name)}, which is not used`);
  }
  for (const [name, count] of others) {
    if (name === 'Fixture') {
      remarks.error('the scene', `${count} fixtures beyond the first ${MOST_FIXTURES}`);
    } else {
      remarks.leftOut('the scene', `${count} x ${clipped(name)}: only fixtures are imported`);
    }
  }
  return fixtures;
}

function counted(count: number): string {
  return count === 1 ? '1 fixture has' : `${count} fixtures have`;
}

function textOfMatrix(element: XmlElement): string {
  return childOf(element, 'Matrix')?.text ?? '';
}

/** Where an element is in the plot; without a Matrix it is where the one around it is. */
function placeOf(element: XmlElement, whose: string, outer: Affine | string): Affine | string {
  const text = textOfMatrix(element);
  if (text === '' || typeof outer === 'string') return outer;
  const matrix = mvrMatrix(text);
  return matrix === undefined
    ? `${whose} "${clipped(text)}" is not 4 rows of 3 finite numbers`
    : within(outer, matrix);
}

function fixtureOf(
  element: XmlElement,
  where: string,
  placed: Affine | string,
  remarks: Remarks,
): MvrFixture {
  const text = (name: string) => childOf(element, name)?.text ?? '';
  const id = text('FixtureID') || text('FixtureIDNumeric');
  const at = id === '' ? where : `${where} (${clipped(id)})`;
  const part = text('ChildPosition');
  if (part !== '') {
    remarks.note(
      at,
      `it is fixed to the part "${clipped(part)}" of another fixture (ChildPosition), which is not followed: its place is counted from where that fixture hangs, so measure it`,
    );
  }
  return {
    where: at,
    name: attributeOf(element, 'name') ?? '',
    fixtureId: id,
    unitNumber: text('UnitNumber'),
    gdtfSpec: text('GDTFSpec') || undefined,
    gdtfMode: text('GDTFMode') || undefined,
    placed,
    addresses: addressesOf(element, at, remarks),
    invertsPan: text('DMXInvertPan').toLowerCase() === 'true',
    invertsTilt: text('DMXInvertTilt').toLowerCase() === 'true',
  };
}

function addressesOf(element: XmlElement, where: string, remarks: Remarks): MvrAddress[] {
  return childrenOf(childOf(element, 'Addresses'), 'Address').flatMap(one => {
    const address = addressOf(one.text);
    if (address === undefined) {
      remarks.note(
        where,
        `"${clipped(one.text)}" is no DMX address (a number from 1, or universe.address)`,
      );
      return [];
    }
    return [{ dmxBreak: numberOf(one, 'break') ?? 0, ...address }];
  });
}

/** `513` or `2.1`: both are slot 1 of universe 2. */
export function addressOf(text: string): { universe: number; address: number } | undefined {
  const parts = /^(?:(\d{1,6})\.)?(\d{1,9})$/.exec(text.trim());
  if (parts === null) return undefined;
  const number = Number(parts[2]);
  const universe = parts[1] === undefined ? Math.floor((number - 1) / SLOTS) + 1 : Number(parts[1]);
  const address = parts[1] === undefined ? ((number - 1) % SLOTS) + 1 : number;
  const isThere =
    number >= 1 && universe >= 1 && universe <= MOST_UNIVERSES && address >= 1 && address <= SLOTS;
  return isThere ? { universe, address } : undefined;
}
