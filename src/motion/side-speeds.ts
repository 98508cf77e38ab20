/** The craft as a differential-drive vehicle: what each side has to do for a commanded surge and yaw rate. */

/** m/s that the port side makes good. `surge` m/s forward +, `yaw` rad/s left turn +, `track` m between the blade lines. */
export function portSpeed(surge: number, yaw: number, track: number): number {
  return surge - (yaw * track) / 2
}

/** m/s that the starboard side makes good. */
export function starboardSpeed(surge: number, yaw: number, track: number): number {
  return surge + (yaw * track) / 2
}
