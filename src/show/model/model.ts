import type { HeadOptions } from '../../fixtures/kinematics.js';
import type { OpticsOptions } from '../../fixtures/optics.js';
import type { Profile } from '../../fixtures/profile.js';
import type { CurveOptions, EnvelopeOptions, SoftEdge } from '../../mapping/options.js';
import type { AnchorOptions, ObstacleOptions, RangingOptions } from '../../planning/options.js';
import type { AxisOrder } from '../../protocols/axes.js';
import type { PositionOutTemplate } from '../../protocols/osc/position-out.js';
import type { RouteOptions } from '../../protocols/osc/route.js';
import type { PsnFeedOptions } from '../../protocols/psn/position.js';
import type { HazardClass, RawRange } from '../../safety/hazard.js';
import type { WatchdogOptions } from '../../safety/options.js';
import type { LimitOptions } from '../../safety/output-limiter.js';
import type { SignalSet } from '../../signals/plan.js';
import type { AreaOptions } from '../../stage/area.js';
import type { Rotation } from '../../stage/rotation.js';
import type { Radians } from '../../stage/units.js';
import type { Bounds, Vec3 } from '../../stage/vector.js';
import type { VolumeOptions } from '../../stage/volume.js';
import type { ConfidenceOptions } from '../../tracking/confidence.js';
import type { TrackerFit, TrackingOptions } from '../../tracking/options.js';
import type { BeamPlan, ColourPlan, TargetPlan } from '../palettes/palette-plans.js';
import type { Change } from '../schema/follow.js';
import type { DeskInputPlan, DeskOrderPlan, GroundUse } from './model-desk.js';

export type { DeskDoes, DeskInputPlan, DeskOrderPlan, GroundUse } from './model-desk.js';

/** A show that has been checked: names are indices, angles radians; right by construction. */
export interface Show {
  readonly name: string;
  /** The same on machines that make the same light of the same positions; see `digestOf`. */
  readonly digest: string;
  readonly bounds: Bounds;
  readonly inputs: readonly InputPlan[];
  readonly tracking: TrackingPlan;
  readonly performers: readonly PerformerPlan[];
  /** Trackers of the show that nobody wears yet. */
  readonly spares: readonly TrackerPlan[];
  readonly anchors: readonly AnchorOptions[];
  readonly ranging: RangingOptions;
  readonly obstacles: readonly ObstacleOptions[];
  readonly zones: readonly ZonePlan[];
  /** A performer who was last tracked in one of these and falls silent is off stage, not lost. */
  readonly exits: readonly ExitPlan[];
  readonly colours: readonly ColourPlan[];
  readonly beams: readonly BeamPlan[];
  /** Points of the palette, and fixtures that are targets. */
  readonly targets: readonly TargetPlan[];
  /** Keep-outs: no lit beam enters them. */
  readonly keepOuts: readonly KeepOutPlan[];
  readonly fixtures: readonly FixturePlan[];
  /** Names that stand for several fixtures: groups of the show, and fixtures of which each cell is a light of its own. */
  readonly groups: readonly FixtureGroupPlan[];
  /** Fixtures that hang but are not patched yet: nothing is sent to them. */
  readonly unpatched: readonly UnpatchedPlan[];
  /** Signals and conditions, and the order in which they are worked out. */
  readonly signals: SignalSet;
  readonly mappings: readonly MappingPlan[];
  /** In order; none: every mapping acts all the time. */
  readonly cues: readonly CuePlan[];
  /** OSC messages that are sent when conditions or cues are entered or left. */
  readonly receivers: readonly ReceiverPlan[];
  readonly actions: readonly ActionPlan[];
  /** Positions sent to others. */
  readonly positions: readonly PositionsPlan[];
  readonly watchdog: WatchdogOptions;
  readonly limits: LimitOptions;
  /** Time of the crossfade to this show in a reload that changes neither patch nor outputs, seconds. */
  readonly reloadS: number;
  /** undefined: nobody can give orders over the network. */
  readonly operator: OperatorPlan | undefined;
  /** Universes that are heard from a desk. */
  readonly desk: readonly DeskInputPlan[];
  /** Orders that slots of them give. */
  readonly orders: readonly DeskOrderPlan[];
  readonly outputs: readonly OutputPlan[];
  /** This machine sends only these of its outputs; undefined: there are no others. */
  readonly share?: Share;
  /** Universes of the show that outputs send, ascending. Levels are laid out in this order, 512 each. */
  readonly universes: readonly number[];
}

/** If several machines share the universes of one show: what this one leaves to the others. */
export interface Share {
  /** The outputs that others send. */
  readonly others: readonly OutputPlan[];
  /**
   * It sends the first output of the show, and so is the machine that sends OSC messages and positions to receivers;
   * otherwise each receiver would get them from every machine.
   */
  readonly tells: boolean;
}

/** A machine of a pair, at the port of the operator input. */
export interface PairMachinePlan {
  readonly address: string;
  /** Names of the outputs of the show that its pair sends. */
  readonly outputs: readonly string[];
}

export interface OperatorPlan {
  /** Index of its input. */
  readonly input: number;
  /** An enable that is not repeated for this long counts as released, seconds. */
  readonly enableTimeoutS: number;
  /** Where the standby machines of these outputs take orders; none: they are told nothing from here. */
  readonly standby: readonly PairMachinePlan[];
  /** Where the main machines take orders; none: one that comes back is told nothing from here. */
  readonly main: readonly PairMachinePlan[];
  /** What happens when the desk is not heard for `watchdog.deskLost.afterS`. */
  readonly desk: 'ignored' | 'reported' | 'required';
}

export interface InputPlan {
  /** What comes in: positions of trackers, or orders of an operator. */
  readonly carries: 'positions' | 'orders';
  readonly name: string;
  /** Address (with PosiStageNet also the name) of the interface on which it listens. */
  readonly listen: string;
  readonly port: number;
  readonly allow: 'any' | readonly string[];
  readonly maxDatagramBytes: number;
  /** An OSC time tag says when the message is due, or when the position was measured. */
  readonly timeTags: 'due' | 'measured';
  /** Its reports say when they were measured: by their time tags, or by an argument. */
  readonly isStamped: boolean;
  /** With OSC; empty if `psn` is set. */
  readonly routes: readonly RouteOptions[];
  /** undefined: it comes by OSC. */
  readonly psn: PsnInputPlan | undefined;
  /** Tracking frame to stage frame: `stage = origin + scale * rotation * tracking`. */
  readonly origin: Readonly<Vec3>;
  readonly rotation: Rotation;
  readonly scale: number;
}

/** An input by PosiStageNet. */
export interface PsnInputPlan extends PsnFeedOptions {
  /** Multicast group that is joined; undefined: it is sent to our address. */
  readonly group: string | undefined;
}

export interface TrackingPlan {
  readonly track: TrackingOptions;
  readonly confidence: ConfidenceOptions;
  /** Age of a position when it arrives, seconds. */
  readonly sensorLatencyS: number;
  /** From the tick to the light, seconds. */
  readonly outputLatencyS: number;
}

export interface PerformerPlan {
  readonly name: string;
  readonly label: string;
  readonly trackers: readonly TrackerPlan[];
  readonly heightM: number;
  /** Height of the tracker above the floor, metres. */
  readonly wornAtM: number;
}

export interface TrackerPlan {
  /** As it stands in the OSC address. */
  readonly id: string;
  readonly fit: TrackerFit;
}

export interface ZonePlan {
  readonly name: string;
  readonly label: string;
  /** Of a zone that moves its middle is 0, 0. */
  readonly area: AreaOptions;
  readonly edge: SoftEdge;
  /** Index of the performer with whom it moves, a circle around them; undefined: it stays where it is. */
  readonly around: number | undefined;
}

export interface ExitPlan {
  readonly name: string;
  readonly label: string;
  readonly area: AreaOptions;
}

export interface KeepOutPlan {
  readonly name: string;
  readonly label: string;
  readonly volume: VolumeOptions;
  /** Indices of the fixtures with a head that it concerns. */
  readonly heads: readonly number[];
}

/** Who takes OSC messages from us. */
export interface ReceiverPlan {
  readonly name: string;
  readonly label: string;
  readonly address: string;
  readonly port: number;
  /** Address or name of the interface from which it is sent. */
  readonly interface: string;
}

interface PositionsCommon {
  readonly name: string;
  /** Name of the receiver. */
  readonly receiver: string;
  readonly rateHz: number;
  /** How long after sending the positions hold, seconds. */
  readonly aheadS: number;
  /** Whose, by index, and the number under which each is sent. */
  readonly performers: readonly {
    readonly index: number;
    readonly name: string;
    readonly label: string;
    readonly id: number;
  }[];
  /** Which axis of the stage is x, y and z of what is sent. */
  readonly axes: AxisOrder;
  /** Metres in one unit of it. */
  readonly unitM: number;
}

/** Positions of performers for one receiver. */
export type PositionsPlan =
  | (PositionsCommon & { readonly protocol: 'psn' })
  | (PositionsCommon &
      PositionOutTemplate & { readonly protocol: 'osc'; readonly bundle: boolean });

/** An OSC message when a condition or a cue is entered or left. */
export interface ActionPlan {
  readonly of: 'condition' | 'cue';
  /** Of the condition or the cue. */
  readonly index: number;
  readonly name: string;
  readonly on: 'enter' | 'leave';
  /** Name of the receiver. */
  readonly receiver: string;
  /** OSC address. */
  readonly address: string;
  readonly args: readonly (number | string | boolean)[];
}

export interface UnpatchedPlan {
  readonly name: string;
  readonly label: string;
  readonly position: Readonly<Vec3> | undefined;
}

export interface FixturePlan {
  readonly name: string;
  readonly label: string;
  /** Name of the fixture in the file; for a cell, that of its fixture. */
  readonly inFile: string;
  readonly profile: Profile;
  /** As in the file; for a cell, that of its whole fixture. */
  readonly profileInFile: Profile;
  /** Index into `universes`. */
  readonly universe: number;
  /** Index of its first slot in the levels of all universes. */
  readonly firstSlot: number;
  /** Where it is, where the show says so; stage frame, metres. */
  readonly position: Readonly<Vec3> | undefined;
  /** The day of its last calibration, 2026-11-20; undefined: never. */
  readonly calibrated: string | undefined;
  /** Present where it can aim: has Pan, Tilt and a position. */
  readonly head: HeadOptions | undefined;
  /** Offset of its tilt from the profile; already included in `profile` and `head`. */
  readonly tiltTrim: Radians;
  /** Indices of its Pan and Tilt channels, -1 where it has none. */
  readonly panChannel: number;
  readonly tiltChannel: number;
  /** Physical value of each channel while no mapping acts, and in the safe look. */
  readonly base: readonly number[];
  readonly safe: readonly number[];
  /** Live to safe, seconds; undefined takes the watchdog's. */
  readonly fadeS: number | undefined;
  /** From its slots to its movement, seconds. */
  readonly lagS: number;
  /** Of each channel; one that is not ordinary leaves its safe value only while it is enabled. */
  readonly hazards: readonly HazardClass[];
  /** Of each channel; one that is not ordinary is always `ours`. If the universe has no ground, all are. */
  readonly ground: readonly GroundUse[];
  /** Of each channel that is ordinary except for some of its values: the strobing ones, raw. */
  readonly strobes: readonly (readonly RawRange[] | undefined)[];
}

export interface FixtureGroupPlan {
  readonly name: string;
  readonly label: string;
  /** Indices; with all cells of a fixture also what these share. */
  readonly fixtures: readonly number[];
}

export interface ChannelValue {
  /** Index of the fixture. */
  readonly fixture: number;
  /** Index of the channel in its profile. */
  readonly channel: number;
  /** Physical value at full level. */
  readonly value: number;
}

/** A look of the whole stage: which mappings act, and what shows while none does, or nobody is tracked. */
export interface CuePlan {
  readonly name: string;
  readonly label: string;
  /** How far each mapping of the show acts in it, 0..1; 0 if it is off. */
  readonly levels: readonly number[];
  /** For each fixture the physical value of each channel. */
  readonly base: readonly (readonly number[])[];
  readonly safe: readonly (readonly number[])[];
  /** Crossfade from what is lit when it is taken, seconds. */
  readonly fadeS: number;
  /** Index of the condition that takes it; undefined: none does. */
  readonly fire: number | undefined;
  /** Performers who are sent off stage, or on again, when it is taken. */
  readonly off: readonly number[];
  readonly on: readonly number[];
}

interface MappingCommon {
  /** Its place in the file, if that differs: a rule for several heads is a mapping for each. */
  readonly place?: number;
  /** The name that cues use; undefined if the file gives none. */
  readonly name: string | undefined;
  /** It acts in every cue, whether or not the cue names it. */
  readonly always: boolean;
  readonly values: readonly ChannelValue[];
  readonly fade: EnvelopeOptions;
  /** Index of the signal that limits how far it acts, besides the cue; undefined: only the cue does. */
  readonly master?: number | undefined;
}

export interface ZoneMappingPlan extends MappingCommon {
  readonly kind: 'zone';
  readonly zone: number;
  readonly performers: readonly number[];
  readonly curve: CurveOptions;
}

/** The rule by which a head chooses whom to follow. */
export type FollowRule =
  /** To a point of the stage, metres, or to another performer. */
  | { readonly kind: 'nearest'; readonly to: Readonly<Vec3> | number }
  /** Whoever came into the zone first, until they leave it. */
  | { readonly kind: 'first'; readonly zone: number }
  /** All of them at once. */
  | { readonly kind: 'middle' }
  /** Heads with the same pool serve them together. */
  | { readonly kind: 'share'; readonly pool: number };

export type { Change } from '../schema/follow.js';

export interface FollowChoice {
  readonly rule: FollowRule;
  /** The candidates, in order; and the offset from the tracked position of each to the aim point, metres. */
  readonly people: readonly number[];
  readonly offsets: readonly Readonly<Vec3>[];
  /** Least time that a choice is kept, seconds. */
  readonly holdS: number;
  readonly change: Change;
}

export interface FollowMappingPlan extends MappingCommon {
  readonly kind: 'follow';
  /** Whom it follows; with a choice, the first candidate. */
  readonly performer: number;
  /** undefined: always the same performer. Otherwise it has one head. */
  readonly choice?: FollowChoice | undefined;
  /** Index of the condition while which it follows; undefined: always. */
  readonly when: number | undefined;
  readonly heads: readonly number[];
  /** Added to the tracked position, metres. */
  readonly offset: Readonly<Vec3>;
  /** Aims ahead by the distance covered in this time, seconds. */
  readonly aheadS: number;
  readonly optics: OpticsOptions;
}

/** How a mapping's wish for a channel combines with others; `usual`: the highest for intensities, the latest for everything else. */
export const MIXES = ['usual', 'highest', 'latest', 'add', 'scale'] as const;
export type Mix = (typeof MIXES)[number];

/** Its level is `when` (0 or 1) times `by`, through the fade; at level 0 it asks for `from` or nothing, at 1 for `values`. */
export interface SignalMappingPlan extends MappingCommon {
  readonly kind: 'signal';
  /** Index of a condition; undefined: always. */
  readonly when: number | undefined;
  /** In the order of its groups, each once. */
  readonly fixtures: readonly number[];
  /** For each fixture the signal that drives it; undefined: 1. They differ if the signal runs along the fixtures. */
  readonly by: readonly number[] | undefined;
  /** What it asks for at level 0, for channels that `values` has too; empty: nothing. */
  readonly from: readonly ChannelValue[];
  readonly mix: Mix;
  /** The highest wins, channel by channel. The two other kinds have 0. */
  readonly priority: number;
  /** It is a master over fixtures: it only scales their intensity. */
  readonly isMaster?: true;
}

export type MappingPlan = ZoneMappingPlan | FollowMappingPlan | SignalMappingPlan;

interface OutputCommon {
  readonly name: string;
  /** Address or name of the interface. */
  readonly interface: string;
  readonly rateHz: number;
  readonly universes: readonly {
    /** Index into the show's `universes`. */
    readonly index: number;
    /** Number of the universe (or the Port-Address) in the protocol. */
    readonly onWire: number;
    /** Slots of our fixtures, as first slot and count; only if the output sends per-address priority. */
    readonly ours?: readonly (readonly [first: number, count: number])[];
  }[];
}

export interface SacnOutputPlan extends OutputCommon {
  readonly protocol: 'sacn';
  readonly to: 'multicast' | readonly string[];
  readonly priority: number;
  /** Synchronization address; undefined: not synchronised. */
  readonly sync?: number;
}

export interface ArtnetOutputPlan extends OutputCommon {
  readonly protocol: 'artnet';
  readonly to: readonly string[];
  /** undefined: unless the interface is the loopback. */
  readonly poll: boolean | undefined;
  readonly sync?: true;
}

export type OutputPlan = SacnOutputPlan | ArtnetOutputPlan;

export const SLOTS_PER_UNIVERSE = 512;
