/** What of a rig's water and hull does not go together, and what a craft afloat needs: told once the rig is resolved. */
import type { Complaint } from './complaint.js'
import type { Rig } from './rig.js'

/** kg/m3, where the rig states no density; fresh water's own is up to half a percent less. */
const FRESH = 1000

type AfloatRig = Pick<Rig, 'craft' | 'water' | 'hull' | 'joints' | 'simulation'>

/** What a rig must still say for its craft to be played afloat, or null when it says all. */
export function lacksAfloat({ water, hull, joints }: Pick<Rig, 'water' | 'hull' | 'joints'>): string | null {
  const weightless = joints.find((joint) => joint.body === null)
  const lacks = [
    ...(water ? [] : ['the section water']),
    ...(hull ? [] : ['the section hull']),
    ...(weightless ? [`the body of ${weightless.name}`] : []),
  ]
  return lacks.length === 0 ? null : lacks.join(', ')
}

export function afloatComplaints(rig: AfloatRig): Complaint[] {
  return [...extentOf(rig), ...defaultPlant(rig)]
}

function extentOf({ craft, water, hull }: AfloatRig): Complaint[] {
  if (hull === null) return []
  const complaints: Complaint[] = []
  if (hull.length > craft.length)
    complaints.push({
      path: ['hull', 'length'],
      at: 'value',
      found: `a waterline of ${hull.length} m`,
      expected: `at most craft.length, ${craft.length} m over all`,
    })
  // No hull is fuller than the box around it.
  const most = (water?.density ?? FRESH) * hull.length * hull.beam * hull.draught
  if (craft.mass > most)
    complaints.push({
      path: ['hull', 'draught'],
      at: 'value',
      found: `a draught of ${hull.draught} m, with which a box of the hull's length and beam carries ${most.toFixed(1)} kg`,
      expected: `a hull that can carry craft.mass, ${craft.mass} kg`,
      advice: 'give the draught of the laden craft',
    })
  if (Math.abs(hull.centre) > hull.length)
    complaints.push({
      path: ['hull', 'centre'],
      at: 'value',
      found: `a centre of mass ${hull.centre} m from the origin`,
      expected: `one within the length of the hull, ${hull.length} m`,
    })
  return complaints
}

function defaultPlant(rig: AfloatRig): Complaint[] {
  const lacks = rig.simulation.plant === 'afloat' ? lacksAfloat(rig) : null
  if (lacks === null) return []
  const found = `"afloat", for which this rig lacks ${lacks}`
  return [{ path: ['simulation', 'plant'], at: 'value', found, expected: 'dry, until the rig states it' }]
}
