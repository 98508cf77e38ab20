/**
 * What a rig file says, resolved: SI numbers, indices instead of names, every default filled in.
 * `rig-schema.ts` says how the file is written; this is what the rest of the system works with.
 *
 * Frames: craft frame x forward, y to port, z up, right-handed. `T_a_b` maps b into a.
 */

import type { Body, Pose, Vector3 } from '../rigid.js'
import type { BusAddress } from './bus-address.js'
import type { BatterySettings, BladeFlow, HullSettings, MountSettings, WaterSettings } from './craft.js'
import type { DriverSettings } from './driver.js'
import type { FrameMap } from './frame-map.js'
import type { DriveReports } from './reports.js'

export type { Body, Pose, Vector3 } from '../rigid.js'
export type {
  AddedMass,
  BatterySettings,
  BladeFlow,
  Damping,
  DragRow,
  HullSettings,
  MountSettings,
  WaterSettings,
} from './craft.js'
export type { DriverSettings } from './driver.js'
export type {
  BitPlace,
  ChecksumRule,
  FrameMap,
  MapCommand,
  MapFrame,
  MapSignal,
  SignalKind,
} from './frame-map.js'
export type { DriveReports, Reported, ReportedObject } from './reports.js'

/** @typeParam W settings of the watches; the watches own their type, this level does not know them */
export interface Rig<W = unknown> {
  readonly name: string
  readonly about: string
  readonly craft: Craft
  /** null: not stated, and so for the three that follow */
  readonly water: WaterSettings | null
  readonly hull: HullSettings | null
  readonly mount: MountSettings | null
  readonly battery: BatterySettings | null
  readonly control: { readonly rate: number /** s, 1 / rate */; readonly period: number }
  readonly buses: readonly BusSettings[]
  readonly arms: readonly Arm[]
  /** Every joint of every arm, in order; `Joint.index` is its place here and the joint's number everywhere else. */
  readonly joints: readonly Joint[]
  readonly stroke: StrokeSettings
  readonly driver: DriverSettings
  readonly motion: MotionSettings
  /** null: nobody has said how thick the arms are, and no distances are watched */
  readonly clearance: ClearanceSettings | null
  readonly link: LinkSettings
  readonly stop: StopSettings
  /** null: there is none */
  readonly stopBox: StopBoxSettings | null
  readonly guardian: GuardianSettings
  readonly realtime: RealtimeSettings
  readonly watch: W
  readonly simulation: SimulationSettings
}

export interface Craft {
  /** m */
  readonly length: number
  /** kg */
  readonly mass: number
  /** m, between the two blade lines: port blades move at y = +track/2, starboard at y = -track/2 */
  readonly track: number
  /** m, how far the water lies below the craft frame's origin: the surface is the plane z = -waterline */
  readonly waterline: number
}

export interface BusSettings {
  readonly index: number
  readonly name: string
  readonly address: BusAddress
  /** bit/s, on the wire of the bus */
  readonly bitrate: number
  /** bit/s of the serial port of an slcan adapter: ten bits a character; adapters on USB take no notice of it */
  readonly serialRate: number
  /** COB-ID of the controlword RPDO that all drives of this bus share, or null: each drive has its own at 300h + node. */
  readonly controlword: number | null
  /** Frames that the host may have waiting to be sent; one more is refused. */
  readonly queue: number
  /** What the CiA 402 drives of this bus report besides their feedback; null: nothing */
  readonly reports: DriveReports | null
  /**
   * Who sends SYNC, NMT, SDO, setpoints and enables on it. Where the driver does, `controlword` is the identifier of the stop PDO:
   * of all the rest the harness sends only that and its heartbeat.
   */
  readonly owner: BusOwner
}

export type BusOwner = 'harness' | 'driver'

export type Side = 'port' | 'starboard'

export interface Arm {
  readonly index: number
  readonly name: string
  readonly side: Side
  /** T_craft_base */
  readonly base: Pose
  /** Indices into `Rig.joints`, from base to tip. */
  readonly joints: readonly number[]
  readonly tool: Tool
  readonly paddle: Paddle
  /** kg, what the arm's maker lets it carry */
  readonly payload: number
}

/** The blade at the end of an arm. */
export interface Tool {
  /** T_lastjoint_blade: the origin is the centre of the blade. */
  readonly pose: Pose
  /** Unit vector in the blade frame, out of the face that pushes the water when the craft goes ahead. */
  readonly normal: Vector3
  /** Unit vector in the blade frame along the shaft, towards the blade's tip. */
  readonly shaft: Vector3
  /** Which of the six freedoms of the blade the driver must hold; an arm with fewer joints names fewer. */
  readonly constrained: readonly BladeAxis[]
}

/**
 * Freedoms of the blade: its centre along craft x, y, z; turns about the shaft (`feather`), about the face normal
 * (`lean`: the shaft swings in the blade's own plane) and about the third axis, normal x shaft (`pitch`).
 */
export type BladeAxis = 'x' | 'y' | 'z' | 'feather' | 'lean' | 'pitch'

export interface Paddle {
  /** kg */
  readonly mass: number
  /** m2, one face of the blade */
  readonly area: number
  /** m, blade along the shaft */
  readonly length: number
  /** m, blade across the shaft */
  readonly width: number
  readonly flow: BladeFlow
}

export interface Joint {
  readonly index: number
  /** `arm.joint`, such as `port.elbow` */
  readonly name: string
  readonly arm: number
  /** T_parent_joint at position zero; the parent of an arm's first joint is its base. */
  readonly origin: Pose
  /** Unit vector in the joint's frame; the joint turns right-handed about it. */
  readonly axis: Vector3
  readonly limits: JointLimits
  /** What turns with the joint up to the next one, paddle apart; null: not stated, so nothing can be said of torques */
  readonly body: Body | null
  /** Zeros for what is not stated: an ideal train, with which the equations of motion are those of rigid bodies alone. */
  readonly train: Train
  /** null: not stated */
  readonly rating: Rating | null
  readonly wire: JointWire
}

/** Motor, gear and bearings of one joint, as seen at the joint. */
export interface Train {
  /** kg m2, rotor and gear: gear ratio squared times the rotor's own */
  readonly rotor: number
  /** N m s/rad */
  readonly viscous: number
  /** N m: forwards (>= 0) and backwards (<= 0) */
  readonly coulomb: readonly [forwards: number, backwards: number]
}

/** What the drive of a joint bears, as its data sheet has it. */
export interface Rating {
  /** N m at the joint, for any length of time */
  readonly continuous: number
  /** N m at the joint, for a moment; the joint's torque limit where it is not stated */
  readonly peak: number
  /** s, thermal time constant of the drive; null: not stated */
  readonly warmUp: number | null
}

export interface JointLimits {
  /** rad */
  readonly lower: number
  /** rad */
  readonly upper: number
  /** rad/s */
  readonly speed: number
  /** rad/s2 */
  readonly acceleration: number
  /** N m */
  readonly torque: number
}

/** How the counts of a joint's feedback are to be read: position = sign (counts - zero) / countsPerRadian. */
interface Binding {
  /** Index into `Rig.buses`. */
  readonly bus: number
  /** Number of the drive on its bus. */
  readonly node: number
  readonly countsPerRadian: number
  readonly sign: 1 | -1
  /** counts at joint position zero */
  readonly zero: number
}

/** The binding of a joint to a CiA 402 drive; `node` is its CANopen node id, 1..127. */
export interface Cia402Wire extends Binding {
  readonly protocol: 'cia402'
  /** N m, object 6076h: the unit of 6077h and 6072h is a thousandth of it */
  readonly ratedTorque: number
}

/** The binding of a joint to a drive that speaks a frame map; counts are the numbers of the feedback's position signal. */
export interface FramesWire extends Binding {
  readonly protocol: 'frames'
  readonly map: FrameMap
  /** 1: speeds and torques of the drive count in the joint's own direction; -1: the other way. */
  readonly turns: 1 | -1
  /** The same for the numbers of the setpoint's position signal. */
  readonly setpoint: { readonly countsPerRadian: number; readonly sign: 1 | -1; readonly zero: number }
}

export type JointWire = Cia402Wire | FramesWire

/** A joint moved by a CiA 402 drive. */
export type Cia402Joint = Joint & { readonly wire: Cia402Wire }
/** A joint moved by a drive that speaks a frame map. */
export type FramesJoint = Joint & { readonly wire: FramesWire }

/** The same rig where no driver is at work: a jog leads the arms itself, also where in a run the driver owns the buses. */
export const withoutDriver = <W>(rig: Rig<W>): Rig<W> => ({
  ...rig,
  driver: { ...rig.driver, link: null },
  buses: rig.buses.map((bus) => ({ ...bus, owner: 'harness' })),
})

export const isFrames = (joint: Joint): joint is FramesJoint => joint.wire.protocol === 'frames'
export const isCia402 = (joint: Joint): joint is Cia402Joint => joint.wire.protocol === 'cia402'

/** The closed path of a blade; see motion/stroke.ts. */
export interface StrokeSettings {
  readonly sides: 'free' | 'together' | 'alternating'
  /** m, x of the middle of the drive in the craft frame */
  readonly middle: number
  /** m, from catch to exit along x */
  readonly length: number
  /** 0..1, the middle part of the drive on which the blade's speed equals the side speed */
  readonly even: number
  /** m, depth of the blade's centre below the surface in the drive */
  readonly immersion: number
  /** m, height of the blade's lowest edge above the surface on the recovery */
  readonly clearance: number
  /** rad, turn about the shaft on the recovery; 0 would keep the blade square */
  readonly feather: number
  /** rad, tilt of the shaft from the vertical, tip outboard */
  readonly lean: number
  /** 1/s, least phase rate on the recovery */
  readonly recovery: number
  /** m/s, greatest side speed, of which scenarios may state shares; null: not stated */
  readonly fastest: number | null
  /** s, side speed zero for this long parks the blade */
  readonly dwell: number
}

/** What holds for every motion, whoever asks for it, and for the way to the first stroke. */
export interface MotionSettings {
  /** 0..1 of each joint's speed limit. Below 1 the driver slows the phase to keep it; the last gate enforces it always. */
  readonly speedCap: number
  /** m/s, fastest that any link's end and any edge of a blade may go on the approach and in a jog */
  readonly tipSpeed: number
  /** rad, all joints in rig order: poses that each approach goes through, in order, before the park pose */
  readonly via: readonly Float64Array[]
  /** s, age at which a person's confirmation of this rig expires */
  readonly confirmedFor: number
}

/**
 * How thick the arms are, and what they must keep clear of besides each other and themselves. The parts of an arm are named
 * `arm.base`, `arm.joint` for the link that a joint moves, `arm.shaft` and `arm.blade`; see motion/clearance/arm-capsules.ts.
 */
export interface ClearanceSettings {
  /** m between surfaces: nearer is a failure, and stops the arms */
  readonly least: number
  /** m between surfaces: nearer is a warning; at least `least` */
  readonly warn: number
  /** m, radius about the line from an arm's base to its first joint */
  readonly base: number
  /** m, radius about the line from each joint to the next one of its arm; one for each of `Rig.joints` */
  readonly links: readonly number[]
  /** m, radius about a paddle's shaft */
  readonly paddle: number
  readonly keepOut: readonly KeepOut[]
  /** Names of two parts, or of a part and a volume, whose distance is not looked at. */
  readonly leftOut: readonly (readonly [string, string])[]
}

/** A volume that is fixed to the craft. */
export interface KeepOut {
  readonly name: string
  readonly parts: readonly Solid[]
}

/** All within `radius` (m) of a line, or of a box; craft frame. */
export type Solid =
  | { readonly shape: 'capsule'; readonly from: Vector3; readonly to: Vector3; readonly radius: number }
  /** `pose`: of its centre; `size`: m, from face to face */
  | { readonly shape: 'box'; readonly pose: Pose; readonly size: Vector3; readonly radius: number }

export interface LinkSettings {
  /** s, period of the heartbeat that the harness sends (from the finished tick) */
  readonly ourHeartbeat: number
  /** s, producer heartbeat time written to each drive (1017h) */
  readonly driveHeartbeat: number
  /** s, consumer heartbeat time written to each drive (1016h): silence from us longer than this and it stops by itself */
  readonly heartbeatTimeout: number
  /** rad, following error window (6065h) */
  readonly window: number
  /** s, following error time-out (6066h) */
  readonly windowTimeout: number
  /** rad/s2, quick stop deceleration (6085h) */
  readonly quickStop: number
  /** 0..1 of the joint's torque limit, written to 6072h */
  readonly torqueShare: number
  /** s, longest time for each step of setting up and enabling */
  readonly patience: number
  /** s, longest time that a drive may take for an SDO reply, waiting on the way included */
  readonly replyWithin: number
  /** 0..1 of each joint's speed limit, for the slow motion from the measured pose to the park pose */
  readonly approach: number
  /** s, oldest feedback on which a setpoint may still be sent */
  readonly staleAfter: number
}

export interface GuardianSettings {
  /** s, longest time without a finished tick, and longest time to obey a stop from another terminal */
  readonly timeout: number
}

/** An emergency-stop box: a normally closed contact in a modem line of a serial port. */
export interface StopBoxSettings {
  readonly device: string
  readonly line: 'cts' | 'dsr' | 'dcd'
  /** s for which it must be closed before it counts as closed */
  readonly settle: number
  /** s without a reading after which it counts as pressed */
  readonly patience: number
}

export interface StopSettings {
  /** Category after IEC 60204-1 for emergency sources: 0 or 1. */
  readonly category: 0 | 1
  /** Still means slower than `speed` (rad/s) for `hold` (s). */
  readonly still: { readonly speed: number; readonly hold: number }
  /** s, category 1 turns to disable voltage after this, still or not */
  readonly timeout: number
  /** s after still, in which sag is measured */
  readonly sagWindow: number
  /** rad, most sag that passes */
  readonly sag: number
  /** Before the first motion of a run the stop path is proven: on any arms, or on real ones only. */
  readonly prove: 'always' | 'real arms'
  /** s, within which each drive must have said then that it obeys the quick stop */
  readonly answer: number
  /** Do brakes hold the unpowered arms? Stated, not measured. */
  readonly brakes: boolean
  /** What a person states of the hard-wired stop, or null. */
  readonly overall: EnteredStop | null
}

/** Overall stopping time of the hard-wired stop, from the protective device's answer to the last part at rest. */
export interface EnteredStop {
  /** s */
  readonly time: number
  /** Who entered it, when, and how it was measured. */
  readonly entered: string
}

/** How well the loop of a real-time run must keep its time. */
export interface RealtimeSettings {
  /** s, a tick that comes later than this after its deadline is late */
  readonly late: number
  /** Late or missed ticks in a row that are borne; one more stops the run. */
  readonly mostLate: number
  /** Ask the system for first-in first-out scheduling. */
  readonly fifo: boolean
  /** The one that the loop keeps to; null: any. */
  readonly processor: number | null
}

export const PLANTS = ['dry', 'afloat'] as const

/** What simulated arms stand on: dry land, where nothing resists, or the craft in its water, with the weight of all links. */
export type PlantKind = (typeof PLANTS)[number]

/** The simulated arms' own truth, apart from the binding above, so that a wrong binding shows. */
export interface SimulationSettings {
  /** One for each of `Rig.joints`, same order. */
  readonly joints: readonly SimulatedJoint[]
  /** Where the scenario does not say otherwise. */
  readonly plant: PlantKind
  readonly servo: {
    /** Hz, undamped natural frequency of the closed position loop */
    readonly frequency: number
    readonly damping: number
    /** 0..1 share of the setpoint's speed fed forward */
    readonly feedforward: number
  }
  readonly feedback: {
    /** s, from SYNC to the feedback frame being offered to the bus */
    readonly delay: number
    /** s, uniform, added to the delay */
    readonly jitter: number
    /** counts, standard deviation of the encoder */
    readonly noise: number
  }
  /** What the drives draw their power from, and how warm it is around them. */
  readonly supply: {
    /** V, at no load */
    readonly voltage: number
    /** ohm, of source and wiring */
    readonly resistance: number
  }
  /** degC */
  readonly ambient: number
  readonly brakes: boolean
  /** rad/s2, how fast an unbraked, unpowered joint begins to fall */
  readonly sag: number
  /** Do the drives stop by themselves when heartbeat, SYNC or setpoints cease? */
  readonly watchdog: boolean
}

export interface SimulatedJoint {
  readonly countsPerRadian: number
  readonly sign: 1 | -1
  readonly zero: number
  /** rad, the true position at power-on */
  readonly start: number
}
