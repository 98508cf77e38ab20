/**
 * The simulated joint against the table of the exact second-order step response (wn = 1): control
 * engineering's closed forms, project check values 5. Overshoot exp(-pi z / sqrt(1 - z^2)), peak time pi /
 * sqrt(1 - z^2); rise from 10 to 90 % and settling into 2 % are the table's.
 *
 * The whole simulated drive is tested: set up by SDO, enabled, one setpoint, one SYNC; the eye beside the arm
 * (witness) sees the step. Feedforward is 0, speed and acceleration limits are out of the way, the
 * interpolation period is its shortest (1 us).
 *
 * Tolerance, from the 1 ms grid alone: the step counts from the grid point after SYNC, and its reference is a
 * straight line over that grid step. So times may be up to 1 ms later, none earlier; and the table's last
 * digit is rounded.
 */
import { expect, it } from 'vitest'
import { nanos } from '../../src/clock.js'
import { OBJECT } from '../../src/wire/cia402/objects.js'
import { COUNTS, smallRig, Talk } from '../unit/plant/line.js'

// zeta, overshoot %, peak time, rise 10-90, settling 2 %
const TABLE: [number, number, number, number, number][] = [
  [0.2, 52.662, 3.2064, 1.2034, 19.602],
  [0.4, 25.383, 3.4278, 1.4635, 8.409],
  [0.5, 16.303, 3.6276, 1.6376, 8.076],
  [0.6, 9.478, 3.927, 1.8541, 5.943],
  [0.7, 4.599, 4.3991, 2.1262, 5.979],
  [0.8, 1.517, 5.236, 2.4675, 3.756],
]
const FREQUENCY = 0.5
const WN = 2 * Math.PI * FREQUENCY
/** One grid step, in the table's time. */
const GRID = 1e-3 * WN
/** s between looks: finer than the grid, so that the grid alone counts */
const LOOK = 1e-4

it.each(TABLE)(
  'damping %d: overshoot %d %%, peak %d, rise %d, settling %d',
  (damping, overshoot, peak, rise, settling) => {
    const rig = smallRig(
      { servo: { frequency: FREQUENCY, damping, feedforward: 0 }, watchdog: false },
      { limits: { lower: -9, upper: 9, speed: 1e4, acceleration: 1e7 } },
    )
    const talk = new Talk(rig)
    talk.enable([
      [OBJECT.periodValue, 1],
      [OBJECT.periodExponent, -6],
      [OBJECT.followingWindow, 0xffffffff],
    ])
    const height = Math.round(COUNTS) / COUNTS
    talk.setpoint(height)
    talk.sync()
    const t0 = talk.time.now()

    const n = Math.round(22 / WN / LOOK)
    const y = new Float64Array(n)
    const out = new Float64Array(1)
    for (let i = 0; i < n; i++) {
      talk.time.runUntil(t0 + nanos(i * LOOK))
      talk.plant.witness(talk.time.now(), out)
      y[i] = out[0]! / height
    }
    /** When y first crosses `level`, in the table's time. */
    const crosses = (level: number) => {
      const i = y.findIndex((value) => value >= level)
      return (i - (y[i]! - level) / (y[i]! - y[i - 1]!)) * LOOK * WN
    }
    const top = y.indexOf(Math.max(...y))
    const outside = y.findLastIndex((value) => Math.abs(value - 1) > 0.02)

    // At the top the look may be LOOK / 2 aside: (wn LOOK)^2 / 8 of the height, far below the table's digit.
    // The straight line of one grid step blunts the top by (wn grid)^2 / 24 at most.
    expect(Math.abs(100 * (y[top]! - 1) - overshoot)).toBeLessThan(
      0.0005 + (100 * GRID ** 2) / 24 + (100 * (WN * LOOK) ** 2) / 8,
    )
    const late = (measured: number, table: number, digit: number, looks = LOOK * WN) => {
      expect(measured).toBeGreaterThan(table - digit / 2 - looks)
      expect(measured).toBeLessThan(table + digit / 2 + looks + GRID)
    }
    late(top * LOOK * WN, peak, 1e-4)
    late(outside * LOOK * WN, settling, 1e-3)
    // A difference of two times: the grid's lateness cancels but for the bend of one step.
    const risen = crosses(0.9) - crosses(0.1)
    expect(Math.abs(risen - rise)).toBeLessThan(0.5e-4 + GRID ** 2)
  },
)
