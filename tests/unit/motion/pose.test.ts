import { expect, test } from 'vitest'
import {
  identity,
  multiply,
  POSE,
  poseOf,
  rotationBetween,
  turnedBack,
  zOnto,
} from '../../../src/motion/pose.js'
import { randomStream } from '../../../src/random.js'

/** Rotation by a rotation vector, by Rodrigues' formula. */
function turnedBy([x, y, z]: readonly [number, number, number]): Float64Array {
  const angle = Math.hypot(x, y, z)
  const [a, b, c] = angle === 0 ? [0, 0, 0] : [x / angle, y / angle, z / angle]
  const [s, v] = [Math.sin(angle), 1 - Math.cos(angle)]
  const t = identity()
  t.set([1 - v * (b * b + c * c), v * a * b - s * c, v * a * c + s * b])
  t.set([v * a * b + s * c, 1 - v * (a * a + c * c), v * b * c - s * a], 3)
  t.set([v * a * c - s * b, v * b * c + s * a, 1 - v * (a * a + b * b)], 6)
  return t
}

const random = randomStream(11, 'rotations')

function direction(): [number, number, number] {
  const v = [random.normal(), random.normal(), random.normal()] as const
  const size = Math.hypot(...v)
  return [v[0] / size, v[1] / size, v[2] / size]
}

test.each([0, 1e-12, 1e-7, 1e-3, 1, 2, 3, 3.14, Math.PI - 1e-7])(
  'the log map gives back rotation vectors of %d rad',
  (angle) => {
    const out = new Float64Array(3)
    for (let i = 0; i < 100; i++) {
      const d = direction()
      const from = turnedBy([random.normal(), random.normal(), random.normal()])
      const to = new Float64Array(POSE)
      multiply(turnedBy([d[0] * angle, d[1] * angle, d[2] * angle]), from, to)
      rotationBetween(from, to, out)
      for (let k = 0; k < 3; k++) expect(Math.abs(out[k]! - angle * d[k]!)).toBeLessThan(2e-8 * angle + 1e-15)
    }
  },
)

// To the last digits, on both sides of where the short series ends (1/32 rad).
test.each([1e-5, 1e-3, 0.01, 0.0312, 0.0313, 0.1])('and ones of %d rad to 1e-15', (angle) => {
  const out = new Float64Array(3)
  const from = identity()
  for (let i = 0; i < 100; i++) {
    const d = direction()
    rotationBetween(from, turnedBy([d[0] * angle, d[1] * angle, d[2] * angle]), out)
    for (let k = 0; k < 3; k++) expect(Math.abs(out[k]! - angle * d[k]!)).toBeLessThan(1e-15)
  }
})

test('fixed-axis angles: roll first, yaw last', () => {
  const t = poseOf({ at: [1, 2, 3], turn: [Math.PI / 2, 0, Math.PI / 2] })
  // z goes to -y by the roll, then to x by the yaw.
  expect([t[2], t[5], t[8]].map((x) => Math.round(x! * 1e12) / 1e12 + 0)).toEqual([1, 0, 0])
  expect([...t.slice(9)]).toEqual([1, 2, 3])
})

test('z is turned onto any axis by a proper rotation, its opposite too', () => {
  const product = new Float64Array(POSE)
  for (const axis of [
    direction(),
    direction(),
    direction(),
    [0, 0, 1],
    [0, 0, -1],
    [0.1, 0, -Math.sqrt(0.99)],
  ] as const) {
    const t = zOnto(axis)
    expect([t[2], t[5], t[8]]).toEqual([...axis])
    multiply(t, turnedBack(t), product)
    identity().forEach((x, i) => void expect(product[i]).toBeCloseTo(x, 14))
    const triple =
      t[0]! * (t[4]! * t[8]! - t[5]! * t[7]!) -
      t[1]! * (t[3]! * t[8]! - t[5]! * t[6]!) +
      t[2]! * (t[3]! * t[7]! - t[4]! * t[6]!)
    expect(triple).toBeCloseTo(1, 14)
  }
})
