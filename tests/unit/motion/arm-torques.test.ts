/** What the watch of the arms' load makes of a motion; the dynamics behind it: tests/outside/load-kdl.test.ts. */
import { describe, expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import { ArmTorques } from '../../../src/motion/arm-torques.js'
import { isWeighed } from '../../../src/motion/laden-arm.js'
import { afloatRig, PADDLE } from '../plant/led.js'

const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const arm = rig.arms[0]!
const own = arm.joints.map((j) => rig.joints[j]!).filter(isWeighed)
const n = own.length
const STILL = 0.02
const Q = Float64Array.of(0.1, 0.5, 1.2, 0, 1, 0.4)

/** N m, dry, with joint `i` alone at this speed. */
function dryAt(i: number, speed: number): number {
  const torques = new ArmTorques(rig.craft, arm, own, new Float64Array(n).fill(STILL), null)
  const qd = new Float64Array(n)
  qd[i] = speed
  torques.at(Q, qd, new Float64Array(n))
  return torques.dry[i]!
}

it('a blade that is wholly under water has the area that the paddle states, whatever its outline', () => {
  // 2 m of water over the craft frame's origin.
  const torques = new ArmTorques({ waterline: -2 }, arm, own, new Float64Array(n), null)
  torques.at(Q, new Float64Array(n), new Float64Array(n))
  expect(arm.paddle.area).toBeLessThan(0.99 * arm.paddle.length * arm.paddle.width)
  expect(torques.area).toBeCloseTo(arm.paddle.area, 12)
})

describe('friction of a joint', () => {
  it.each(own.map(({ name }, i) => [name, i] as const))('%s: none while it counts as still', (_, i) => {
    // One joint alone: no Coriolis forces on its own axis, only the turning frame's on the others.
    for (const speed of [0.99 * STILL, -0.99 * STILL]) expect(dryAt(i, speed)).toBeCloseTo(dryAt(i, 0), 9)
  })

  it.each(own.map(({ name }, i) => [name, i] as const))('%s: all of it when it is faster', (_, i) => {
    const { viscous, coulomb } = own[i]!.train
    const [ahead, back] = [1.01 * STILL, -1.01 * STILL]
    expect(dryAt(i, ahead) - dryAt(i, 0)).toBeCloseTo(viscous * ahead + coulomb[0], 9)
    expect(dryAt(i, back) - dryAt(i, 0)).toBeCloseTo(viscous * back + coulomb[1], 9)
  })
})

it('noise of the accelerations comes through the mass matrix, each joint for itself: as inverse dynamics has it for one joint after the other', () => {
  const torques = new ArmTorques(rig.craft, arm, own, new Float64Array(n), null)
  const rest = new Float64Array(n)
  const dry = (qdd: Float64Array): number[] => {
    torques.at(Q, rest, qdd)
    return [...torques.dry]
  }
  const noise = Float64Array.of(0.3, 0.7, 1.1, 0.2, 2.3, 0.05)
  const still = dry(rest)
  const columns = [...noise].map((size, j) => {
    const qdd = new Float64Array(n)
    qdd[j] = size
    return dry(qdd).map((torque, i) => torque - still[i]!)
  })
  const out = new Float64Array(n)
  torques.noise(Q, noise, out)
  out.forEach((size, i) => {
    expect(size).toBeCloseTo(Math.hypot(...columns.map((column) => column[i]!)), 9)
  })
})

describe('the water on a blade that one upright joint swings, 0.6 m out and wholly under', () => {
  const RHO = 999.103
  const rig = afloatRig([{}])
  const { length, width, flow } = PADDLE
  const [inner, outer] = [0.6 - length / 2, 0.6 + length / 2]
  /** N m more than dry, at this speed and acceleration. */
  const wet = (qd: number, qdd: number): number => {
    const own = rig.joints.filter(isWeighed)
    const torques = new ArmTorques(rig.craft, rig.arms[0]!, own, new Float64Array(1), { density: RHO })
    torques.at(Float64Array.of(0.4), Float64Array.of(qd), Float64Array.of(qdd))
    torques.wet(new Float64Array(3), new Float64Array(2))
    return torques.afloat[0]! - torques.dry[0]!
  }

  it('takes square drag, rho/2 Cd w int s^3 ds: either way, and not more for going round', () => {
    const drag = (0.5 * RHO * flow.drag * width * (outer ** 4 - inner ** 4)) / 4
    expect(wet(2, 0) / (4 * drag)).toBeCloseTo(1, 5)
    expect(wet(-2, 0) / (-4 * drag)).toBeCloseTo(1, 5)
  })

  it('resists acceleration by strips of rho pi/4 w^2, int s^2 ds', () => {
    const added = (flow.added * RHO * (Math.PI / 4) * width ** 2 * (outer ** 3 - inner ** 3)) / 3
    expect(wet(0, 7) / (7 * added)).toBeCloseTo(1, 9)
  })
})
