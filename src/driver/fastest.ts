/** The greatest side speed that a rig's joints allow for its stroke: what 100 % of speed means when stops are measured. */
import type { Rig } from '../files/rig.js'
import { strokePeaks } from './peaks.js'

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
  const bearable = (speed: number): boolean =>
    strokePeaks(uncapped, speed).every((p) => p.speedShare <= USABLE && p.accelerationShare <= USABLE)
  let low = 0
  let high = Math.ceil(MOST / FINE)
  if (bearable(MOST)) return MOST
  while (high - low > 1) {
    const middle = (low + high) >> 1
    if (bearable(middle * FINE)) low = middle
    else high = middle
  }
  return low * FINE
}
