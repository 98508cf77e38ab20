/**
 * A frame map, as the joints of one bus speak it. No SDO, no NMT, no heartbeat: what that leaves unchecked is said
 * (`unchecked`). A stop is the map's stop frame; there is no second way to give it.
 *
 * Of a rolling counter receivers commonly believe a frame whose number is the last one's plus one, some any other number than
 * the last one's (common practice, no source). Another sender that goes on, as a guardian does, must go on with the numbers.
 */
import type { Nanos } from '../clock.js'
import type { FramesJoint, MapCommand, Rig } from '../files/rig.js'
import { isOff } from '../wire/cia402/state.js'
import type { Frame } from '../wire/frame.js'
import type { FrameCodec, Numbers } from '../wire/frame-map/frame-codec.js'
import { MapCodec } from '../wire/frame-map/map-codec.js'
import type { DriveCommand } from '../wire/observation.js'
import type { Drive } from './drive.js'
import { FramesDrive } from './frames-drive.js'
import type { Count, Insistence, Protocol, Unchecked, Way } from './protocol.js'

export class FramesProtocol implements Protocol {
  readonly drives: readonly FramesDrive[]
  readonly asks: boolean
  readonly unchecked: readonly Unchecked[]
  readonly #codec: MapCodec
  readonly #period: number
  readonly #byFeedback = new Map<number, FramesDrive>()
  /** By identifier: frames sent, for those that count. */
  readonly #counts: Map<number, number>
  /** Identifiers of the frames of a stop that count. */
  readonly #counting: readonly number[]
  /** rad, by joint: the last setpoint */
  readonly #last = new Map<Drive, number>()

  /** @param joints of one bus, which all speak one map; @param counts of whoever sent to them before */
  constructor(rig: Rig, joints: readonly FramesJoint[], way: Way, counts: readonly Count[] = []) {
    this.#period = rig.control.period
    this.#codec = new MapCodec(joints[0]!.wire.map)
    this.#counts = new Map(counts)
    const stops = [...this.#framesOf('quick stop'), ...this.#framesOf('disable voltage')]
    const counting = stops.filter((codec) => codec.has('counter'))
    this.#counting = [...new Set(counting.flatMap((c) => joints.map((joint) => c.id(joint.wire.node))))]
    this.drives = joints.map(
      (joint) =>
        new FramesDrive(joint, this.#codec, (command) => {
          for (const codec of this.#framesOf(command)) way.send(this.#make(codec, joint.wire.node))
        }),
    )
    for (const drive of this.drives)
      this.#byFeedback.set(this.#codec.feedback.id(drive.joint.wire.node), drive)
    this.asks = this.#codec.request !== null
    this.unchecked = uncheckedOf(this.#codec)
  }

  hear(f: Frame, t: Nanos): void {
    this.#byFeedback.get(f.id)?.onFeedback(f.data, t)
  }

  opening(): readonly Frame[] {
    return this.#codec.request ? this.#toAll(this.#codec.request) : []
  }

  heartbeat(): null {
    return null
  }

  network(): null {
    return null
  }

  control(command: DriveCommand): readonly Frame[] {
    // What has no torque is not told to give it up: an arm without a disable frame would be told to stop instead.
    if (command === 'shutdown' && this.drives.every((d) => isOff(d.state))) return []
    return this.#framesOf(command).flatMap((codec) => this.#toAll(codec))
  }

  insist(): Insistence {
    return { frames: [], way: 'its frame', next: 'was told again; it has no other way to be told' }
  }

  setpoint(drive: Drive, position: number): Frame {
    const d = drive as FramesDrive
    const { setpoint } = this.#codec
    const speed = (position - (this.#last.get(d) ?? position)) / this.#period
    this.#last.set(d, position)
    const numbers = setpoint.has('speed') ? { speed: d.speedOf(speed) } : {}
    return this.#make(setpoint, d.joint.wire.node, { position: d.numberOf(position), ...numbers })
  }

  counts(): readonly Count[] {
    return this.#counting.map((id) => [id, this.#counts.get(id) ?? 0])
  }

  #framesOf(command: DriveCommand): FrameCodec[] {
    const codec = USES[command].map((use) => this.#codec.commands.get(use)).find((c) => c !== undefined)
    return codec ? [codec] : []
  }

  #toAll(codec: FrameCodec): Frame[] {
    const drives = codec.shared ? this.drives.slice(0, 1) : this.drives
    return drives.map((d) => this.#make(codec, d.joint.wire.node))
  }

  #make(codec: FrameCodec, node: number, numbers: Numbers = {}): Frame {
    const id = codec.id(node)
    const counter = (this.#counts.get(id) ?? 0) + 1
    this.#counts.set(id, counter)
    return codec.make(node, { counter, ...numbers })
  }
}

/** Frames that do what a command asks for, the best first. */
const USES: Readonly<Record<DriveCommand, readonly MapCommand[]>> = {
  'enable operation': ['enable'],
  'switch on': [],
  shutdown: ['disable', 'stop'],
  'disable voltage': ['disable', 'stop'],
  'quick stop': ['stop'],
  'fault reset': ['reset'],
}

function uncheckedOf({ map }: MapCodec): Unchecked[] {
  const left =
    'Stop ramp, torque limit, following error and what they do when setpoints cease are as they were left'
  const unchecked: Unchecked[] = [
    {
      stage: 'setup',
      says: `The set-up of these drives was neither written nor read back. ${left}; they have no heartbeat.`,
    },
    {
      stage: 'enable',
      says: 'These drives do not say that they follow their setpoints: one that says that it is enabled counts as following.',
    },
  ]
  if (map.confirmsStop) return unchecked
  const says = 'These drives do not confirm a stop: that they came to rest is seen in their feedback alone.'
  return [...unchecked, { stage: 'stopping', says }]
}
