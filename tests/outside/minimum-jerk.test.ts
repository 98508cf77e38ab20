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
// Differences reach from h to T - h; the jerk of a quintic is a parabola, and a parabola continues itself to both ends.
const beyond = (a: number, b: number, c: number) => 3 * a - 3 * b + c
const inner = differences(accelerations)
const jerks = Float64Array.of(
  beyond(inner[0]!, inner[1]!, inner[2]!),
  ...inner,
  beyond(inner.at(-1)!, inner.at(-2)!, inner.at(-3)!),
)

/** Value and place, in steps, of the vertex of the parabola through the greatest sample and its neighbours. */
function peak(f: Float64Array): { value: number; at: number } {
  const k = f.indexOf(Math.max(...f))
  const [a, b, c] = [f[k - 1]!, f[k]!, f[k + 1]!]
  const x = (a - c) / (2 * (a - 2 * b + c))
  return { value: b - ((a - c) * x) / 4, at: k + x }
}

// The printed digits of the source: toBeCloseTo(x, n) holds to half a unit of the n-th decimal.

test('peak speed 1.875 D/T at half time, and it is the limit', () => {
  const { value, at } = peak(speeds)
  expect(value / (D / T)).toBeCloseTo(1.875, 6)
  expect(value).toBeCloseTo(LIMIT, 6)
  // Speeds stand between positions.
  expect((at + 0.5) / N).toBeCloseTo(0.5, 6)
  expect(PEAK_SPEED).toBe(1.875)
})

test('peak acceleration 5.7735 D/T^2 at t/T = 0.211325', () => {
  const { value, at } = peak(accelerations)
  expect(value / (D / T ** 2)).toBeCloseTo(5.7735, 4)
  expect((at + 1) / N).toBeCloseTo(0.211325, 6)
  expect(PEAK_ACCELERATION).toBeCloseTo(5.7735, 4)
  expect(quinticTime(D, 1e6, value) / T).toBeCloseTo(1, 6)
})

test('integral of squared jerk 720 D^2/T^5; log dimensionless jerk -5.32203', () => {
  const integral = jerks.reduce((sum, j) => sum + j * j * h, 0)
  expect(jerks).toHaveLength(N)
  expect(integral / (D ** 2 / T ** 5)).toBeCloseTo(720, 2)
  expect(-Math.log((T ** 3 / peak(speeds).value ** 2) * integral)).toBeCloseTo(-5.32203, 5)
})
