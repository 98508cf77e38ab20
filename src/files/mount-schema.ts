/** How a rig file says what each arm is fixed to. */
import { z } from 'zod'
import type { MountSettings } from './craft.js'
import { list, section, whole } from './fields.js'
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
  // Common practice, no source: at 20 % off, a mount without damping still makes 1 / |1 - r^2| of what shakes it, 2.3 or 2.8 times.
  margin: quantity('share', 'how far strokes and lines must stay away from its own frequency, either way', {
    above: '0 %',
    max: '100 %',
  }).prefault('20 %'),
  // A mount with some 2 % of critical damping (common practice, no source) makes 25 times of what shakes it at its own frequency. Beyond
  // the twentieth no harmonic of the demo's stroke has 5 % of the strongest's force on the blade: tests/outside/stroke-harmonics.test.ts.
  harmonics: whole('of a stroke that are looked at; a stroke with harder corners has more', 1, 200).prefault(
    20,
  ),
}).transform(({ 'tip-mass': tipMass, section, measured, ...mount }, context): MountSettings => {
  const beam = beamOf(section, measured)
  if (beam !== null) return { ...mount, beam, tipMass }
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
