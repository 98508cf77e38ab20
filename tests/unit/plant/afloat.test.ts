/**
 * Arms afloat against closed forms, and by what must hold whatever they do: energy, momentum, mirror images. Coefficients of the
 * blade and the strip theory behind it have tests of their own; here it is what the plant makes of them.
 */
import { describe, expect, it } from 'vitest'
import type { Rig } from '../../../src/files/rig.js'
import { Chain } from '../../../src/motion/chain.js'
import { Dynamics } from '../../../src/motion/dynamics.js'
import { Links } from '../../../src/motion/links.js'
import { paddleBody } from '../../../src/motion/paddle-body.js'
import { Afloat, type AfloatRig } from '../../../src/plant/afloat.js'
import { JointMotion } from '../../../src/plant/joint.js'
import { randomStream } from '../../../src/random.js'
import { anyBody, skewArm } from '../../setup/invented-arm.js'
import { afloatRig, GRID, Led, PADDLE, STEP } from './led.js'

/** Fresh water at 15 C: Tanaka et al., Metrologia 38:301 (2001). */
const RHO = 999.103
const { length, width, flow } = PADDLE
const R = 0.6
const [INNER, OUTER] = [R - length / 2, R + length / 2]
/** N m s2: the moment of square drag of a blade turned about a vertical axis, rho/2 Cd w int s^3 ds. */
const DRAG = (0.5 * RHO * flow.drag * width * (OUTER ** 4 - INNER ** 4)) / 4
/** kg m2: of the water that it takes along, strips of rho pi/4 w^2 for each metre times s^2. */
const ADDED = (flow.added * RHO * (Math.PI / 4) * width ** 2 * (OUTER ** 3 - INNER ** 3)) / 3

function afloat(rig: AfloatRig, joints: readonly Led[]): Afloat {
  const water = new Afloat(rig)
  for (const [i, joint] of joints.entries()) water.join(i, joint)
  return water
}

describe('one joint about a vertical axis', () => {
  it('at even speed takes the torque of square drag, against the motion either way', () => {
    for (const speed of [2, -2]) {
      const joint = new Led()
      joint.motion.speed = speed
      afloat(afloatRig([{}]), [joint]).advance(GRID)
      expect(joint.torque / (DRAG * speed * Math.abs(speed))).toBeCloseTo(1, 5)
    }
  })

  it('from rest takes the inertia of link and rotor, and of the water that the blade takes along', () => {
    const joint = new Led(() => 7)
    const body = { mass: 2, centre: [0.3, 0, 0], inertia: [0.01, 0.02, 0.03, 0, 0, 0] } as const
    afloat(afloatRig([{ joints: [{ body, rotor: 0.4 }] }]), [joint]).advance(GRID)
    const dry = 0.03 + 2 * 0.3 ** 2 + 0.4
    expect(joint.torque / (7 * (dry + ADDED))).toBeCloseTo(1, 5)
    expect(ADDED / dry).toBeGreaterThan(1)
  })

  it('out of the water takes nothing of it', () => {
    const joint = new Led()
    joint.motion.speed = 2
    const above = afloat(afloatRig([{ base: [0, 0, 0] }]), [joint])
    above.advance(GRID)
    expect(joint.torque).toBeCloseTo(0, 7)
    expect([...above.craft.state]).toEqual([0, 0, 0, 0, 0, 0])
  })

  it('whose motor gives no more than so much ends at the speed whose drag that is', () => {
    const joint = new Led((_, { motion }) => 50 * (3 - motion.speed))
    joint.ceiling = 9
    const water = afloat(afloatRig([{ joints: [{ rotor: 0.2 }] }]), [joint])
    water.advance(3000 * GRID)
    expect(joint.motion.speed).toBeCloseTo(Math.sqrt(9 / DRAG), 3)
    expect(joint.torque).toBeCloseTo(9, 9)
    // Without the ceiling it would go at 3 rad/s.
    expect(joint.motion.speed).toBeLessThan(2.5)
  })
})

describe('one joint about a horizontal axis, in air', () => {
  const body = { mass: 3, centre: [0.5, 0, 0], inertia: [0.01, 0.02, 0.03, 0, 0, 0] } as const
  const rig = afloatRig([{ base: [0, 0, 3], joints: [{ axis: [0, -1, 0], body, rotor: 0.3 }] }])
  const weight = 3 * 9.80665 * 0.5
  const inertia = 0.02 + 3 * 0.5 ** 2 + 0.3

  it('is held by the torque of its weight', () => {
    const joint = new Led()
    afloat(rig, [joint]).advance(GRID)
    expect(joint.torque).toBeCloseTo(weight, 6)
  })

  it('falls when its motor cannot hold it, as what is left of its weight has it', () => {
    const joint = new Led()
    joint.ceiling = 10
    afloat(rig, [joint]).advance(GRID)
    expect(joint.torque).toBe(10)
    expect(joint.acceleration).toBeCloseTo((10 - weight) / inertia, 6)
  })

  it("gives no more than its rating's peak, whatever the drive allows", () => {
    const joint = new Led()
    joint.ceiling = 1000
    const rated = rig.joints.map((j) => ({ ...j, rating: { continuous: 2, peak: 8, warmUp: null } }))
    afloat({ ...rig, joints: rated }, [joint]).advance(GRID)
    expect(joint.torque).toBe(8)
  })
})

describe('a joint that rubs, in air', () => {
  const rig = afloatRig([{ base: [0, 0, 0], joints: [{ viscous: 2, coulomb: [1.2, -0.9] }] }])
  /** N m that its motor gives at an even speed; of the arm's own inertia there is next to none. */
  const torqueAt = (speed: number): number => {
    const joint = new Led()
    joint.motion.speed = speed
    afloat(rig, [joint]).advance(GRID)
    return joint.torque
  }

  it.each([
    [1.5, 2 * 1.5 + 1.2],
    [-1.5, -2 * 1.5 - 0.9],
    [0.01, 2 * 0.01 + 1.2],
    [-0.01, -2 * 0.01 - 0.9],
  ])('at %d rad/s takes viscous and dry friction of that direction: %d N m', (speed, torque) => {
    expect(torqueAt(speed)).toBeCloseTo(torque, 7)
  })

  it.each([
    [0.0075, 0.75],
    [0.005, 0.5],
    [-0.0025, 0.25],
  ])('below 0.01 rad/s, at %d rad/s, takes that share of it: %d', (speed, share) => {
    const whole = 2 * speed + (speed > 0 ? 1.2 : -0.9)
    expect(torqueAt(speed)).toBeCloseTo(share * whole, 7)
  })

  it('at rest takes nothing of it', () => {
    expect(torqueAt(0)).toBeCloseTo(0, 7)
  })
})

describe('a skew arm of seven joints, its blade in the water', () => {
  const random = randomStream(5, 'afloat')
  const arm = skewArm(random)
  const bodies = arm.joints.map(() => anyBody(random))
  const rotors = arm.joints.map(() => 0.2 * random.uniform())
  const joints = arm.joints.map((joint, i) => ({ ...joint, body: bodies[i]!, rotor: rotors[i]! }))
  const rig = afloatRig([{ base: [0, 0, -4], joints, tool: arm.tool.pose }])
  const trains = rotors.map((rotor) => ({ rotor }))
  const own = rig.arms[0]!
  const dynamics = new Dynamics(new Links(own, rig.joints, bodies, trains, paddleBody(own.paddle, own.tool)))
  const chain = new Chain(own, rig.joints)

  it("has in it what its motors gave and did not give to the water: work in, energy from the bodies' own speeds", () => {
    const led = joints.map((_, i) => new Led((t) => 4 * Math.sin((3 + i / 2) * t + i)))
    const water = afloat(rig, led)
    const q = new Float64Array(7)
    const qd = new Float64Array(7)
    const jacobian = new Float64Array(42)
    const energy = new Float64Array(2)
    const total = () => {
      led.forEach(({ motion }, i) => {
        q[i] = motion.position
        qd[i] = motion.speed
      })
      dynamics.energy(q, qd, energy)
      return energy[0]! + energy[1]!
    }
    const first = total()
    let [motors, toWater] = [0, 0]
    for (let k = 1; k <= 1500; k++) {
      const speeds = led.map(({ motion }) => motion.speed)
      water.advance(k * GRID)
      // Middle of the step.
      led.forEach(({ motion, torque }, i) => {
        const speed = (motion.speed + speeds[i]!) / 2
        motors += torque * speed * STEP
      })
      chain.forward(q)
      chain.jacobian(jacobian)
      const load = water.load(0)
      for (let r = 0; r < 6; r++)
        for (let i = 0; i < 7; i++) toWater -= load[r]! * jacobian[r * 7 + i]! * qd[i]! * STEP
      total()
    }
    const gained = total() - first
    expect(toWater).toBeGreaterThan(5)
    expect(Math.abs(motors - toWater - gained)).toBeLessThan(0.01 * Math.max(Math.abs(motors), toWater))
  })
})

describe('two arms that mirror each other', () => {
  const sides = (mass: number, hull = {}) =>
    afloatRig([{ base: [0, 1, -2] }, { base: [0, -1, -2], side: 'starboard' }], { mass, hull })
  const still = (positions: readonly number[]) =>
    positions.map((position) => {
      const joint = new Led()
      joint.motion.position = position
      return joint
    })
  /** Blades point outboard, and sweep aft at this speed. */
  const sweeping = (port: number, starboard: number) => {
    const joints = still([Math.PI / 2, -Math.PI / 2])
    joints[0]!.motion.speed = port
    joints[1]!.motion.speed = -starboard
    return joints
  }

  it('leave a craft that lies still where it is, blades in the water', () => {
    const water = afloat(sides(200), still([0.3, -0.3]))
    water.advance(500 * GRID)
    expect([...water.craft.state]).toEqual([0, 0, 0, 0, 0, 0])
  })

  it('push it straight ahead, with the momentum that both blades gave it, where no drag takes any', () => {
    const rig = sides(200, { resistance: { kind: 'wetted', area: 1e-12, formFactor: 0 } })
    const water = afloat(rig, sweeping(1, 1))
    let impulse = 0
    for (let k = 1; k <= 800; k++) {
      water.advance(k * GRID)
      impulse += (water.load(0)[0]! + water.load(1)[0]!) * STEP
    }
    const [, y, heading, surge, sway, yaw] = water.craft.state
    expect(surge).toBeGreaterThan(0.02)
    expect(surge! * (200 + 100)).toBeCloseTo(impulse, 9)
    for (const x of [y, heading, sway, yaw]) expect(x).toBeCloseTo(0, 12)
  })

  it('turn it to the other side when only one of them pulls, either as the mirror image of the other', () => {
    const port = afloat(sides(200), sweeping(1, 0))
    const starboard = afloat(sides(200), sweeping(0, 1))
    for (const water of [port, starboard]) water.advance(500 * GRID)
    // Yaw to port is positive: the port blade turns the craft to starboard.
    expect(port.craft.state[2]).toBeLessThan(-1e-5)
    port.craft.state.forEach((x, i) => {
      const mirrored = i === 1 || i === 2 || i === 4 || i === 5 ? -1 : 1
      expect(mirrored * x).toBeCloseTo(starboard.craft.state[i]!, 12)
    })
  })

  it('lose their force as the craft gains speed: the blade goes through the water with both', () => {
    const water = afloat(sides(200), sweeping(1, 1))
    water.advance(GRID)
    const atRest = water.load(0)[0]!
    // At the blade's own speed: 0.6 m/s at its centre.
    const moving = afloat(sides(200), sweeping(1, 1))
    moving.craft.state[3] = 0.6
    moving.advance(GRID)
    expect(atRest).toBeGreaterThan(3)
    expect(Math.abs(moving.load(0)[0]!)).toBeLessThan(0.02 * atRest)
  })
})

describe('joints with drives', () => {
  const limits = { lower: -10, upper: 10, speed: 10, acceleration: 60, torque: 400 }
  const servo = { frequency: 8, damping: 0.7, feedforward: 0.5 }
  const settings = { limits, servo, start: 0.1, sag: 1, brakes: true }
  /** The same demands to a joint dry and to one afloat. */
  const both = (rig: AfloatRig) => {
    const water = new Afloat(rig)
    const dry = new JointMotion(settings)
    const wet = new JointMotion(settings, water)
    water.join(0, wet)
    return { water, dry, wet }
  }

  it('move as on dry land, to the last digit, while their motors bear it', () => {
    const { dry, wet } = both(afloatRig([{ joints: [{ rotor: 0.3 }] }]))
    for (const joint of [dry, wet]) joint.follow(0)
    for (let k = 0; k < 400; k++) {
      const t = k * 5 * GRID
      for (const joint of [dry, wet]) joint.demand.move(t, 0.1 + 0.5 * Math.sin(k / 40), 5 * GRID)
      expect(wet.position(t)).toBe(dry.position(t))
    }
    expect(Math.abs(wet.torque(2000 * GRID))).toBeGreaterThan(0.5)
    for (const joint of [dry, wet]) joint.ramp(2000.5 * GRID, 20)
    expect(wet.position(2400 * GRID)).toBe(dry.position(2400 * GRID))
    expect(wet.resting).toBe(true)
    for (const joint of [dry, wet]) joint.release(2400 * GRID)
    expect(wet.position(3000 * GRID)).toBe(dry.position(3000 * GRID))
    expect(wet.torque(3000 * GRID)).toBe(0)
  })

  it('fall behind when the torque limit of the drive is too low for the water', () => {
    const { dry, wet } = both(afloatRig([{ joints: [{ rotor: 0.3 }] }]))
    for (const joint of [dry, wet]) {
      joint.limitTorque(0, 40)
      joint.follow(0)
      joint.demand.move(0, 6, 1500 * GRID)
    }
    expect(dry.position(1000 * GRID)).toBeGreaterThan(3.9)
    expect(wet.position(1000 * GRID)).toBeLessThan(0.1 + 1 * Math.sqrt(40 / DRAG))
    expect(wet.torque(1000 * GRID)).toBeCloseTo(40, 6)
  })

  it('that are held from power-on sleep to any time without a step, and wake where they are', () => {
    const { water, wet } = both(afloatRig([{}]))
    const day = 86400e9
    expect(wet.position(day)).toBe(0.1)
    wet.follow(day)
    expect(wet.position(day + 5 * GRID)).toBe(0.1)
    expect(water.craft.energy).toBe(0)
  })

  it('stay where a jam holds them, whatever the water does', () => {
    const { wet } = both(afloatRig([{ joints: [{ rotor: 0.3 }] }]))
    wet.follow(0)
    wet.demand.move(0, 2, 1000 * GRID)
    const stuck = wet.position(300 * GRID)
    wet.jam(300 * GRID, true)
    expect(wet.position(700 * GRID)).toBeCloseTo(stuck, 2)
    expect(wet.position(900 * GRID)).toBe(wet.position(700 * GRID))
  })
})

it('refuses a rig that does not say what a craft afloat needs', () => {
  const rig = afloatRig([{}])
  const weightless = rig.joints.map((joint): Rig['joints'][number] => ({ ...joint, body: null }))
  for (const lacking of [{ water: null }, { hull: null }, { joints: weightless }])
    expect(() => new Afloat({ ...rig, ...lacking })).toThrow(/played afloat/)
})
