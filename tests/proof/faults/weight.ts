/** Which joint of an arm has the most of its strength taken up by weight. */
import { ReferenceDriver } from '../../../src/driver/reference.js'
import { ArmTorques } from '../../../src/motion/arm-torques.js'
import { isWeighed } from '../../../src/motion/laden-arm.js'
import type { ProofRig } from '../rigs.js'

export interface Burdened {
  /** Number among the rig's joints. */
  readonly joint: number
  /** Of its torque limit, with arm and paddle at rest at the park place. */
  readonly share: number
}

/** Of the first arm. */
export function mostBurdened(rig: ProofRig): Burdened {
  const arm = rig.arms[0]!
  const own = arm.joints.map((joint) => rig.joints[joint]!).filter(isWeighed)
  const none = new Float64Array(own.length)
  const torques = new ArmTorques(rig.craft, arm, own, none, null)
  const { parkPose } = new ReferenceDriver(rig)
  torques.at(
    Float64Array.from(arm.joints, (joint) => parkPose[joint]!),
    none,
    none,
  )
  return own
    .map(({ index, limits }, i) => ({ joint: index, share: Math.abs(torques.dry[i]!) / limits.torque }))
    .reduce((most, next) => (next.share > most.share ? next : most))
}
