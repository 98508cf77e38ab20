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

/** Surge and yaw rate of such a craft under two blades, see there: by scipy.optimize.fsolve on the three balances, from (0.3, -0.1, 0.3). */
const [SURGE, YAW] = [0.05352451, 0.41825132]

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

  test('is the same share of the speed of the blades however slow they are, where all goes by the square', () => {
    for (const fastest of [1, 1e-2, 1e-4, 1e-6]) {
      const c = craft()
      // Blades of 60 N s2/m2 that go aft at the fastest way to starboard, and ahead at a fifth of it to port.
      const blade = (through: number) => 60 * through * Math.abs(through)
      const pull = (at: CraftMotion) => {
        const [u, r] = [at.state[3]!, at.state[5]!]
        const [port, starboard] = [blade(-0.2 * fastest - (u - r)), blade(fastest - (u + r))]
        pulled(port + starboard, 0, starboard - port)(at)
      }
      expect(new SteadyWay(c, 1).settle(pull, fastest), String(fastest)).toBe(true)
      expect(c.state[3]! / fastest).toBeCloseTo(SURGE, 4)
      expect(c.state[5]! / fastest).toBeCloseTo(YAW, 4)
    }
  })

  test('is come to when nothing moves the ends of its arm any more, however long that is', () => {
    const changes = new Float64Array(3)
    for (const arm of [0.2, 1, 300]) {
      for (const turn of [0.5, 1, 2, 3, 5, 8, 13]) {
        const c = craft()
        const pull = pulled(0, 0, turn)
        expect(new SteadyWay(c, arm).settle(pull, 1)).toBe(true)
        pull(c)
        c.changes(changes)
        const [u, v, r] = changes
        // m/s2 at the ends: a ten-millionth of the fastest way, 1 m/s, within a second.
        expect(Math.hypot(u!, v!, arm * r!), `arm ${arm} m, ${turn} N m`).toBeLessThanOrEqual(1e-7)
      }
    }
  })

  test('is found too where surge alone would not tell the first step anything: its own change is just that of the step', () => {
    // Of powers of two, so that it comes to nothing to the last bit: 1/5 s of the first step, and 51.2 N s/m on 256 kg.
    const hull = { ...HULL, mass: 192, added: { surge: 64, sway: 64, yaw: 64 } }
    const c = new CraftMotion(hull, { force: () => 0 }, DAMPING, { density: 1000 }, 1)
    const pull = (at: CraftMotion) => {
      const [u, r] = [at.state[3]!, at.state[5]!]
      pulled(51.2 * u - 20 * r, 0, 30 * u - 60 * r - 5)(at)
    }
    expect(new SteadyWay(c, 1).settle(pull, 1)).toBe(true)
    const [, , , u, v, r] = c.state
    // Surge: 51.2 u - 20 r + m22 v r, and of yaw what the damping of 90 N m s2 leaves.
    expect(51.2 * u! - 20 * r! + 256 * v! * r!).toBeCloseTo(0, 4)
    expect(30 * u! - 60 * r! - 5 - 90 * r! * Math.abs(r!)).toBeCloseTo(0, 4)
  })

  test('is none where the pull outgrows all drag', () => {
    const c = craft()
    expect(new SteadyWay(c, 1).settle((at) => pulled(5 + 30 * at.state[3]! ** 2, 0, 0)(at), 1)).toBe(false)
  })
})
