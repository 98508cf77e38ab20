/** The motions out of which stops are measured, and the command of each. */
import { DrystrokeError } from '../errors.js'
import type { Rig } from '../files/rig.js'
import { MOST_YAW } from '../files/scenario-schema.js'
import { parseQuantity, showQuantity } from '../units.js'
import type { StopMotion } from '../verdict/stop-table.js'

/** What `--motion` may narrow a study to. */
export const MOTION_CHOICES = {
  ahead: ['ahead'],
  astern: ['astern'],
  // Both ways: the arms of a rig need not mirror each other.
  pivot: ['pivot-to-port', 'pivot-to-starboard'],
} as const satisfies Record<string, readonly StopMotion[]>

export type MotionChoice = keyof typeof MOTION_CHOICES

export const ALL_MOTIONS: readonly StopMotion[] = Object.values(MOTION_CHOICES).flat()

const DIRECTIONS: Record<StopMotion, { readonly surge: number; readonly yaw: number }> = {
  ahead: { surge: 1, yaw: 0 },
  astern: { surge: -1, yaw: 0 },
  'pivot-to-port': { surge: 0, yaw: 1 },
  'pivot-to-starboard': { surge: 0, yaw: -1 },
}

/** -1, 0 or 1: the share of the side speed that is surge, and the sign of the turn (port +). */
export function directionOf(motion: StopMotion): { readonly surge: number; readonly yaw: number } {
  return DIRECTIONS[motion]
}

/**
 * m/s and rad/s that give both sides this speed (m/s), with the signs of the motion
 * @throws DrystrokeError `usage` when it is a faster turn than a scenario may command
 */
export function commandOf({ craft }: Rig, motion: StopMotion, speed: number): { surge: number; yaw: number } {
  const direction = directionOf(motion)
  const yaw = (direction.yaw * 2 * speed) / craft.track
  if (Math.abs(yaw) <= parseQuantity(MOST_YAW, 'angular speed'))
    return { surge: direction.surge * speed, yaw }
  throw new DrystrokeError(
    'usage',
    `A pivot with ${speed} m/s at each side is a turn of ${showQuantity(Math.abs(yaw), 'rad/s')} on a track of ${craft.track} m; a scenario may command ${MOST_YAW}: measure this rig with --motion ahead and --motion astern, or state a smaller stroke.fastest`,
  )
}
