/** The greatest force on the end of an arm, of upright joints that swing a paddle 0.6 m out: by Newton, and by the plant's own parts step by step. */
import { describe, expect, it } from 'vitest'
import type { Rig } from '../../../src/files/rig.js'
import { wetShape } from '../../../src/motion/laden-arm.js'
import { poseOf } from '../../../src/motion/pose.js'
import { BladeForce } from '../../../src/motion/water/blade-force.js'
import { waterOf } from '../../../src/motion/water/properties.js'
import { craftMotionOf } from '../../../src/motion/water/rig-craft.js'
import { BladeLook } from '../../../src/preflight/blade-look.js'
import { afloatRig } from '../plant/led.js'

const [R, MASS, G] = [0.6, 2, 9.80665]
/** s between looks; the rig's own control period is another. */
const T = 0.02

function skiff(water: boolean): Rig {
  const sides = [{ base: [0, 1, -2] as const }, { base: [0, -1, -2] as const, side: 'starboard' as const }]
  const rig = afloatRig(sides, { mass: 100, hull: { length: 4, beam: 1, draught: 0.2, added: null } })
  const arms = rig.arms.map((arm) => ({ ...arm, paddle: { ...arm.paddle, mass: MASS } }))
  const wet = water ? {} : { water: null, hull: null }
  return { ...rig, ...wet, arms, control: { rate: 1000, period: 1e-3 } } as unknown as Rig
}

/** A look at each: q, qd, qdd and phase, by joint, one an arm. */
type Joint = readonly [q: number, qd: number, qdd: number, phase: number]
function seen(rig: Rig, looks: readonly (readonly [Joint, Joint])[]) {
  const look = new BladeLook(rig, T)
  for (const joints of looks) {
    const row = (k: number) => Float64Array.from(joints, (j) => j[k]!)
    look.see({ q: row(0), qd: row(1), onward: row(1), qdd: row(2), phase: row(3) })
  }
  return look.greatest
}

describe('dry', () => {
  /** N: centripetal, tangential, and against gravity. */
  const newton = (qd: number, qdd: number) => MASS * Math.hypot(R * qd * qd, R * qdd, G)
  const still: Joint = [0, 0, 0, 0.9]

  it('is what moves and carries the paddle, the greatest of all looks, with the phase of the arm that has it', () => {
    const dry = skiff(false)
    const calm: Joint = [0.2, 1, 0.5, 0.3]
    const most: Joint = [0.4, 2, -9, 0.45]
    expect(seen(dry, [[still, still]]).force).toBeCloseTo(MASS * G, 9)
    const starboard = seen(dry, [
      [calm, still],
      [still, most],
      [calm, calm],
    ])
    expect(starboard).toEqual({ arm: 'a1', force: expect.closeTo(newton(2, -9), 6), phase: 0.45 })
    expect(seen(dry, [[most, calm]])).toMatchObject({ arm: 'a0', phase: 0.45 })
  })
})

describe('in the water', () => {
  it('is the greater for the way that the craft has made by then, at the period of the looks', () => {
    const rig = skiff(true)
    const water = waterOf(rig.water!)
    // Blades that point outboard sweep aft, 50 looks long, and then as fast ahead.
    const sweep = (way: number): readonly [Joint, Joint] => [
      [Math.PI / 2, 2 * way, 0, 0.25],
      [-Math.PI / 2, -2 * way, 0, 0.25],
    ]
    const looks = [...Array.from({ length: 50 }, () => sweep(1)), sweep(-1)]
    const blade = new BladeForce(wetShape(rig.arms[0]!), rig.arms[0]!.paddle.flow, water, rig.craft.waterline)
    const craft = craftMotionOf(rig.craft, rig.hull!, water, T)
    const [speed, current, wrench] = [new Float64Array(3), new Float64Array(2), new Float64Array(6)]
    const load = (way: number, side: number): number => {
      const pose = poseOf({ at: [0, side * (1 + R), -2], turn: [0, 0, (side * Math.PI) / 2] })
      craft.overGround(speed)
      blade.at(pose, Float64Array.of(-way * 2 * R, 0, 0, 0, 0, side * way * 2), speed, current, wrench)
      craft.pull(wrench, pose[9]!, pose[10]!)
      // Centripetal, towards the base; and the weight.
      return Math.hypot(-wrench[0]!, -side * MASS * R * 4 - wrench[1]!, MASS * G - wrench[2]!)
    }
    for (let k = 0; k < 50; k++) {
      load(1, 1)
      load(1, -1)
      craft.step()
    }
    expect(craft.state[3]).toBeGreaterThan(0.3)
    const { force } = seen(rig, looks)
    expect(force / load(-1, 1)).toBeCloseTo(1, 4)
    expect(force).toBeGreaterThan(1.3 * seen(rig, [sweep(-1)]).force)
  })
})
