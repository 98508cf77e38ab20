/**
 * The craft as a differential-drive vehicle: what each side has to do for a commanded surge u and yaw rate r. A point y to port of the
 * middle of a rigid craft goes ahead at u - r y: the blade lines lie at half the track.
 *
 * A side about which the craft turns is asked for nothing, and parks its blade: what rounding leaves of a difference is none.
 */

/** Share of the surge: less is rounding. */
const ROUNDING = 1e-12

/** m/s that the port side makes good. `surge` m/s forward +, `yaw` rad/s left turn +, `track` m between the blade lines. */
export function portSpeed(surge: number, yaw: number, track: number): number {
  return difference(surge, (yaw * track) / 2)
}

/** m/s that the starboard side makes good. */
export function starboardSpeed(surge: number, yaw: number, track: number): number {
  return difference(surge, -(yaw * track) / 2)
}

function difference(surge: number, turn: number): number {
  const speed = surge - turn
  return Math.abs(speed) <= ROUNDING * Math.abs(surge) ? 0 : speed
}
