/** How far the craft heels when its arms reach out, and what keeps that from being said. */
import type { Arm, Rig } from '../files/rig.js'
import { isWeighed, type WeighedJoint } from '../motion/laden-arm.js'
import { armMass } from '../motion/water/athwart.js'
import { armHeels } from '../motion/water/heel.js'
import { showQuantity } from '../units.js'
import type { Line } from './line.js'

type FloatingRig = Pick<Rig, 'craft' | 'hull' | 'arms' | 'joints'>

/** What a rig must still say for its heel to be known, or null when it says all. */
export function lacksHeel({ hull, joints }: FloatingRig): string | null {
  if (hull === null) return 'the rig has no section hull, which says how the craft lies in the water'
  if (hull.metacentricHeight === null) return 'the section hull states no metacentric-height'
  const weightless = joints.find(({ body }) => body === null)
  return weightless ? `not every joint states a body (${weightless.name} has none)` : null
}

/** To the side, and with the dead arm, with which it is more. @param park rad, all joints: where the arms are when the craft floats upright */
export function heelLines(rig: FloatingRig, park: Float64Array): Line[] {
  const { craft, hull, arms } = rig
  if (lacksHeel(rig) !== null || hull === null || hull.metacentricHeight === null) return []
  const floating = { displacement: craft.mass, metacentricHeight: hull.metacentricHeight }
  const heels = armHeels(
    arms.map((arm) =>
      armMass(
        arm,
        jointsOf(rig, arm),
        Float64Array.from(arm.joints, (j) => park[j]!),
      ),
    ),
    floating,
  )
  const side = -heels.toStarboard > heels.toPort ? 'starboard' : 'port'
  const dead = heels.dead.reduce(
    (most, phi, a) => (Math.abs(phi) > Math.abs(heels.dead[most]!) ? a : most),
    0,
  )
  const { name } = arms[dead]!
  const all = arms.length === 2 ? 'both arms' : 'all arms'
  return [
    heelLine(
      side,
      side === 'port' ? heels.toPort : heels.toStarboard,
      `${all} as far to ${side} as their joints let them`,
      hull,
    ),
    heelLine(
      name,
      heels.dead[dead]!,
      `${name} dead, as far outboard as its joints let it, the rest parked`,
      hull,
    ),
  ]
}

function heelLine(place: string, phi: number, when: string, { mostHeel }: { mostHeel: number }): Line {
  const value = Math.abs(phi)
  const [told, most] = [showQuantity(value, 'rad'), showQuantity(mostHeel, 'rad')]
  const caution =
    value > mostHeel
      ? `, more than ${most}: the gunwale comes near the water, and whoever leans or moves adds to it; narrow the joints' ranges, lighten the arms or load lower`
      : `, a warning beyond ${most}`
  return {
    check: 'heel',
    level: value > mostHeel ? 'warn' : 'pass',
    place,
    scenarios: null,
    phase: null,
    value,
    limit: mostHeel,
    unit: 'rad',
    says: `${told} with ${when}${caution}`,
  }
}

function jointsOf({ joints }: FloatingRig, { joints: own }: Arm): WeighedJoint[] {
  return own.map((j) => joints[j]!).filter(isWeighed)
}
