/** The speeds and accelerations that a steady stroke asks of each joint, from the driver's own setpoints. */
import type { Rig } from '../files/rig.js'
import { ReferenceDriver } from './reference.js'

/** rad/s and rad/s2, the stroke phase at which they occur, and the share of the joint's limit that they are. */
export interface JointPeaks {
  readonly joint: string
  readonly speed: number
  readonly speedPhase: number
  readonly speedShare: number
  readonly acceleration: number
  readonly accelerationPhase: number
  readonly accelerationShare: number
}

/**
 * Steady strokes with both sides at the same speed: setpoints differentiated over the control period.
 * @param sideSpeed m/s as commanded (slip comes on top), astern negative, not zero
 * @param driver of this rig, to be used again: making one takes as long as this
 * @throws DrystrokeError `unreachable`
 */
export function strokePeaks(
  rig: Rig,
  sideSpeed: number,
  driver: ReferenceDriver = new ReferenceDriver(rig),
): JointPeaks[] {
  driver.begin()
  const n = rig.joints.length
  const { period } = rig.control
  const command = { surge: sideSpeed, yaw: 0 }
  const side = rig.joints.map((joint) => driver.sides[rig.arms[joint.arm]!.side])
  const peaks = rig.joints.map(({ name }) => ({
    joint: name,
    speed: 0,
    speedPhase: 0,
    acceleration: 0,
    accelerationPhase: 0,
  }))
  let [before, last, now] = [new Float64Array(n), new Float64Array(n), new Float64Array(n)]
  // From the park place through one stroke to settle (and to reach the full side speed), then through one more.
  const target = Math.abs(sideSpeed) * (1 + rig.driver.slip)
  let settled = 0
  let travelled = 0
  const lead = side[0]!
  let phase = lead.phase
  for (let k = 0; travelled < 1; k++) {
    driver.step(command, now)
    const moved = Math.abs(lead.phase - phase)
    phase = lead.phase
    const progress = Math.min(moved, 1 - moved)
    if (Math.abs(lead.fullSpeed) >= target * (1 - 1e-12)) settled += progress
    if (settled > 1 && k > 2) {
      travelled += progress
      for (let i = 0; i < n; i++) {
        const speed = Math.abs(now[i]! - last[i]!) / period
        const acceleration = Math.abs(now[i]! - 2 * last[i]! + before[i]!) / (period * period)
        const peak = peaks[i]!
        if (speed > peak.speed) Object.assign(peak, { speed, speedPhase: side[i]!.phase })
        if (acceleration > peak.acceleration)
          Object.assign(peak, { acceleration, accelerationPhase: side[i]!.phase })
      }
    }
    ;[before, last, now] = [last, now, before]
  }
  return peaks.map((peak, i) => {
    const { limits } = rig.joints[i]!
    return {
      ...peak,
      speedShare: peak.speed / limits.speed,
      accelerationShare: peak.acceleration / limits.acceleration,
    }
  })
}
