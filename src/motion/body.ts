/** Bodies moved to the frames of the flat arrays. */
import type { Body } from '../files/rig.js'
import { bodyIn, type Matrix, type Vector3 } from '../rigid.js'

export type { Body, Train } from '../files/rig.js'

/** A new body: one that is given in frame b, as frame a has it. @param pose T_a_b, as in pose.ts */
export function placed(body: Body, pose: Float64Array): Body {
  const turn = [...pose.subarray(0, 9)] as unknown as Matrix
  const at = [...pose.subarray(9)] as unknown as Vector3
  return bodyIn({ turn, at }, body)
}
