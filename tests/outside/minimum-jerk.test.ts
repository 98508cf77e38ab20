/**
 * The quintic that joints and blades move by, against the closed-form figures of the minimum-jerk movement.
 *
 * Sources: T. Flash and N. Hogan, J. Neuroscience 5(7):1688-1703 (1985) for the movement; log dimensionless jerk after
 * S. Balasubramanian, A. Melendez-Calderon and E. Burdet, IEEE TBME 59(8):2126-2136 (2012), whose continuous limit for
 * this movement is -ln(720/1.875^2) = -5.32203.
 */
import { expect, test } from 'vitest'
import { JointMove, PEAK_ACCELERATION, PEAK_SPEED, quinticTime } from '../../src/motion/quintic.js'

const [D, LIMIT] = [0.8, 1.3]
// Acceleration is so generous that the speed decides the duration.
const move = new JointMove(
  Float64Array.of(0.2),
  Float64Array.of(0.2 + D),
  [{ speed: LIMIT, acceleration: 1e6 }],
  1,
)
const T = move.duration
const N = 4000
const h = T / N
const positions = Float64Array.from({ length: N + 1 }, (_, k) => {
  const out = new Float64Array(1)
  move.at(k * h, out)
  return out[0]!
})
const differences = (f: Float64Array) =>
  Float64Array.from({ length: f.length - 1 }, (_, k) => (f[k + 1]! - f[k]!) / h)
const speeds = differences(positions)
const accelerations = differences(speeds)
const jerks = differences(accelerations)

test('peak speed 1.875 D/T at half time, and it is the limit', () => {
  expect(Math.max(...speeds) / (D / T)).toBeCloseTo(1.875, 5)
  expect(Math.max(...speeds)).toBeCloseTo(LIMIT, 5)
  expect((speeds.indexOf(Math.max(...speeds)) + 0.5) / N).toBeCloseTo(0.5, 3)
  expect(PEAK_SPEED).toBe(1.875)
})

test('peak acceleration 5.7735 D/T^2 at t/T = 0.211325', () => {
  expect(Math.max(...accelerations) / (D / T ** 2)).toBeCloseTo(5.7735, 4)
  expect((accelerations.indexOf(Math.max(...accelerations)) + 1) / N).toBeCloseTo(0.211325, 3)
  expect(PEAK_ACCELERATION).toBeCloseTo(5.7735, 4)
  expect(quinticTime(D, 1e6, Math.max(...accelerations)) / T).toBeCloseTo(1, 5)
})

test('integral of squared jerk 720 D^2/T^5; log dimensionless jerk -5.32203', () => {
  const integral = jerks.reduce((sum, j) => sum + j * j * h, 0)
  expect(integral / (720 * (D ** 2 / T ** 5))).toBeCloseTo(1, 2)
  expect(-Math.log((T ** 3 / Math.max(...speeds) ** 2) * integral)).toBeCloseTo(-5.32203, 2)
})
