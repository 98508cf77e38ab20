/** The greatest side speed that a rig's joints allow for its stroke: what 100 % of speed means when stops are measured. */
import type { Rig } from '../files/rig.js'
import { strokePeaks } from './peaks.js'
import { ReferenceDriver } from './reference.js'

/** Part of each joint's speed and acceleration limit that the fastest stroke may need: the rest is for noise and overshoot. */
export const USABLE = 0.9
/** m/s, as a command may be */
const MOST = 3
/** m/s */
const FINE = 0.002

/**
 * m/s ahead, rounded down to `FINE`; steady strokes, both sides alike, the rig's speed cap left out.
 * @throws DrystrokeError `unreachable`
 */
export function greatestSideSpeed(rig: Rig): number {
  const uncapped = { ...rig, motion: { ...rig.motion, speedCap: 1 } }
  const driver = new ReferenceDriver(uncapped)
  /** How many times faster than usable a speed is, about: speeds rise with it, accelerations with its square. */
  const excess = (speed: number): number =>
    Math.max(
      ...strokePeaks(uncapped, speed, driver).map(({ speedShare, accelerationShare }) =>
        Math.max(speedShare / USABLE, Math.sqrt(accelerationShare / USABLE)),
      ),
    )
  let much = excess(MOST)
  if (much <= 1) return MOST
  let low = 0
  let high = Math.ceil(MOST / FINE)
  let place = high
  for (let tries = 1; high - low > 1; tries++) {
    // Where the last one points to; now and then the middle, so that it ends soon whatever the stroke is.
    const guess = tries % 4 === 0 ? (low + high) >> 1 : Math.floor(place / much)
    place = Math.min(Math.max(guess, low + 1), high - 1)
    much = excess(place * FINE)
    if (much <= 1) low = place
    else high = place
  }
  return low * FINE
}
