/** What each scenario asks of each side: its fastest commanded speed, and the joints of which it asks most. */
import type { Rig, Side } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { portSpeed, starboardSpeed } from '../motion/side-speeds.js'
import type { MotionLook } from './motion-look.js'
import type { Peaks } from './peaks.js'

/** A joint and what is asked of it, as a share of its limit. */
export interface Share {
  readonly joint: string
  readonly share: number
}

export interface SideDemand {
  readonly side: Side
  /** m/s, the fastest commanded speed of this side with its sign; 0: it stays parked */
  readonly sideSpeed: number
  readonly speed: Share | null
  readonly acceleration: Share | null
}

export interface Demand {
  readonly scenario: string
  readonly sides: readonly SideDemand[]
}

const SIDES = ['port', 'starboard'] as const

export function demandOf(rig: Rig, { name, commands }: Scenario, motion: MotionLook): Demand {
  const { track } = rig.craft
  const sides = SIDES.map((side): SideDemand => {
    const speedOf = side === 'port' ? portSpeed : starboardSpeed
    const sideSpeed = commands
      .map((c) => speedOf(c.surge, c.yaw, track))
      .reduce((most, v) => (Math.abs(v) > Math.abs(most) ? v : most), 0)
    const joints = rig.arms.filter((arm) => arm.side === side).flatMap((arm) => arm.joints)
    if (sideSpeed === 0 || joints.length === 0) return { side, sideSpeed, speed: null, acceleration: null }
    const worst = (peaks: Peaks): Share => {
      const j = peaks.worst(joints)
      return { joint: rig.joints[j]!.name, share: peaks.value[j]! }
    }
    return { side, sideSpeed, speed: worst(motion.speed), acceleration: worst(motion.acceleration) }
  })
  return { scenario: name, sides }
}
