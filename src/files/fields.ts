/** Schema fields that rig and scenario files share, besides physical values. Messages go on after "expected". */
import { z } from 'zod'
import { oneOf } from './nearest.js'
import { type QuantityField, quantity } from './quantity.js'
import type { Pose, Vector3 } from './rig.js'

/** Names become parts of paths, of `arm.joint` and of file names. */
const NAME = '^[a-z][a-z0-9-]{0,39}$'

export function name(about: string) {
  const message =
    'a name of small letters, digits and hyphens that begins with a letter, such as "left-elbow"'
  return z.string({ error: message }).regex(new RegExp(NAME), { error: message }).meta({ description: about })
}

export function sentence(about: string) {
  const message = 'one to 500 characters of text'
  return z
    .string({ error: message })
    .min(1, { error: message })
    .max(500, { error: message, abort: true })
    .meta({ description: about })
}

export function flag(about: string) {
  return z.boolean({ error: 'true or false' }).meta({ description: about })
}

export function number(about: string, min: number, max: number) {
  return bounded(z.number({ error: `a number from ${min} to ${max}, without a unit` }), about, min, max)
}

export function whole(about: string, min: number, max: number) {
  return bounded(z.int({ error: `a whole number from ${min} to ${max}, without a unit` }), about, min, max)
}

function bounded<T extends z.ZodNumber>(base: T, about: string, min: number, max: number): T {
  const out = { error: `a value from ${min} to ${max}`, abort: true }
  return base.min(min, out).max(max, out).meta({ description: about })
}

export function choice<const T extends readonly (string | number)[]>(about: string, options: T) {
  return z.literal(options, { error: oneOf(options.map(String)) }).meta({ description: about })
}

export function list<T extends z.ZodType>(item: T, about: string, min: number, max: number) {
  const message = `a list of ${min === max ? min : `${min} to ${max}`} entries`
  return z
    .array(item, { error: message })
    .min(min, { error: message })
    .max(max, { error: message })
    .meta({ description: about })
}

export function section<T extends z.core.$ZodLooseShape>(about: string, shape: T) {
  const message = `a section with the keys ${Object.keys(shape).join(', ')}`
  return z.strictObject(shape, { error: message }).meta({ description: about })
}

/** A section that may be left out, whole or in part: each of its keys has a default. */
export function optionalSection<T extends z.core.$ZodLooseShape>(about: string, shape: T) {
  return section(about, shape).prefault({} as never)
}

function three<T extends z.ZodType>(field: T, message: string) {
  return z.tuple([field, field, field], { error: message })
}

export function pose(about: string) {
  const at = quantity('length', 'x, y or z in the parent frame', { min: '-20 m', max: '20 m' })
  const turn = quantity('angle', 'about the fixed axis x, y or z', { min: '-360 deg', max: '360 deg' })
  const vector = (field: QuantityField, example: string) =>
    three(field, `three values with units, such as ${example}`)
  return section(about, {
    at: vector(at, '["0 m", "0 m", "0.12 m"]').meta({ description: 'x, y, z' }),
    turn: vector(turn, '["0 deg", "0 deg", "90 deg"]').meta({
      description: 'roll, pitch, yaw about fixed axes',
    }),
  }).transform((value): Pose => value)
}

/** Three plain numbers, made a unit vector on load. */
export function direction(about: string) {
  const message = 'three numbers that are not all zero, such as [0, 0, 1]'
  return three(number('component', -1000, 1000), message)
    .meta({ description: `${about}; any length but zero` })
    .transform((v, context): Vector3 => {
      const length = Math.hypot(...v)
      if (length > 1e-6) return [v[0] / length, v[1] / length, v[2] / length]
      context.issues.push({ code: 'custom', message, input: v })
      return z.NEVER
    })
}
