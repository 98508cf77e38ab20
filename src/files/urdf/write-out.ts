/** What a URDF file says of an arm, as the plain values that a rig file would have, with the place of each. */

import { poseOf, type Transform } from '../../rigid.js'
import { type Path, valueAt } from '../complaint.js'
import type { Pose } from '../rig.js'
import type { ChainJoint } from './chain.js'
import type { Place } from './mistakes.js'

type Section = Readonly<Record<string, unknown>>

/** A value, and where the file says it. */
interface Stated {
  readonly path: Path
  readonly value: unknown
  readonly place: Place
}

/** JavaScript writes a double with the digits that make it the same double again. */
const text = (value: number, unit: string): string => `${value} ${unit}`

export function poseValues(transform: Transform): Section {
  const { at, turn }: Pose = poseOf(transform)
  return { at: at.map((x) => text(x, 'm')), turn: turn.map((x) => text(x, 'rad')) }
}

/** Each value under its path in a joint of a rig file. */
export function statedOf({ joint, origin, body }: ChainJoint): Stated[] {
  const { limit, dynamics, axis, place } = joint
  const stated: Stated[] = [
    { path: ['origin'], value: poseValues(origin), place },
    { path: ['axis'], value: [...axis.direction], place: axis.place },
  ]
  if (limit) {
    const add = (key: string, value: unknown) =>
      stated.push({ path: ['limits', key], value, place: limit.place })
    // A joint that turns on and on has no position limits, whatever stands there.
    if (joint.type.word === 'revolute') add('position', [text(limit.lower, 'rad'), text(limit.upper, 'rad')])
    if (limit.velocity !== null) add('speed', text(limit.velocity, 'rad/s'))
    if (limit.effort !== null) add('torque', text(limit.effort, 'N m'))
  }
  if (body) {
    const [xx, yy, zz, xy, xz, yz] = body.inertia.map((x) => text(x, 'kg m2'))
    const value = {
      mass: text(body.mass, 'kg'),
      centre: body.centre.map((x) => text(x, 'm')),
      inertia: { xx, yy, zz, xy, xz, yz },
    }
    stated.push({ path: ['body'], value, place })
  }
  if (dynamics) {
    const { damping, friction, place } = dynamics
    stated.push({ path: ['train', 'viscous'], value: text(damping, 'N m s/rad'), place })
    const coulomb = [text(friction, 'N m'), text(-friction, 'N m')]
    stated.push({ path: ['train', 'coulomb'], value: coulomb, place })
  }
  return stated
}

/** The joint as written by hand: what the rig says goes before what the URDF file says. @param given the rig's own entry */
export function jointValues(given: Section, stated: readonly Stated[]): { joint: Section; taken: Stated[] } {
  const taken = stated.filter(({ path }) => valueAt(given, path) === undefined)
  const { urdf: _, ...own } = given
  const joint: Record<string, unknown> = { ...own }
  for (const { path, value } of taken) {
    const [key, inner] = path as [string, string | undefined]
    joint[key] = inner === undefined ? value : { ...(joint[key] as Section | undefined), [inner]: value }
  }
  return { joint, taken }
}
