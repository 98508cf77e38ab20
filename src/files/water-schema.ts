/** How a rig file says what water the craft is in, how its hull lies in it, and how a blade works in it. */
import { z } from 'zod'
import type { AddedMass, BladeFlow, DragRow, HullSettings, WaterSettings } from './craft.js'
import { list, number, optionalSection, section } from './fields.js'
import { quantity } from './quantity.js'

export const waterForm = section('The water: fresh at its temperature, unless its figures are stated', {
  // Where the formulas for fresh water hold: motion/water/properties.ts.
  temperature: quantity('temperature', 'of the water', { min: '0 degC', max: '40 degC' }).prefault('15 degC'),
  density: quantity('density', "left out: fresh water's at the temperature", {
    min: '900 kg/m3',
    max: '1300 kg/m3',
  }).optional(),
  viscosity: quantity(
    'kinematic viscosity',
    "left out: fresh water's dynamic viscosity at the temperature, over the density",
    { min: '0.1 mm2/s', max: '10 mm2/s' },
  ).optional(),
}).transform(
  ({ temperature, density, viscosity }): WaterSettings => ({
    temperature,
    density: density ?? null,
    viscosity: viscosity ?? null,
  }),
)

/** Flat plates and curved oar blades lie close together: sources in motion/water/blade-force.ts. */
export const flowForm = optionalSection('How the blade works in the flow; a flat plate if left out', {
  lift: number('lift coefficient is this times sin 2a, a the angle of attack', 0, 5).prefault(1.3),
  drag: number('drag coefficient is this times sin^2 a, a the angle of attack', 0, 5).prefault(2),
  added: number(
    "water taken along, as a share of an endlessly long plate's; 0.58 is a square's",
    0,
    1,
  ).prefault(0.58),
}).transform((flow): BladeFlow => flow)

const wettedForm = section('Drag of the hull by friction and form; waves are not in it', {
  area: quantity('area', 'of the hull under water, at rest', { above: '0 m2', max: '200 m2' }),
  'form-factor': number("what the hull's form adds to the friction of a plank of equal area", 0, 5).prefault(
    0.2,
  ),
})

const dragForm = list(
  section('One row', {
    speed: quantity('speed', 'through the water, straight ahead', { above: '0 m/s', max: '20 m/s' }),
    force: quantity('force', 'that the water holds against it', { above: '0 N', max: '100000 N' }),
  }),
  'drag of the hull as it was towed, by rising speed',
  2,
  200,
)

const swayForm = section('What the water holds against sway', {
  linear: quantity('sway drag', 'in proportion to speed', { min: '0 N s/m', max: '1e6 N s/m' }).prefault(
    '0 N s/m',
  ),
  quadratic: quantity('quadratic sway drag', 'in proportion to its square', {
    min: '0 N s2/m2',
    max: '1e6 N s2/m2',
  }),
})

const yawForm = section('What the water holds against yaw', {
  linear: quantity('yaw drag', 'in proportion to the yaw rate', {
    min: '0 N m s/rad',
    max: '1e6 N m s/rad',
  }).prefault('0 N m s/rad'),
  quadratic: quantity('quadratic yaw drag', 'in proportion to its square', {
    min: '0 N m s2/rad2',
    max: '1e6 N m s2/rad2',
  }),
})

const addedForm = section('The water that the hull takes along when it accelerates', {
  surge: quantity('mass', 'forward', { min: '0 kg', max: '100000 kg' }),
  sway: quantity('mass', 'sideways', { min: '0 kg', max: '100000 kg' }),
  yaw: quantity('inertia', 'turning', { min: '0 kg m2', max: '1000000 kg m2' }),
}).transform((added): AddedMass => added)

export const hullForm = section('The hull of the laden craft', {
  length: quantity('length', 'of the waterline', { above: '0 m', max: '30 m' }),
  beam: quantity('length', 'of the waterline', { above: '0 m', max: '10 m' }),
  draught: quantity('length', 'of the hull in the water', { above: '0 m', max: '3 m' }),
  centre: quantity('length', 'x of the centre of mass in the craft frame', {
    min: '-15 m',
    max: '15 m',
  }).prefault('0 m'),
  gyration: quantity('length', 'radius of gyration about the vertical; left out: a quarter of the length', {
    above: '0 m',
    max: '30 m',
  }).optional(),
  'metacentric-height': quantity('length', 'of the laden craft; left out: nothing is said of heel', {
    above: '0 m',
    max: '10 m',
  }).optional(),
  // Common practice, no source: about as far as the metacentric height describes a craft.
  'most-heel': quantity('angle', 'from arms that reach out; more is a warning', {
    above: '0 deg',
    max: '45 deg',
  }).prefault('10 deg'),
  'added-mass': addedForm.optional(),
  wetted: wettedForm.optional(),
  drag: dragForm.optional(),
  'cross-flow': number('drag coefficient of a section pushed broadside, for sway and yaw', 0, 3).prefault(1),
  sway: swayForm.optional(),
  yaw: yawForm.optional(),
})
  .superRefine(({ length, beam, drag }, context) => {
    const refuse = (path: (string | number)[], message: string) =>
      context.addIssue({ code: 'custom', path, message })
    if (beam > length) refuse(['beam'], 'at most the length: x lies along the hull')
    drag?.forEach(({ speed, force }, i) => {
      const before = drag[i - 1]
      if (before === undefined) return
      if (speed <= before.speed) refuse(['drag', i, 'speed'], 'rows by rising speed')
      if (force < before.force) refuse(['drag', i, 'force'], 'drag that does not fall as the speed rises')
    })
  })
  .transform((hull, context): HullSettings => {
    const resistance = resistanceOf(hull.wetted, hull.drag)
    if (resistance === null) {
      const message = 'exactly one of wetted and drag: what the water holds against the hull'
      context.issues.push({ code: 'custom', message, input: hull })
      return z.NEVER
    }
    const { length, beam, draught, centre } = hull
    return {
      length,
      beam,
      draught,
      centre,
      // Common practice, no source.
      gyration: hull.gyration ?? length / 4,
      metacentricHeight: hull['metacentric-height'] ?? null,
      mostHeel: hull['most-heel'],
      added: hull['added-mass'] ?? null,
      resistance,
      crossFlow: hull['cross-flow'],
      sway: hull.sway ?? null,
      yaw: hull.yaw ?? null,
    }
  })

/** null: none is stated, or both are. */
function resistanceOf(
  wetted: z.output<typeof wettedForm> | undefined,
  rows: readonly DragRow[] | undefined,
): HullSettings['resistance'] | null {
  if (wetted && rows) return null
  if (rows) return { kind: 'table', rows }
  return wetted ? { kind: 'wetted', area: wetted.area, formFactor: wetted['form-factor'] } : null
}
