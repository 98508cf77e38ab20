/** How far an arm runs on, against the motion itself in small steps. */
import { describe, expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import { Chain } from '../../../src/motion/chain.js'
import { BladeRunOn, runOn } from '../../../src/motion/run-on.js'

const DEG = Math.PI / 180
const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const arm = rig.arms[0]!
const joints = arm.joints.map((j) => rig.joints[j]!)

describe('a joint', () => {
  it.each([
    // 180 deg/s for 0.1 s, then 1500 deg/s2: 18 deg and 10.8 deg.
    [180, 0.1, 1500, 28.8],
    [-180, 0.1, 1500, -28.8],
    [0, 5, 1500, 0],
    [90, 0, 450, 9],
  ])('at %d deg/s, %d s, then %d deg/s2: %d deg', (speed, wait, deceleration, expected) => {
    expect(runOn(speed * DEG, wait, deceleration * DEG) / DEG).toBeCloseTo(expected, 12)
  })

  it('as far as when it is stepped', () => {
    const [wait, deceleration, step] = [0.103, 11.7, 1e-6]
    let [way, speed] = [0, 2.9]
    for (let t = 0; speed > 0; t += step) {
      const before = speed
      if (t >= wait) speed = Math.max(0, speed - deceleration * step)
      way += ((before + speed) / 2) * step
    }
    expect(runOn(2.9, wait, deceleration)).toBeCloseTo(way, 5)
  })
})

describe('a blade', () => {
  const blade = new BladeRunOn(arm, joints)
  const q = Float64Array.from([0.1, 0.5, 1.2, 0, 1, 0.4])

  it('turned by its first joint goes round an upright axis: the chord of its farthest corner', () => {
    const chain = new Chain(arm, joints)
    chain.forward(q)
    const [x, y] = [chain.blade[9]!, chain.blade[10]!]
    // The swing axis stands at x 0, y 0.5 m; no corner is farther from the centre than half the diagonal.
    const radius = Math.hypot(x, y - 0.5)
    const half = Math.hypot(arm.paddle.length, arm.paddle.width) / 2
    const travel = blade.travel(q, Float64Array.from([0.3, 0, 0, 0, 0, 0]))
    expect(travel).toBeGreaterThan(2 * radius * Math.sin(0.15))
    expect(travel).toBeLessThan(2 * (radius + half) * Math.sin(0.15))
  })

  it('that comes back on its way is measured where it is farthest', () => {
    // A whole turn of the last joint ends where it began, and half of it swaps the edges of the blade.
    const travel = blade.travel(q, Float64Array.from([0, 0, 0, 0, 0, 2 * Math.PI]))
    expect(travel).toBeCloseTo(arm.paddle.width, 9)
  })

  it('is left out where it cannot have gone as far as is asked for', () => {
    const on = Float64Array.from([0.01, 0, 0, 0, 0, 0])
    expect(blade.travel(q, on, 10)).toBe(0)
    expect(blade.travel(q, on, 1e-6)).toBe(blade.travel(q, on))
  })
})
