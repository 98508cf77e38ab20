/** What the arms are fixed to: how stiff it is and how it rings, what shakes it, and how far the blade gives way with it. */
import type { MountSettings, Rig } from '../files/rig.js'
import { bladeDeflection, mountOf, nearestHarmonic, ownFrequency } from '../motion/mount.js'
import { showQuantity } from '../units.js'
import { atPhase, type Found, type Level, type Line } from './line.js'
import type { ScriptLooks } from './script-looks.js'

type FloatingRig = Pick<Rig, 'mount' | 'clearance' | 'water' | 'hull'>

const ALWAYS = { place: '', scenarios: null, phase: null } as const

/** Whatever is commanded; none where the rig states no mount. */
export function mountLines({ mount }: Pick<Rig, 'mount'>): Line[] {
  if (mount === null) return []
  const { stiffness } = mountOf(mount)
  const own = ownFrequency(mount)
  const by = mount.beam.kind === 'measured' ? 'as it was measured' : 'by its section, clamped without play'
  return [
    {
      ...ALWAYS,
      check: 'mount stiffness',
      level: 'pass',
      value: stiffness,
      limit: null,
      unit: 'N/m',
      says: `${showQuantity(stiffness, 'N/m')} at its end, ${by}`,
    },
    {
      ...ALWAYS,
      check: 'mount frequency',
      level: 'pass',
      value: own,
      limit: null,
      unit: 'Hz',
      says: `${showQuantity(own, 'Hz')}, first bending, with ${showQuantity(mount.tipMass, 'none')} kg at its end`,
    },
    ...mount.lines.map((line): Line => {
      const { margin } = nearestHarmonic(own, line, 1)
      return { ...ALWAYS, check: 'vibration line', ...away(showQuantity(line, 'Hz'), margin, own, mount) }
    }),
  ]
}

/** What the commands of a script do to it. */
export function shakenLines(rig: FloatingRig, looks: ScriptLooks): Found[] {
  const { mount } = rig
  return mount === null ? [] : [...harmonicLines(mount, looks), ...deflectionLines(mount, rig, looks)]
}

/** The harmonic that comes nearest, of all whole strokes of both sides. */
function harmonicLines(mount: MountSettings, { cadence }: ScriptLooks): Found[] {
  const found = cadence.nearest
  if (found === null) return []
  const { side, own, order, rate, frequency, margin } = found
  const what = `harmonic ${order} of ${(60 * rate).toFixed(1)} strokes/min, ${showQuantity(frequency, 'Hz')}`
  return [{ check: 'stroke harmonic', place: side, phase: null, ...away(what, margin, own, mount) }]
}

/** @param margin signed share of the mount's own frequency (Hz) */
function away(
  what: string,
  margin: number,
  own: number,
  { margin: least }: MountSettings,
): Pick<Line, 'level' | 'value' | 'limit' | 'unit' | 'says'> {
  const value = Math.abs(margin)
  const where = `${showQuantity(value, 'share')} ${margin < 0 ? 'below' : 'above'} the mount's ${showQuantity(own, 'Hz')}`
  return {
    level: value < least ? 'warn' : 'pass',
    value,
    limit: least,
    unit: 'share',
    says: `${what}, ${where}, a warning within ${showQuantity(least, 'share')}`,
  }
}

/** Beyond what the clearance leaves, an arm on a mount that gives way may come nearer to something than it may. */
function deflectionLines(mount: MountSettings, rig: FloatingRig, { blade, least }: ScriptLooks): Found[] {
  const { clearance } = rig
  if (blade === null) return []
  const { arm, force, phase } = blade.greatest
  const value = bladeDeflection(mountOf(mount), mount.length, mount.reach, force)
  const limit = clearance === null || least === null ? null : Math.max(0, least.distance - clearance.least)
  const level: Level = limit !== null && value > limit ? 'warn' : 'pass'
  const lacks = (['water', 'hull'] as const).filter((section) => rig[section] === null).join(' and ')
  const load =
    lacks === '' ? 'of water, weight and inertia' : `of weight and inertia alone: the rig states no ${lacks}`
  const room = limit === null ? '' : `; the distances leave ${mm(limit)}`
  const says = `${mm(value)} under ${showQuantity(force, 'N')} on the blade, ${load}${atPhase(phase)}${room}`
  return [{ check: 'deflection', level, place: arm, phase, value, limit, unit: 'm', says }]
}

function mm(metres: number): string {
  return `${Number((1e3 * metres).toPrecision(3))} mm`
}
