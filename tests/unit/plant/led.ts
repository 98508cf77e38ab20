/** Joints that are led by a formula, and crafts for them: arms afloat without drives and buses. */
import type { Nanos } from '../../../src/clock.js'
import type { Arm, Body, HullSettings, Joint, Pose, Side, Train, Vector3 } from '../../../src/files/rig.js'
import type { AfloatRig } from '../../../src/plant/afloat.js'
import type { CoupledJoint } from '../../../src/plant/mechanism.js'

/** s, distance of the grid points; ns */
export const STEP = 1e-3
export const GRID = 1e6

export class Led implements CoupledJoint {
  readonly motion = { position: 0, speed: 0 }
  asleep = false
  ceiling = Number.POSITIVE_INFINITY
  /** N m, of the last step */
  torque = 0
  /** rad/s2, of the last step */
  acceleration = 0
  readonly #wants: (t: number, joint: Led) => number
  #steps = 0

  /** @param wants rad/s2 at time t (s) */
  constructor(wants: (t: number, joint: Led) => number = () => 0) {
    this.#wants = wants
  }

  intend(): number {
    return this.#wants(STEP * this.#steps++, this)
  }

  proceed(acceleration: number, torque: number): void {
    const { motion } = this
    motion.position += (motion.speed + (acceleration * STEP) / 2) * STEP
    motion.speed += acceleration * STEP
    this.acceleration = acceleration
    this.torque = torque
  }

  sleep(_: Nanos): void {}
}

export const PADDLE = {
  mass: 1e-9,
  area: 0.032,
  length: 0.2,
  width: 0.16,
  flow: { lift: 1.3, drag: 2, added: 0.6 },
}
const UP: Vector3 = [0, 0, 1]
const STILL: Pose = { at: [0, 0, 0], turn: [0, 0, 0] }
const LIGHT: Body = { mass: 1e-9, centre: [0, 0, 0], inertia: [1e-9, 1e-9, 1e-9, 0, 0, 0] }

/** A hull so heavy that no blade moves it, unless another mass is given. */
const HULL: HullSettings = {
  length: 20,
  beam: 5,
  draught: 1,
  centre: 0,
  gyration: 5,
  metacentricHeight: null,
  mostHeel: 0.17,
  added: { surge: 100, sway: 1000, yaw: 10000 },
  resistance: { kind: 'wetted', area: 100, formFactor: 0 },
  crossFlow: 1,
  sway: null,
  yaw: null,
}

interface ArmChange {
  readonly base?: Vector3
  readonly side?: Side
  readonly joints?: readonly {
    readonly origin?: Pose
    readonly axis?: Vector3
    readonly body?: Body
    readonly rotor?: number
    readonly viscous?: number
    readonly coulomb?: Train['coulomb']
  }[]
  readonly tool?: Pose
  readonly normal?: Vector3
  readonly shaft?: Vector3
}

/** Arms that turn about the craft's z with the blade 0.6 m out along the first joint's x, its face along y; 2 m below the origin. */
export function afloatRig(
  arms: readonly ArmChange[],
  {
    mass = 20000,
    waterline = 0.3,
    hull = {},
  }: { mass?: number; waterline?: number; hull?: Partial<HullSettings> } = {},
): AfloatRig {
  const joints: Joint[] = []
  const resolved = arms.map((arm, index): Arm => {
    const first = joints.length
    for (const joint of arm.joints ?? [{}]) {
      const { origin = STILL, axis = UP, body = LIGHT, rotor = 0, viscous = 0, coulomb = [0, 0] } = joint
      joints.push({
        index: joints.length,
        name: `a${index}.j${joints.length}`,
        arm: index,
        origin,
        axis,
        limits: { lower: -10, upper: 10, speed: 10, acceleration: 100, torque: 1e6 },
        body,
        train: { rotor, viscous, coulomb },
        rating: null,
        wire: { protocol: 'cia402', bus: 0, node: 1, countsPerRadian: 1, sign: 1, zero: 0, ratedTorque: 1 },
      })
    }
    return {
      index,
      name: `a${index}`,
      side: arm.side ?? 'port',
      base: { at: arm.base ?? [0, 0, -2], turn: [0, 0, 0] },
      joints: joints.slice(first).map((joint) => joint.index),
      tool: {
        pose: arm.tool ?? { at: [0.6, 0, 0], turn: [0, 0, 0] },
        normal: arm.normal ?? [0, 1, 0],
        shaft: arm.shaft ?? [1, 0, 0],
        constrained: [],
      },
      paddle: PADDLE,
      payload: 1,
    }
  })
  return {
    craft: { length: 20, mass, track: 2, waterline },
    water: { temperature: 15, density: null, viscosity: null },
    hull: { ...HULL, ...hull },
    arms: resolved,
    joints,
  }
}
