/** The craft of a rig as a body on its water. */
import type { Craft, HullSettings } from '../../files/rig.js'
import { CraftMotion, crossFlowDamping, type Hull } from './craft-motion.js'
import { DragTable } from './drag-table.js'
import { FrictionDrag, type Resistance } from './hull-drag.js'
import type { Water } from './properties.js'

/** What the water holds against the hull straight ahead and astern. */
function resistanceOf({ length, resistance }: HullSettings, water: Water): Resistance {
  if (resistance.kind === 'table') return new DragTable(resistance.rows)
  return new FrictionDrag({ length, area: resistance.area, formFactor: resistance.formFactor }, water)
}

/**
 * At rest at the ground's origin.
 * @param period s, of one step
 * @throws DrystrokeError `file-invalid` for a hull that cannot be
 */
export function craftMotionOf(
  { mass }: Pick<Craft, 'mass'>,
  settings: HullSettings,
  water: Water,
  period: number,
): CraftMotion {
  const { length, beam, draught, gyration, centre, added } = settings
  const hull: Hull = { length, beam, draught, mass, gyration, centre, added }
  const flow = crossFlowDamping(hull, water, settings.crossFlow)
  const damping = { sway: settings.sway ?? flow.sway, yaw: settings.yaw ?? flow.yaw }
  return new CraftMotion(hull, resistanceOf(settings, water), damping, water, period)
}
