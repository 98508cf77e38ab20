import { expect, test } from 'vitest'
import { JointMove, quintic, quinticCurvature, quinticSlope } from '../../../src/motion/quintic.js'

test('derivatives agree with central differences, and vanish at both ends', () => {
  const h = 1e-4
  for (let t = -0.1; t <= 1.1; t += 0.013) {
    expect(quinticSlope(t)).toBeCloseTo((quintic(t + h) - quintic(t - h)) / (2 * h), 5)
    expect(quinticCurvature(t)).toBeCloseTo((quinticSlope(t + h) - quinticSlope(t - h)) / (2 * h), 2)
  }
  expect([0, 1].map(quintic)).toEqual([0, 1])
  expect([0, 1].flatMap((t) => [quinticSlope(t), quinticCurvature(t)])).toEqual([0, 0, 0, 0])
})

test('a joint move keeps every share, one of them exactly, and ends on the last bit', () => {
  const from = Float64Array.of(0.1, -0.4, 2)
  const to = Float64Array.of(1.3, -0.5, 2)
  const limits = [
    { speed: 3, acceleration: 26 },
    { speed: 0.2, acceleration: 26 },
    { speed: 3, acceleration: 26 },
  ]
  const move = new JointMove(from, to, limits, 0.15)
  // Joint 1 is the slow one: 15/8 * 0.1/(0.15 * 0.2) = 6.25 s.
  expect(move.duration).toBeCloseTo(6.25, 12)
  const out = new Float64Array(3)
  const last = new Float64Array(3)
  const peak = [0, 0, 0]
  const h = 1e-3
  for (let t = 0; t <= move.duration; t += h) {
    last.set(out)
    move.at(t, out)
    for (let i = 0; t > 0 && i < 3; i++) peak[i] = Math.max(peak[i]!, Math.abs(out[i]! - last[i]!) / h)
  }
  expect(peak[1]).toBeCloseTo(0.15 * 0.2, 6)
  expect(peak[0]).toBeLessThan(0.15 * 3)
  expect(peak[2]).toBe(0)
  move.at(move.duration, out)
  expect(out).toEqual(to)
  move.at(-1, out)
  expect(out).toEqual(from)
})

test('nothing to move takes no time', () => {
  const q = Float64Array.of(0.3)
  expect(new JointMove(q, q, [{ speed: 1, acceleration: 1 }], 0.1).duration).toBe(0)
})
