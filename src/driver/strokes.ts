/** What the stroke settings of a rig come to: the shape all arms share, each arm's blade path, and the motion of the two sides. */
import type { Rig } from '../files/rig.js'
import { BladePath, parkTimes, strokeShape } from '../motion/blade.js'
import { cadence } from '../motion/cadence.js'
import type { SideSettings } from '../motion/side.js'
import type { StrokeShape } from '../motion/stroke.js'

export interface Strokes {
  readonly shape: StrokeShape
  /** One for each of `Rig.arms`. */
  readonly paths: readonly BladePath[]
  readonly side: SideSettings
}

export function strokesOf(rig: Rig): Strokes {
  const { stroke, driver } = rig
  const paddles = rig.arms.map((arm) => arm.paddle)
  const shape = strokeShape(stroke, paddles)
  const times = parkTimes(stroke, paddles)
  return {
    shape,
    paths: rig.arms.map((arm) => new BladePath(shape, stroke, rig.craft, arm)),
    side: {
      shape,
      cadence: cadence(shape.kappa, stroke.recovery, driver.acceleration),
      coupled: stroke.sides !== 'free',
      acceleration: driver.acceleration,
      jerk: driver.jerk,
      dwell: stroke.dwell,
      liftTime: times.lift,
      carryTime: times.carry,
      period: rig.control.period,
    },
  }
}
