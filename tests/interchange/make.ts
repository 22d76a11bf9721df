import { strToU8, zipSync } from 'fflate';

/**
 * MVR and GDTF archives made for the tests, after the element names and notations of DIN SPEC 15800 and
 * 15801. No maker's file, and no text of one, is in here.
 */
export function zip(entries: Readonly<Record<string, string | Uint8Array>>): Uint8Array {
  return zipSync(
    Object.fromEntries(
      Object.entries(entries).map(([name, content]) => [
        name,
        typeof content === 'string' ? strToU8(content) : content,
      ]),
    ),
  );
}

/** Rows as both write them; which numbers stand in them is the difference between the two. */
export function matrixText(rows: readonly (readonly number[])[]): string {
  return rows.map(row => `{${row.map(n => n.toFixed(6)).join(',')}}`).join('');
}

export const IDENTITY_4 = '{1,0,0,0}{0,1,0,0}{0,0,1,0}{0,0,0,1}';

export interface HeadParts {
  readonly name?: string;
  /** Positions of the yoke in the base, of the head in the yoke, of the beam in the head. */
  readonly yoke?: string;
  readonly head?: string;
  readonly beam?: string;
  readonly modes?: string;
  readonly geometries?: string;
  readonly beamAttributes?: string;
}

const DOWN = (metres: number) => `{1,0,0,0}{0,1,0,0}{0,0,1,${-metres}}{0,0,0,1}`;

/** 16 bits of pan and tilt with their fine bytes apart, a dimmer, a shutter with names, a zoom, a gobo wheel. */
export const HEAD_MODE = `
<DMXMode Name="Mode 1 (fine)" Geometry="Base"><DMXChannels>
  <DMXChannel DMXBreak="1" Offset="1,3" Highlight="None" Geometry="Yoke" InitialFunction="Yoke_Pan.Pan.Pan 1">
    <LogicalChannel Attribute="Pan" Snap="No"><ChannelFunction Name="Pan 1" Attribute="Pan" DMXFrom="0/1" Default="128/1" PhysicalFrom="-270" PhysicalTo="270" RealFade="3" RealAcceleration="0.5"/></LogicalChannel>
  </DMXChannel>
  <DMXChannel DMXBreak="1" Offset="2,4" Highlight="None" Geometry="Head">
    <LogicalChannel Attribute="Tilt"><ChannelFunction Name="Tilt 1" Attribute="Tilt" DMXFrom="0/1" Default="128/1s" PhysicalFrom="135" PhysicalTo="-135"/></LogicalChannel>
  </DMXChannel>
  <DMXChannel DMXBreak="1" Offset="5" Highlight="255/1" Geometry="Head">
    <LogicalChannel Attribute="Dimmer"><ChannelFunction Name="Dimmer 1" Attribute="Dimmer" DMXFrom="0/1" Default="0/1" PhysicalFrom="0" PhysicalTo="1"/></LogicalChannel>
  </DMXChannel>
  <DMXChannel DMXBreak="1" Offset="6" Highlight="20/1" Geometry="Head" InitialFunction="Head_Shutter1.Shutter1.Shutter">
    <LogicalChannel Attribute="Shutter1" Snap="Yes">
      <ChannelFunction Name="Shutter" Attribute="Shutter1" DMXFrom="0/1" Default="15/1" PhysicalFrom="0" PhysicalTo="1">
        <ChannelSet Name="Closed" DMXFrom="0/1"/><ChannelSet Name="Open" DMXFrom="10/1"/><ChannelSet Name="" DMXFrom="30/1"/>
      </ChannelFunction>
      <ChannelFunction Name="Strobe" Attribute="Shutter1Strobe" DMXFrom="32/1" PhysicalFrom="1" PhysicalTo="20"/>
    </LogicalChannel>
  </DMXChannel>
  <DMXChannel DMXBreak="1" Offset="7" Geometry="Head">
    <LogicalChannel Attribute="Zoom"><ChannelFunction Name="Zoom 1" Attribute="Zoom" DMXFrom="0/1" Default="100/1" PhysicalFrom="8" PhysicalTo="42" RealFade="2"/></LogicalChannel>
  </DMXChannel>
  <DMXChannel DMXBreak="1" Offset="8" Geometry="Head">
    <LogicalChannel Attribute="Gobo1"><ChannelFunction Name="Wheel" Attribute="Gobo1" DMXFrom="0/1" Default="0/1" PhysicalFrom="0" PhysicalTo="0" Wheel="W">
      <ChannelSet Name="Open &amp; clear" DMXFrom="0/1" WheelSlotIndex="1"/><ChannelSet Name="Leaves" DMXFrom="64/1" WheelSlotIndex="2"/><ChannelSet Name="W&#228;rme" DMXFrom="128/1"/>
    </ChannelFunction></LogicalChannel>
  </DMXChannel>
  <DMXChannel DMXBreak="1" Offset="9" Geometry="Base">
    <LogicalChannel Attribute="Special9"><ChannelFunction Name="x" Attribute="Special9" DMXFrom="0/1" Default="77/1"/></LogicalChannel>
  </DMXChannel>
</DMXChannels></DMXMode>`;

export function headXml(parts: HeadParts = {}): string {
  const { yoke = DOWN(0.12), head = DOWN(0.25), beam = DOWN(0.1) } = parts;
  return `<?xml version="1.0" encoding="UTF-8"?>
<GDTF DataVersion="1.2"><FixtureType Name="${parts.name ?? 'Test head'}" ShortName="TH" LongName="Test head, long" Manufacturer="None" FixtureTypeID="0">
<AttributeDefinitions><Attributes>
  <Attribute Name="Pan" PhysicalUnit="Angle"/><Attribute Name="Tilt" PhysicalUnit="Angle"/><Attribute Name="Zoom" PhysicalUnit="Angle"/>
  <Attribute Name="Dimmer" PhysicalUnit="LuminousIntensity"/><Attribute Name="CTO" PhysicalUnit="Temperature"/>
  <Attribute Name="Shutter1Strobe" PhysicalUnit="Frequency"/><Attribute Name="Gobo3" PhysicalUnit="None"/>
</Attributes></AttributeDefinitions>
<Geometries>${
    parts.geometries ??
    `<Geometry Name="Base" Position="${IDENTITY_4}"><Axis Name="Yoke" Position="${yoke}"><Axis Name="Head" Position="${head}">
    <Beam Name="Beam" Position="${beam}" ${parts.beamAttributes ?? 'BeamAngle="12.5" FieldAngle="15" LuminousFlux="9000" BeamRadius="0.06"'}/>
  </Axis></Axis></Geometry>`
  }</Geometries>
<DMXModes>${parts.modes ?? HEAD_MODE}</DMXModes>
</FixtureType></GDTF>`;
}

export function headGdtf(parts: HeadParts = {}): Uint8Array {
  return zip({ 'description.xml': headXml(parts), 'models/gltf/base.glb': new Uint8Array(64) });
}

/** A machine for haze and its fan, no class said anywhere: GDTF has none. */
export const HAZER_MODE = `
<DMXMode Name="Mode 1 (fine)" Geometry="Base"><DMXChannels>
  ${['Haze1', 'Fan1', 'Control1'].map((attribute, i) => `<DMXChannel DMXBreak="1" Offset="${i + 1}" Geometry="Base"><LogicalChannel Attribute="${attribute}"><ChannelFunction Name="x" Attribute="${attribute}" DMXFrom="0/1" Default="0/1" PhysicalFrom="0" PhysicalTo="1"/></LogicalChannel></DMXChannel>`).join('')}
</DMXChannels></DMXMode>`;

export interface FixtureParts {
  readonly name?: string;
  readonly matrix?: string | undefined;
  readonly spec?: string | undefined;
  readonly mode?: string | undefined;
  readonly address?: string | undefined;
  readonly id?: string;
  readonly more?: string;
}

export function fixtureXml(parts: FixtureParts = {}): string {
  const { name = 'Spot', matrix, id = '1' } = parts;
  const { spec = 'Test@Head.gdtf', mode = 'Mode 1 (fine)', address = '1' } = parts;
  return `<Fixture name="${name}" uuid="0">
  ${matrix === undefined ? '' : `<Matrix>${matrix}</Matrix>`}
  ${spec === '' ? '' : `<GDTFSpec>${spec}</GDTFSpec>`}${mode === '' ? '' : `<GDTFMode>${mode}</GDTFMode>`}
  ${address === '' ? '' : `<Addresses><Address break="0">${address}</Address></Addresses>`}
  <FixtureID>${id}</FixtureID><UnitNumber>${id}</UnitNumber>${parts.more ?? ''}
</Fixture>`;
}

export function sceneXml(layers: string): string {
  return `<?xml version="1.0" encoding="UTF-8"?>
<GeneralSceneDescription verMajor="1" verMinor="6"><UserData/><Scene><AUXData/><Layers>${layers}</Layers></Scene></GeneralSceneDescription>`;
}

export function layerXml(inside: string, matrix = ''): string {
  return `<Layer name="Rig" uuid="1">${matrix}<ChildList>${inside}</ChildList></Layer>`;
}

export function groupXml(matrix: string, inside: string): string {
  return `<GroupObject name="Bar" uuid="2"><Matrix>${matrix}</Matrix><ChildList>${inside}</ChildList></GroupObject>`;
}

export function plot(layers: string, gdtf: Uint8Array = headGdtf()): Uint8Array {
  return zip({ 'GeneralSceneDescription.xml': sceneXml(layers), 'Test@Head.gdtf': gdtf });
}
