/** The way from a base link to a tip: moving joints, with all that is fixed to them folded in, transforms and masses alike. */

import { bodyIn, composed, IDENTITY, joined, type Transform } from '../../rigid.js'
import type { Body } from '../rig.js'
import type { Mistakes } from './mistakes.js'
import type { UrdfJoint, UrdfModel } from './model.js'

export interface ChainJoint {
  readonly joint: UrdfJoint
  /** In the frame of the moving joint before (the first: in the base link), at position zero. */
  readonly origin: Transform
  /** Of all that turns with the joint up to the next one, in the joint's frame; null: the file says nothing of it. */
  readonly body: Body | null
}

export interface Chain {
  readonly joints: readonly ChainJoint[]
  /** T_lastjoint_tip */
  readonly tip: Transform
}

/** Links that no joint carries. */
export function rootsOf({ links, joints }: UrdfModel): string[] {
  const children = new Set(joints.map((joint) => joint.child))
  return [...links.keys()].filter((name) => !children.has(name))
}

/** The joints from one link to another, or null when it does not hang on it. */
export function wayTo({ joints }: UrdfModel, base: string, tip: string): UrdfJoint[] | null {
  const carrier = new Map(joints.map((joint) => [joint.child, joint]))
  const way: UrdfJoint[] = []
  for (let link = tip; link !== base; ) {
    const joint = carrier.get(link)
    // A way as long as the file has joints goes in a circle.
    if (!joint || way.length === joints.length) return null
    way.unshift(joint)
    link = joint.parent
  }
  return way
}

/**
 * @param way from {@link wayTo}
 * @param notes what people should know of it, added to
 */
export function chainOf(
  model: UrdfModel,
  way: readonly UrdfJoint[],
  mistakes: Mistakes,
  notes: string[],
): Chain {
  const moving = way.filter((joint) => moves(joint, mistakes))
  const joints: ChainJoint[] = []
  let fixed = IDENTITY
  for (const joint of way) {
    const origin = composed(fixed, joint.origin)
    fixed = origin
    if (!moving.includes(joint)) continue
    joints.push({ joint, origin, body: carriedBy(joint, moving, model, mistakes, notes) })
    fixed = IDENTITY
  }
  return { joints, tip: fixed }
}

/** Does it turn? What neither turns nor is fixed is a mistake. */
function moves({ name, type: { word, place }, axis, mimic }: UrdfJoint, mistakes: Mistakes): boolean {
  const where = `joint ${name}`
  if (word === 'fixed') return false
  if (word !== 'revolute' && word !== 'continuous') {
    const found = `a joint of type "${word}"`
    mistakes.add(place, where, found, 'revolute, continuous or fixed: joints of an arm turn about one axis')
    return false
  }
  if (mimic)
    mistakes.add(mimic, where, '<mimic>', 'a joint with a drive of its own: coupled joints cannot be told')
  if (Math.hypot(...axis.direction) < 1e-6)
    mistakes.add(axis.place, where, 'an axis of zero length', 'a direction, such as "0 0 1"')
  return true
}

function carriedBy(
  joint: UrdfJoint,
  chain: readonly UrdfJoint[],
  model: UrdfModel,
  mistakes: Mistakes,
  notes: string[],
): Body | null {
  const parts: Body[] = []
  const silent: string[] = []
  const take = (name: string, frame: Transform): void => {
    const link = model.links.get(name)!
    if (link.unphysical) {
      const { place, why } = link.unphysical
      const found = `an <inertial> that no body has (${why})`
      mistakes.add(place, `link ${name}`, found, 'that of a body, or none where the link weighs nothing')
    }
    if (link.body) parts.push(bodyIn(frame, link.body))
    else silent.push(name)
    for (const next of model.joints) {
      if (next.parent !== name || chain.includes(next)) continue
      if (moves(next, mistakes)) {
        const { line, column } = next.place
        notes.push(
          `${mistakes.file}:${line}:${column}: joint ${next.name} moves, and is not on the way to the tip: what it carries is weighed at its position zero`,
        )
      }
      take(next.child, composed(frame, next.origin))
    }
  }
  take(joint.child, IDENTITY)
  if (parts.length > 0) return joined(parts)
  const { line, column } = joint.place
  notes.push(
    `${mistakes.file}:${line}:${column}: joint ${joint.name}: no <inertial> in ${silent.join(', ')}: what it weighs is not known`,
  )
  return null
}
