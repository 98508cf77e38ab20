/**
 * Quantities with units, for the edges of the system: files and screens. Inside, everything is SI
 * (rad, m, s, kg, N, N m) and a plain number.
 */
import { DrystrokeError } from './errors.js'

const DEG = Math.PI / 180

/** Factor of each accepted unit to SI, by quantity. The first unit of each is the one used in examples. */
const UNITS = {
  length: { m: 1, cm: 0.01, mm: 0.001 },
  angle: { deg: DEG, rad: 1 },
  time: { s: 1, ms: 1e-3, us: 1e-6, min: 60 },
  'long time': { d: 86400, h: 3600 },
  speed: { 'm/s': 1, 'mm/s': 1e-3, 'km/h': 1 / 3.6, kn: 1852 / 3600 },
  acceleration: { 'm/s2': 1 },
  jerk: { 'm/s3': 1 },
  'angular speed': { 'deg/s': DEG, 'rad/s': 1 },
  'angular acceleration': { 'deg/s2': DEG, 'rad/s2': 1 },
  mass: { kg: 1, g: 1e-3 },
  area: { m2: 1, cm2: 1e-4 },
  torque: { 'N m': 1 },
  inertia: { 'kg m2': 1, 'kg cm2': 1e-4, 'kg mm2': 1e-6, 'g cm2': 1e-7 },
  'viscous friction': { 'N m s/rad': 1 },
  frequency: { Hz: 1, kHz: 1e3, '1/min': 1 / 60 },
  force: { N: 1 },
  // The degree Celsius is an SI unit: temperatures stay in it, as the formulas for water and data sheets want them.
  temperature: { degC: 1 },
  density: { 'kg/m3': 1 },
  'kinematic viscosity': { 'mm2/s': 1e-6, 'm2/s': 1 },
  'sway drag': { 'N s/m': 1 },
  'quadratic sway drag': { 'N s2/m2': 1 },
  'yaw drag': { 'N m s/rad': 1 },
  'quadratic yaw drag': { 'N m s2/rad2': 1 },
  modulus: { GPa: 1e9, MPa: 1e6 },
  'second moment of area': { mm4: 1e-12, cm4: 1e-8, m4: 1 },
  'mass per length': { 'kg/m': 1 },
  charge: { 'A h': 3600 },
  voltage: { V: 1, mV: 1e-3 },
  current: { A: 1, mA: 1e-3 },
  resistance: { ohm: 1, mohm: 1e-3 },
  power: { W: 1 },
  'bit rate': { 'Mbit/s': 1e6, 'kbit/s': 1e3 },
  share: { '%': 0.01 },
  count: { counts: 1 },
} as const satisfies Record<string, Record<string, number>>

export type Quantity = keyof typeof UNITS

/** Units accepted for a quantity, the usual one first. */
export function unitsOf(quantity: Quantity): string[] {
  return Object.keys(UNITS[quantity])
}

/** A regular expression (JSON Schema dialect) that exactly the accepted strings of a quantity match. */
export function patternOf(quantity: Quantity): string {
  // No unit has a character that means something in an expression, and needless escapes are errors in Unicode mode.
  const units = unitsOf(quantity)
  return `^[-+]?(\\d+(\\.\\d*)?|\\.\\d+)([eE][-+]?\\d+)? ?(${units.join('|')})$`
}

/**
 * Reads `"45 deg"` as 0.785... rad.
 * @throws DrystrokeError `unit-invalid`, saying what was found and which units are accepted
 */
export function parseQuantity(text: string, quantity: Quantity): number {
  const match = /^\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$/.exec(text)
  const expected = `${article(quantity)} ${quantity} such as "1 ${unitsOf(quantity)[0]}" (units: ${unitsOf(quantity).join(', ')})`
  if (!match)
    throw new DrystrokeError('unit-invalid', `"${text}" is no number with a unit; expected ${expected}`)
  const [, number, unit] = match
  if (unit === '') throw new DrystrokeError('unit-invalid', `"${text}" has no unit; expected ${expected}`)
  const factor = (UNITS[quantity] as Record<string, number>)[unit!]
  if (factor === undefined) {
    throw new DrystrokeError('unit-invalid', `"${text}" has the unit "${unit}"; expected ${expected}`)
  }
  return Number(number) * factor
}

/** The indefinite article of a quantity. */
export function article(quantity: Quantity): 'a' | 'an' {
  return /^[aeiou]/.test(quantity) ? 'an' : 'a'
}

/** Units for people: radians shown in degrees, stiffness in N/mm, everything else as it is. */
export type ShownUnit =
  | 'rad'
  | 'rad/s'
  | 'rad/s2'
  | 'm'
  | 'm/s'
  | 's'
  | 'N'
  | 'N m'
  | 'N/m'
  | 'share'
  | 'count'
  | 'Hz'
  | 'V'
  | 'A'
  | 'degC'
  | 'none'

const SHOWN: Record<ShownUnit, { factor: number; unit: string }> = {
  rad: { factor: 1 / DEG, unit: 'deg' },
  'rad/s': { factor: 1 / DEG, unit: 'deg/s' },
  'rad/s2': { factor: 1 / DEG, unit: 'deg/s2' },
  m: { factor: 1, unit: 'm' },
  'm/s': { factor: 1, unit: 'm/s' },
  s: { factor: 1, unit: 's' },
  N: { factor: 1, unit: 'N' },
  'N m': { factor: 1, unit: 'N m' },
  'N/m': { factor: 1e-3, unit: 'N/mm' },
  share: { factor: 100, unit: '%' },
  count: { factor: 1, unit: '' },
  Hz: { factor: 1, unit: 'Hz' },
  V: { factor: 1, unit: 'V' },
  A: { factor: 1, unit: 'A' },
  degC: { factor: 1, unit: 'degC' },
  none: { factor: 1, unit: '' },
}

/** Names of all units that stand behind numbers in files or on screens. */
export function unitNames(): string[] {
  const names = [
    ...Object.values(UNITS).flatMap(Object.keys),
    ...Object.values(SHOWN).map(({ unit }) => unit),
  ]
  return [...new Set(names)].filter((name) => name !== '')
}

/**
 * `showQuantity(0.7853, 'rad')` is `45 deg`; times under a second come in ms. Deterministic, locale-free.
 * @param digits significant digits, one fewer for values below 1; trailing zeros are left out
 */
export function showQuantity(value: number, unit: ShownUnit, digits = 3): string {
  if (unit === 's' && Math.abs(value) < 1) return `${trim(value * 1000, digits)} ms`
  const { factor, unit: name } = SHOWN[unit]
  return name === '' ? trim(value * factor, digits) : `${trim(value * factor, digits)} ${name}`
}

/** A value and what it is held against, with as many digits as it takes to tell them apart. */
export function showBeside(value: number, limit: number, unit: ShownUnit): readonly [string, string] {
  for (let digits = 3; ; digits++) {
    const pair = [showQuantity(value, unit, digits), showQuantity(limit, unit, digits)] as const
    if (pair[0] !== pair[1] || value === limit || digits === 8) return pair
  }
}

function trim(value: number, digits: number): string {
  if (!Number.isFinite(value)) return String(value)
  if (Number.isInteger(value)) return String(value)
  const size = Math.abs(value)
  if (size >= 10 ** digits) return value.toFixed(0)
  // Number takes the zeros at the end away.
  return String(Number(value.toPrecision(size < 1 ? digits - 1 : digits)))
}
