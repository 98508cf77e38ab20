import { describe, expect, it } from 'vitest'
import { type MotionState, PositionLoop } from '../../../src/plant/servo.js'

const STEP = 1e-3

/**
 * Unit step response of a second-order system, closed form (from memory; agrees with the table in outside/).
 */
function closedForm(w: number, z: number, t: number): number {
  if (z === 1) return 1 - Math.exp(-w * t) * (1 + w * t)
  const root = w * Math.sqrt(Math.abs(1 - z * z))
  const [c, s] = z < 1 ? [Math.cos(root * t), Math.sin(root * t)] : [Math.cosh(root * t), Math.sinh(root * t)]
  return 1 - Math.exp(-z * w * t) * (c + ((z * w) / root) * s)
}

describe('position loop', () => {
  it.each([0.3, 0.8, 1, 1.7])('steps exactly onto the closed form, damping %d', (damping) => {
    const loop = new PositionLoop({ frequency: 3, damping, feedforward: 0 }, STEP)
    const m: MotionState = { position: 0, speed: 0 }
    for (let i = 1; i <= 500; i++) {
      loop.step(m, 1, 1)
      expect(m.position).toBeCloseTo(closedForm(6 * Math.PI, damping, i * STEP), 11)
    }
  })

  it('runs behind a steady ramp by 2 z (1 - f) / w, and without lag at full feedforward', () => {
    for (const feedforward of [0, 0.5, 1]) {
      const loop = new PositionLoop({ frequency: 12, damping: 0.8, feedforward }, STEP)
      const m: MotionState = { position: 0, speed: 0 }
      for (let i = 0; i < 2000; i++) loop.step(m, i * STEP, (i + 1) * STEP)
      expect(2 - m.position).toBeCloseTo((2 * 0.8 * (1 - feedforward)) / (2 * Math.PI * 12), 10)
      expect(m.speed).toBeCloseTo(1, 10)
    }
  })

  it('agrees with a fine numerical integration of its own equation on a bent reference', () => {
    const settings = { frequency: 12, damping: 0.8, feedforward: 0.5 }
    const loop = new PositionLoop(settings, STEP)
    const m: MotionState = { position: 0.1, speed: -0.2 }
    const fine: MotionState = { position: 0.1, speed: -0.2 }
    const r = [0, 0.002, 0.003, 0.003, -0.001]
    for (let i = 0; i + 1 < r.length; i++) {
      loop.step(m, r[i]!, r[i + 1]!)
      const slope = (r[i + 1]! - r[i]!) / STEP
      const h = STEP / 10_000
      for (let j = 0; j < 10_000; j++) {
        const a = loop.acceleration(fine, r[i]! + slope * (j + 0.5) * h, slope)
        fine.position += fine.speed * h + (a * h * h) / 2
        fine.speed += a * h
      }
    }
    expect(m.position).toBeCloseTo(fine.position, 7)
    expect(m.speed).toBeCloseTo(fine.speed, 4)
  })
})
