/**
 * The craft as a differential-drive vehicle: what each side has to do for a commanded surge u and yaw rate r. A point y to port of the
 * middle of a rigid craft goes ahead at u - r y: the blade lines lie at half the track.
 */

/** m/s that the port side makes good. `surge` m/s forward +, `yaw` rad/s left turn +, `track` m between the blade lines. */
export function portSpeed(surge: number, yaw: number, track: number): number {
  return surge - (yaw * track) / 2
}

/** m/s that the starboard side makes good. */
export function starboardSpeed(surge: number, yaw: number, track: number): number {
  return surge + (yaw * track) / 2
}
