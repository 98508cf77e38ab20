/** How near the arms come to anything on a scenario's commands, if they do exactly what the reference driver asks: nothing runs. */
import type { ReferenceDriver } from '../driver/reference.js'
import type { ClearanceSettings, Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { ClearanceSweep } from '../motion/clearance/sweep.js'
import { nearestPhase } from '../motion/nearest-phase.js'
import { Player } from './player.js'

/** Share of a distance beyond the warning to which the least is found. */
const COARSE = 0.01
/** s: no blade takes so long to its park place. */
const MOST_PARKING = 60

export interface LeastDistance {
  readonly scenario: string
  /** m */
  readonly distance: number
  /** Two parts of arms, or a part of an arm and a volume. */
  readonly between: readonly [string, string]
  /** Of the stroke, for each of the arms that takes part. */
  readonly phases: readonly number[]
}

/**
 * From the park pose through the commands to the park pose again; faults and operator stops are left out. Each motion from one
 * setpoint to the next is followed; the least distance is true to 1 mm, or to a hundredth.
 * @returns null: there is nothing to come near to
 * @throws DrystrokeError `unreachable`
 */
export function scenarioClearance(
  rig: Rig & { readonly clearance: ClearanceSettings },
  driver: ReferenceDriver,
  scenario: Scenario,
): LeastDistance | null {
  const sweep = new ClearanceSweep(rig, rig.clearance.warn, COARSE)
  const player = new Player(scenario)
  const { period } = rig.control
  const q = driver.parkPose.slice()
  driver.begin()
  sweep.start(q, 0)
  for (let k = 1; ; k++) {
    const s = (k - 1) * period
    const over = player.over(s)
    if (over && (driver.parked || s > scenario.duration + MOST_PARKING)) break
    driver.step(over ? { surge: 0, yaw: 0 } : player.command(s), q)
    sweep.move(q, k * period)
  }
  const approaches = sweep.groups.flatMap((group, g) => {
    const nearest = sweep.nearest(g)
    return nearest === null ? [] : [{ group, nearest }]
  })
  if (approaches.length === 0) return null
  const { group, nearest } = approaches.reduce((a, b) => (b.nearest.distance < a.nearest.distance ? b : a))
  const arms = group.otherArm === null ? [group.arm] : [group.arm, group.otherArm]
  return {
    scenario: scenario.name,
    distance: nearest.distance,
    between: [nearest.first, nearest.second],
    phases: arms.map((arm) => nearestPhase(rig, rig.arms[arm]!, sweep.bladeIn(arm, nearest)).phase),
  }
}
