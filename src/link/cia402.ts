/** CiA 402 cyclic synchronous position over CANopen, as the joints of one bus speak it. */
import type { Nanos } from '../clock.js'
import type { Cia402Joint, Rig } from '../files/rig.js'
import { heartbeatFrame, nmtFrame, OUR_NODE, SYNC_FRAME } from '../wire/cia402/network.js'
import { COB, OBJECT } from '../wire/cia402/objects.js'
import { controlwordFrame, setpointFrame } from '../wire/cia402/process.js'
import { writeRequest } from '../wire/cia402/sdo.js'
import { CONTROLWORD } from '../wire/cia402/state.js'
import type { Frame } from '../wire/frame.js'
import type { DriveCommand, NmtCommand } from '../wire/observation.js'
import { Cia402Drive } from './cia402-drive.js'
import type { Drive } from './drive.js'
import type { Insistence, Protocol, StopCommand, Unchecked, Way } from './protocol.js'

type Meaning = 'feedback' | 'heartbeat' | 'sdo'

export class Cia402Protocol implements Protocol {
  readonly drives: readonly Cia402Drive[]
  readonly asks = false
  readonly unchecked: readonly Unchecked[] = []
  readonly #known = new Map<number, { drive: Cia402Drive; meaning: Meaning }>()
  readonly #controlIds: readonly number[]

  constructor(rig: Rig, joints: readonly Cia402Joint[], way: Way) {
    this.drives = joints.map((joint) => new Cia402Drive(rig, joint, way))
    this.drives.forEach((drive, i) => {
      const { node } = joints[i]!.wire
      this.#known.set(COB.feedback + node, { drive, meaning: 'feedback' })
      this.#known.set(COB.heartbeat + node, { drive, meaning: 'heartbeat' })
      this.#known.set(COB.sdoReply + node, { drive, meaning: 'sdo' })
    })
    this.#controlIds = [...new Set(this.drives.map((d) => d.controlwordId))]
  }

  hear(f: Frame, t: Nanos): void {
    const known = this.#known.get(f.id)
    if (!known) return
    const { drive, meaning } = known
    if (meaning === 'feedback') drive.onFeedback(f.data, t)
    else if (meaning === 'sdo') drive.onReply(f.data, t)
    else drive.onHeartbeat(f.data)
  }

  opening(): readonly Frame[] {
    return [SYNC_FRAME]
  }

  /** No frame of these has a counter. */
  counts(): [] {
    return []
  }

  heartbeat(): Frame {
    return heartbeatFrame(OUR_NODE, 'operational')
  }

  network(command: NmtCommand): Frame {
    return nmtFrame(command, 0)
  }

  control(command: DriveCommand): readonly Frame[] {
    return this.#controlIds.map((id) => controlwordFrame(id, CONTROLWORD[command]))
  }

  /**
   * By SDO: reaches a drive whose controlword PDO is not mapped, or whose node is not operational. The reply is not waited
   * for.
   */
  insist(drive: Drive, command: StopCommand): Insistence {
    const frames = [writeRequest(drive.joint.wire.node, OBJECT.controlword, CONTROLWORD[command])]
    return { frames, way: 'its controlword PDO', next: 'was told by SDO' }
  }

  setpoint(drive: Drive, position: number): Frame {
    const d = drive as Cia402Drive
    return setpointFrame(d.setpointId, d.countsOf(position))
  }
}
