/** How a rig file says what each arm is fixed to. */
import { z } from 'zod'
import type { MountSettings } from './craft.js'
import { list, section } from './fields.js'
import { quantity } from './quantity.js'

const sectionForm = section('The section of the beam', {
  modulus: quantity('modulus', "Young's, of the material", { above: '0 GPa', max: '1000 GPa' }),
  inertia: quantity('second moment of area', 'for bending the way the blade pulls', {
    above: '0 mm4',
    max: '1 m4',
  }),
  'mass-per-length': quantity('mass per length', 'of the beam', { above: '0 kg/m', max: '1000 kg/m' }),
})

const measuredForm = section('How the beam gave way when somebody pulled at its tip', {
  load: quantity('force', 'at the tip, square to the beam', { above: '0 N', max: '100000 N' }),
  deflection: quantity('length', 'at the same place', { above: '0 mm', max: '1 m' }),
  mass: quantity('mass', 'of the beam', { min: '0 kg', max: '500 kg' }).prefault('0 kg'),
})

/** Clamps give way, so that a measured deflection is the better figure; only one of the two is taken. */
export const mountForm = section('What each arm is fixed to: a beam, clamped to the craft', {
  length: quantity('length', 'from the clamp to where the arm is bolted on', { above: '0 m', max: '5 m' }),
  section: sectionForm.optional(),
  measured: measuredForm.optional(),
  'tip-mass': quantity('mass', 'of an arm with its paddle', { above: '0 kg', max: '500 kg' }),
  reach: quantity('length', 'from the end of the beam on to the blade', { min: '0 m', max: '5 m' }),
  lines: list(
    quantity('frequency', 'of a vibration', { above: '0 Hz', max: '10 kHz' }),
    'measured vibrations that the mount must keep away from',
    0,
    32,
  ).prefault([]),
}).transform(({ 'tip-mass': tipMass, section, measured, ...mount }, context): MountSettings => {
  const beam = beamOf(section, measured)
  if (beam !== null) return { length: mount.length, beam, tipMass, reach: mount.reach, lines: mount.lines }
  const message = 'exactly one of section and measured: how far the beam gives way'
  context.issues.push({ code: 'custom', message, input: mount })
  return z.NEVER
})

/** null: none is stated, or both are. */
function beamOf(
  section: z.output<typeof sectionForm> | undefined,
  measured: z.output<typeof measuredForm> | undefined,
): MountSettings['beam'] | null {
  if (section && measured) return null
  if (measured) return { kind: 'measured', ...measured }
  if (!section) return null
  const { modulus, inertia, 'mass-per-length': massPerLength } = section
  return { kind: 'section', modulus, inertia, massPerLength }
}
