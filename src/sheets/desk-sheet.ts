import type { GroundUse, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { type DeskUniverseChart, deskChart } from './desk-chart.js';

/** What a venue wants to know of the desk: what it can stop and enable, and what of it reaches the light. */
export interface DeskSheet extends DeskUniverseChart {
  /** Where a universe of the show lies on it: fixtures that take something from it. */
  readonly takes: readonly {
    readonly fixture: string;
    readonly label: string;
    readonly use: Exclude<GroundUse, 'ours'>;
    readonly attributes: readonly string[];
  }[];
}

export function deskSheets(show: Show): DeskSheet[] {
  const { universes } = deskChart(show);
  return universes.map((chart, index) => ({
    ...chart,
    takes: takesFrom(show, show.desk[index]?.ground),
  }));
}

function takesFrom(show: Show, universe: number | undefined): DeskSheet['takes'] {
  if (universe === undefined) return [];
  return show.fixtures
    .filter(one => one.universe === universe)
    .flatMap(({ name: fixture, label, ground, profile }) =>
      (['desk', 'safe', 'scale'] as const).flatMap(use => {
        const attributes = profile.channels.flatMap(({ attribute }, channel) =>
          ground[channel] === use ? [attribute] : [],
        );
        return attributes.length === 0 ? [] : [{ fixture, label, use, attributes }];
      }),
    );
}

/** Slots that stop or enable something; signals and cues are no matter of safety. */
export function deskOrdersText(all: readonly DeskSheet[]): string[] {
  return all.flatMap(one => {
    const said = one.slots
      .filter(({ kind }) => kind !== 'signal' && kind !== 'cue')
      .map(({ slot, does, gone }) => `slot ${slot} ${does} (desk gone: ${gone})`);
    return said.length === 0 ? [] : [`By ${wireOf(one)} of the desk: ${said.join('; ')}.`];
  });
}

/** What the loss of the desk does to the light, where its slots are signals: levels, and masters of mappings. */
export function deskLossText(all: readonly DeskSheet[]): string[] {
  return all.flatMap(one => {
    const said = one.slots
      .filter(({ kind }) => kind === 'signal')
      .map(
        ({ slot, does, gone }) =>
          `slot ${slot} (${does}) ${gone.replace(/^unknown: to/, 'is not known, and its light goes to')}`,
      );
    return said.length === 0
      ? []
      : [`When ${wireOf(one)} of the desk ("${one.name}") is no longer heard: ${said.join('; ')}.`];
  });
}

const USES = {
  desk: 'as the desk sends it',
  safe: "the desk's level as the safe value",
  scale: "a share of the desk's",
} as const;

/** Of universes that lie on one of the desk. */
export function groundText(all: readonly DeskSheet[]): string[] {
  return all
    .filter(({ ground }) => ground !== null)
    .flatMap(one => [
      `Universe ${one.ground} of the show lies on ${wireOf(one)} of the desk ("${one.name}"). Slots without a fixture of this show are passed on as the desk sends them: without the limits below, without an enable, whatever the show does. Whoever runs the desk is responsible for what is patched there.`,
      ...one.takes.map(
        ({ label, use, attributes }) => `${label}: ${enumerated(attributes, 12)}: ${USES[use]}.`,
      ),
    ]);
}

/** What one fixture takes from the desk, `Pan and Tilt: the desk's level as the safe value`; nothing where all of it is ours. */
export function takenBy(all: readonly DeskSheet[], fixture: string): string[] {
  return all
    .flatMap(({ takes }) => takes.filter(one => one.fixture === fixture))
    .map(({ use, attributes }) => `${enumerated(attributes, 12)}: ${USES[use]}`);
}

function wireOf({ protocol, universe, interface: on }: DeskUniverseChart): string {
  const number =
    protocol === 'sacn' ? `sACN universe ${universe}` : `Art-Net Port-Address ${universe}`;
  return `${number}, on ${on},`;
}
