/** Arms and bodies for tests: nothing about them that a formula could take for granted. */
import type { Pose, Vector3 } from '../../src/files/rig.js'
import type { Body } from '../../src/motion/body.js'
import type { RandomStream } from '../../src/random.js'

export interface InventedArm {
  readonly base: Pose
  readonly joints: readonly { readonly origin: Pose; readonly axis: Vector3 }[]
  readonly tool: { readonly pose: Pose }
}

export function anyVector(random: RandomStream, size: number): Vector3 {
  return [0, 0, 0].map(() => size * (2 * random.uniform() - 1)) as unknown as Vector3
}

/** A unit vector. */
export function anyDirection(random: RandomStream): Vector3 {
  const v = [random.normal(), random.normal(), random.normal()] as const
  const size = Math.hypot(...v)
  return [v[0] / size, v[1] / size, v[2] / size]
}

/** Seven joints, offsets in all directions; one axis looks back along z, one is parallel to the one before. */
export function skewArm(random: RandomStream): InventedArm {
  const pose = (size: number): Pose => ({ at: anyVector(random, size), turn: anyVector(random, 3) })
  const joints = Array.from({ length: 7 }, () => ({ origin: pose(0.4), axis: anyDirection(random) }))
  joints[2] = { origin: pose(0.4), axis: [0, 0, -1] }
  joints[4] = { origin: { at: anyVector(random, 0.4), turn: [0, 0, 0] }, axis: joints[3]!.axis }
  return { base: pose(1), joints, tool: { pose: pose(0.5) } }
}

export interface MassPoint {
  readonly mass: number
  readonly at: Vector3
}

export function anyPoints(random: RandomStream): MassPoint[] {
  return Array.from({ length: 5 }, () => ({ mass: 0.2 + random.uniform(), at: anyVector(random, 0.2) }))
}

/** The body of some points. Of five points in space no moment or product is zero, and they can exist. */
export function bodyOf(points: readonly MassPoint[]): Body {
  const mass = points.reduce((sum, p) => sum + p.mass, 0)
  const centre = [0, 1, 2].map((i) => points.reduce((sum, p) => sum + p.mass * p.at[i]!, 0) / mass)
  const second = (i: number, j: number): number =>
    points.reduce((sum, p) => sum + p.mass * (p.at[i]! - centre[i]!) * (p.at[j]! - centre[j]!), 0)
  const [x, y, z] = [second(0, 0), second(1, 1), second(2, 2)]
  return {
    mass,
    centre: centre as unknown as Vector3,
    inertia: [y + z, x + z, x + y, -second(0, 1), -second(0, 2), -second(1, 2)],
  }
}

export function anyBody(random: RandomStream): Body {
  return bodyOf(anyPoints(random))
}
