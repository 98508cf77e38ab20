import { describe, expect, test } from 'vitest'
import { poseOf } from '../../../../src/motion/pose.js'
import { hullAddedMass } from '../../../../src/motion/water/added-mass.js'
import { BladeForce, FLAT_PLATE } from '../../../../src/motion/water/blade-force.js'
import { CraftMotion, crossFlowDamping, type Hull } from '../../../../src/motion/water/craft-motion.js'
import { FrictionDrag } from '../../../../src/motion/water/hull-drag.js'
import { freshWater } from '../../../../src/motion/water/properties.js'

const WATER = freshWater(15)
const HULL: Hull = { length: 4, beam: 1.1, draught: 0.14, mass: 180, gyration: 1, centre: 0 }
const DRAG = new FrictionDrag({ length: 4, area: 3.1, formFactor: 0.2 }, WATER)
const DAMPING = crossFlowDamping(HULL, WATER, 1)
const NONE = { sway: { linear: 0, quadratic: 0 }, yaw: { linear: 0, quadratic: 0 } }
const T = 0.005
const added = hullAddedMass(HULL, WATER)

describe('without thrust', () => {
  test('energy only falls, whatever the motion at the start', () => {
    const craft = new CraftMotion(HULL, DRAG, DAMPING, WATER, T)
    craft.state.set([0, 0, 0.3, 1.5, -0.6, 0.9])
    let before = craft.energy
    const first = before
    for (let k = 0; k < 4000; k++) {
      craft.step()
      expect(craft.energy).toBeLessThan(before)
      before = craft.energy
    }
    expect(before).toBeLessThan(first / 5)
  })

  test('and without any drag it stays: what couples surge, sway and yaw does no work', () => {
    const craft = new CraftMotion(HULL, { force: () => 0 }, NONE, WATER, T)
    craft.state.set([0, 0, 0, 1.5, -0.6, 0.9])
    const first = craft.energy
    let widest = 0
    for (let k = 0; k < 2000; k++) {
      craft.step()
      widest = Math.max(widest, Math.abs(craft.state[5]! - 0.9))
    }
    expect(craft.energy / first).toBeCloseTo(1, 9)
    // Energy does pass between them.
    expect(widest).toBeGreaterThan(0.02)
  })

  test('of the drag goes with the square: speed is v0 / (1 + v0 k t / m), and so far has it run', () => {
    const k = 12
    const craft = new CraftMotion(HULL, { force: (v) => k * v * Math.abs(v) }, NONE, WATER, T)
    const mass = HULL.mass + added.surge
    craft.state[3] = 2
    for (let i = 1; i <= 4000; i++) {
      craft.step()
      const rate = (2 * k * i * T) / mass
      expect(craft.state[3]).toBeCloseTo(2 / (1 + rate), 10)
      expect(craft.state[0]).toBeCloseTo((mass / k) * Math.log1p(rate), 9)
    }
  })

  test('linear damping in sway alone is an exponential', () => {
    const damping = { ...NONE, sway: { linear: 60, quadratic: 0 } }
    const craft = new CraftMotion(HULL, DRAG, damping, WATER, T)
    craft.state[4] = 0.5
    for (let i = 0; i < 400; i++) craft.step()
    expect(craft.state[4]).toBeCloseTo(0.5 * Math.exp((-60 * 2) / (HULL.mass + added.sway)), 10)
  })

  test('it drifts with the current, and over ground with nothing else', () => {
    const craft = new CraftMotion({ ...HULL, centre: 0.3 }, DRAG, DAMPING, WATER, T)
    craft.state[2] = Math.PI / 2
    craft.current.set([0.4, -0.1])
    const speed = new Float64Array(3)
    craft.overGround(speed)
    // Heading along the ground's y: the craft's x lies along it.
    expect(speed[0]).toBeCloseTo(-0.1, 12)
    expect(speed[1]).toBeCloseTo(-0.4, 12)
    for (let i = 0; i < 200; i++) craft.step()
    expect(craft.state[0]).toBeCloseTo(0.4, 12)
    expect(craft.state[1]).toBeCloseTo(-0.1, 12)
    expect(craft.energy).toBe(0)
    craft.state[5] = 0.5
    craft.overGround(speed)
    expect(speed[1]).toBeCloseTo(-0.4 - 0.3 * 0.5, 12)
    expect(speed[2]).toBe(0.5)
  })
})

describe('pulled', () => {
  test('at both sides alike it runs straight: no yaw, no sway, not by a bit', () => {
    const craft = new CraftMotion(HULL, DRAG, DAMPING, WATER, T)
    const blades = [1, -1].map((side) => {
      const shape = { normal: [0, side, 0], shaft: [0, 0, 1], length: 0.2, width: 0.16 } as const
      return { side, force: new BladeForce(shape, FLAT_PLATE, WATER, 0.3) }
    })
    const [speed, current, wrench] = [new Float64Array(3), new Float64Array(2), new Float64Array(6)]
    for (let k = 0; k < 2000; k++) {
      craft.overGround(speed)
      craft.currentHere(current)
      // Blades square to the keel, pulled astern for half of each second.
      const stroke = Math.floor(k / 100) % 2 === 0 ? -0.6 : 0
      for (const { side, force } of blades) {
        const pose = poseOf({
          at: [0.2, side, stroke < 0 ? -0.42 : -0.1],
          turn: [0.1 * side, 0, (side * Math.PI) / 2],
        })
        force.at(pose, Float64Array.of(stroke, 0, 0, 0, 0, 0), speed, current, wrench)
        craft.pull(wrench, pose[9]!, pose[10]!)
      }
      craft.step()
      expect(Math.abs(craft.state[5]!)).toBeLessThan(1e-13)
      expect(Math.abs(craft.state[4]!)).toBeLessThan(1e-13)
    }
    // Ahead, and slower than the blades: thrust needs slip.
    expect(craft.state[3]).toBeGreaterThan(0.15)
    expect(craft.state[3]).toBeLessThan(0.6)
  })

  test('to port alone it turns to starboard, and the other way round', () => {
    const headingPulledAt = (y: number) => {
      const craft = new CraftMotion(HULL, DRAG, DAMPING, WATER, T)
      for (let k = 0; k < 200; k++) {
        craft.pull(Float64Array.of(20, 0, 0, 0, 0, 0), 0.2, y)
        craft.step()
      }
      return craft.state[2]!
    }
    expect(headingPulledAt(1)).toBeLessThan(-0.01)
    expect(headingPulledAt(-1)).toBeCloseTo(-headingPulledAt(1), 12)
  })

  test('in the first step by force over mass with added mass, moment taken about the centre; then the pull is spent', () => {
    const hull = { ...HULL, centre: 0.25 }
    const craft = new CraftMotion(hull, { force: () => 0 }, NONE, WATER, 1e-6)
    craft.pull(Float64Array.of(7, 5, 0, 0, 0, 2), 0.75, 1)
    craft.step()
    expect(craft.state[3]! / 1e-6).toBeCloseTo(7 / (180 + added.surge), 6)
    expect(craft.state[4]! / 1e-6).toBeCloseTo(5 / (180 + added.sway), 6)
    expect(craft.state[5]! / 1e-6).toBeCloseTo((2 + 0.5 * 5 - 7) / (180 + added.yaw), 6)
    const speed = craft.state[3]
    craft.step()
    expect(craft.state[3]).toBeCloseTo(speed!, 15)
  })
})

test.each([
  [{ ...HULL, gyration: 0 }, DAMPING, T, 'hull.gyration is 0 m'],
  [{ ...HULL, centre: 5 }, DAMPING, T, 'hull.centre is 5 m; expected from -4 to 4 m'],
  [{ ...HULL, length: -4 }, DAMPING, T, 'hull.length is -4 m'],
  [HULL, { ...NONE, yaw: { linear: -1, quadratic: 0 } }, T, 'hull.yaw.linear is -1 N m s'],
  [HULL, { ...NONE, sway: { linear: 0, quadratic: Number.NaN } }, T, 'hull.sway.quadratic is NaN N s2/m2'],
  [HULL, DAMPING, 0, 'period is 0 s'],
])('%j %j %d: %s', (hull, damping, period, message) => {
  expect(() => new CraftMotion(hull, DRAG, damping, WATER, period)).toThrow(message)
})

test('cross-flow damping: rho/2 Cd L T, and its strips about the middle', () => {
  const { sway, yaw } = crossFlowDamping(HULL, { density: 1000 }, 0.8)
  expect(sway).toEqual({ linear: 0, quadratic: 0.5 * 1000 * 0.8 * 4 * 0.14 })
  let sum = 0
  for (let x = -2 + 0.0005; x < 2; x += 0.001) sum += 0.5 * 1000 * 0.8 * 0.14 * Math.abs(x) ** 3 * 0.001
  expect(yaw.quadratic / sum).toBeCloseTo(1, 5)
  expect(() => crossFlowDamping(HULL, WATER, -1)).toThrow('hull.cross-flow is -1')
})
