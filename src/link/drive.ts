/** What the link knows of one drive: the last that its frames said. */
import type { Nanos } from '../clock.js'
import type { Joint, Rig } from '../files/rig.js'
import { COB } from '../wire/cia402/objects.js'
import { toCounts, toRadians } from '../wire/cia402/scale.js'
import { isOff } from '../wire/cia402/state.js'
import type { Frame } from '../wire/frame.js'
import type { DriveState, NodeState } from '../wire/observation.js'
import { SdoClient } from './sdo-client.js'
import { controlwordId } from './setup.js'

export class Drive {
  readonly joint: Joint
  readonly setpointId: number
  readonly controlwordId: number
  readonly sdo: SdoClient
  node: NodeState = 'unknown'
  state: DriveState | 'unknown' = 'unknown'
  /** Statusword bit 12 in operation enabled: the drive follows its setpoint. */
  follows = false
  /** The start-up has found it following: it is held where it was, no longer shadowed. */
  held = false
  /** Last position reported, counts; meaningless before `feedbackAt` is set. */
  counts = 0
  /** Time of the last feedback, -Infinity before the first. */
  feedbackAt: Nanos = Number.NEGATIVE_INFINITY

  constructor(rig: Rig, joint: Joint, send: (frame: Frame) => void) {
    this.joint = joint
    this.setpointId = COB.setpoint + joint.wire.node
    this.controlwordId = controlwordId(rig, joint)
    this.sdo = new SdoClient(joint.wire.node, send)
  }

  /** It said after `t` that the motor has no torque. */
  offSince(t: Nanos): boolean {
    return this.feedbackAt > t && isOff(this.state)
  }

  /** rad, last measured position */
  get position(): number {
    return toRadians(this.joint.wire, this.counts)
  }

  countsOf(position: number): number {
    return toCounts(this.joint.wire, position)
  }
}
