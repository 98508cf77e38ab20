/** The steady way against closed forms, from far and near guesses. */
import { describe, expect, test } from 'vitest'
import { CraftMotion, type Hull } from '../../../../src/motion/water/craft-motion.js'
import { SteadyWay } from '../../../../src/motion/water/steady-way.js'

const HULL: Hull = {
  ...{ length: 4, beam: 1.1, draught: 0.14, mass: 180, gyration: 1, centre: 0 },
  added: { surge: 10, sway: 80, yaw: 50 },
}
/** Drag of 20 N s2/m2, and the same kind of damping. */
const DRAG = { force: (u: number) => 20 * u * Math.abs(u) }
const DAMPING = { sway: { linear: 0, quadratic: 150 }, yaw: { linear: 0, quadratic: 90 } }

const craft = () => new CraftMotion(HULL, DRAG, DAMPING, { density: 1000 }, 1)
const pulled = (x: number, y: number, n: number) => (c: CraftMotion) =>
  c.pull(Float64Array.of(x, y, 0, 0, 0, n), 0, 0)

describe('a steady way', () => {
  test.each([0.5, 5, 80])('is that at which drag is the thrust: %d N', (thrust) => {
    for (const guess of [0, 0.01, 7]) {
      const c = craft()
      c.state[3] = guess
      expect(new SteadyWay(c, 1).settle(pulled(thrust, 0, 0), 1)).toBe(true)
      expect(c.state[3]! / Math.sqrt(thrust / 20)).toBeCloseTo(1, 4)
    }
  })

  test('of blades that pull the less the faster it goes is where both lines meet', () => {
    const c = craft()
    // 40 (1 - u) = 20 u^2: u = sqrt(3) - 1
    expect(new SteadyWay(c, 1).settle((at) => pulled(40 * (1 - at.state[3]!), 0, 0)(at), 1)).toBe(true)
    expect(c.state[3]).toBeCloseTo(Math.sqrt(3) - 1, 7)
  })

  test('turning, is one at which nothing changes any more', () => {
    const c = craft()
    const pull = (at: CraftMotion) => pulled(30 - 25 * at.state[3]!, 0, 12 - 60 * at.state[5]!)(at)
    expect(new SteadyWay(c, 1).settle(pull, 1)).toBe(true)
    const [, , , u, v, r] = c.state
    // Sway is what the turn makes of it: m11 u r = -150 v |v|.
    expect(150 * v! * Math.abs(v!)).toBeCloseTo(-190 * u! * r!, 6)
    // And it stays: a hundred seconds on.
    const fine = new CraftMotion(HULL, DRAG, DAMPING, { density: 1000 }, 0.02)
    fine.state.set(c.state)
    for (let k = 0; k < 5000; k++) {
      pull(fine)
      fine.step()
    }
    for (const [i, value] of [u!, v!, r!].entries()) expect(fine.state[3 + i]).toBeCloseTo(value, 6)
  })

  test('is none where the pull outgrows all drag', () => {
    const c = craft()
    expect(new SteadyWay(c, 1).settle((at) => pulled(5 + 30 * at.state[3]! ** 2, 0, 0)(at), 1)).toBe(false)
  })
})
