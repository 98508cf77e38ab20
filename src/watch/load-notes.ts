/** What a verdict says of its torques besides figures and findings: what they rest on, and how far that may be trusted. */
import { showQuantity } from '../units.js'
import type { LoadedArm } from './loaded-arm.js'
import type { WatchSettings } from './settings.js'
import type { WatchContext } from './watch.js'

/** Part of the motion below which it is said how much was not looked at. */
const ENOUGH = 0.9

/**
 * @param arms none where the rig does not state what the watch needs
 * @param predicted the torques that the motion would take afloat were worked out
 * @param known 0..1, of the motion: what was foretold of, and held against the drives
 * @param simulated the drives are the bench's own: what they tell afloat is made from the same masses by the same equations
 */
export function loadNotes(
  { rig }: WatchContext<WatchSettings['load']>,
  arms: readonly LoadedArm[],
  {
    predicted,
    known,
    simulated,
  }: { readonly predicted: boolean; readonly known: number; readonly simulated: boolean },
): string[] {
  if (arms.length === 0) {
    const lacks = rig.joints.find((joint) => joint.body === null || joint.rating === null)!
    const what = [...(lacks.body ? [] : ['body']), ...(lacks.rating ? [] : ['rating'])].join(' and ')
    return [
      `The rig does not state ${what} of every joint (${lacks.name} has none): nothing watched what the arms bear, dry or afloat.`,
    ]
  }
  const water = predicted
    ? ['Torques and payload afloat are predictions: models of water, blade and hull, on flat water.']
    : ['The rig states no water or no hull: what the arms would bear afloat was not worked out.']
  const holes =
    known < ENOUGH
      ? [
          `SYNC or feedback did not come evenly: of ${showQuantity(1 - known, 'share')} of the motion nothing was foretold of afloat, and the model was not held against the drives.`,
        ]
      : []
  return [trustOf(arms, simulated), ...water, ...holes]
}

function trustOf(arms: readonly LoadedArm[], simulated: boolean): string {
  let worst = { name: '', share: -1, residual: 0, ratio: 0 }
  for (const { joints, trust } of arms) {
    joints.forEach(({ name, rating }, i) => {
      const { seen, residual, ratio } = trust[i]!
      const share = residual / rating.continuous
      if (seen && share > worst.share) worst = { name, share, residual, ratio }
    })
  }
  const { name, share, residual, ratio } = worst
  if (share < 0 && arms.some(({ told }) => told.some((record) => record.close() !== null)))
    return 'Torques are those of a model of masses and friction, which could not be held against the drives: whenever they moved, a drive gave all that it may, or SYNC did not come evenly. It is as good as what the rig states.'
  if (share < 0)
    return 'Torques are those of a model of masses and friction: no drive told torques of its own to hold it against. It is as good as what the rig states.'
  const off = `off them by up to ${showQuantity(residual, 'N m')} RMS, ${showQuantity(share, 'share')} of continuous torque (${name}; told over model ${showQuantity(ratio, 'none')})`
  return simulated
    ? `Nothing here says how far to trust the torques of the model: the drives were simulated from the same masses and water. They were ${off}, which is what fits round off, and what noise and friction near rest leave.`
    : `Trust the torques of the model no further than this: the drives' own were ${off}.`
}
