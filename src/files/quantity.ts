/**
 * Schema fields for physical values: a string with its unit in the file, an SI number behind it.
 *
 * Messages of all fields are phrases that go on after "expected"; `complaints.ts` says before them what was found.
 */
import { z } from 'zod'
import { DrystrokeError } from '../errors.js'
import { article, parseQuantity, patternOf, type Quantity, unitsOf } from '../units.js'

/** What a quantity is, without its bounds: editors show both, a report only this. */
export const abouts = z.registry<{ about: string }>()

/** Bounds are written as in the file, with a unit, so that messages show them the way people write them. */
export interface Range {
  readonly min?: string
  readonly max?: string
  /** Exclusive lower bound. */
  readonly above?: string
  /** The value must be a whole multiple of this, because a drive stores it so. */
  readonly step?: string
}

/** A field of the file: string in, SI number out. `.prefault('20 ms')` gives it a default, written as in the file. */
export type QuantityField = z.ZodPipe<z.ZodString, z.ZodTransform<number, string>>

/**
 * @param quantity what is measured; its accepted units are in units.ts
 * @param about one phrase for the published schema and for editors
 * @param range bounds that a value must keep; a value must be finite in any case
 */
export function quantity(quantity: Quantity, about: string, range: Range = {}): QuantityField {
  const parse = (text: string) => parseQuantity(text, quantity)
  const pattern = patternOf(quantity)
  const exact = new RegExp(pattern)
  const units = unitsOf(quantity)
  const bounds = boundsOf(range, parse)
  const kept = (text: string) => !bounds.some((b) => b.broken(parse(text)))
  const example = [`1 ${units[0]}`, range.min, range.max].find((text) => text !== undefined && kept(text))!
  const whole = `${article(quantity)} ${quantity} with its unit, such as "${example}" (units: ${units.join(', ')})`

  return z
    .string({ error: whole })
    .meta({ pattern, description: describe(about, bounds), examples: [example] })
    .register(abouts, { about })
    .transform((text, context) => {
      const refuse = (message: string) => {
        context.issues.push({ code: 'custom', message, input: text })
        return z.NEVER
      }
      if (!exact.test(text)) return refuse(whole)
      const value = parse(text)
      if (!Number.isFinite(value)) return refuse('a number that can be represented')
      const bound = bounds.find((b) => b.broken(value))
      return bound ? refuse(bound.says) : value
    })
}

/** A share (1 = all) of something that another file states. */
export interface Share {
  readonly share: number
}

/**
 * A field that is a quantity, or a share of a quantity that is stated elsewhere: `"0.3 m/s"` or `"66 %"`.
 * @param of what it may be a share of, as a phrase
 */
export function quantityOrShare(
  kind: Exclude<Quantity, 'share'>,
  about: string,
  range: Range,
  of: string,
): z.ZodPipe<z.ZodString, z.ZodTransform<number | Share, string>> {
  const plain = quantity(kind, about, range)
  const share = quantity('share', `of ${of}`, { min: '-100 %', max: '100 %' })
  const isShare = new RegExp(patternOf('share'))
  const units = unitsOf(kind)
  const expected = `${article(kind)} ${kind} with its unit, such as "1 ${units[0]}" (units: ${units.join(', ')}), or a share of ${of}, such as "66 %"`
  return z
    .string({ error: expected })
    .meta({
      pattern: `(${patternOf(kind)})|(${patternOf('share')})`,
      description: `${plain.meta()?.description ?? about}; or a share of ${of}`,
      examples: [`1 ${units[0]}`, '66 %'],
    })
    .transform((text, context) => {
      const shared = isShare.test(text)
      const parsed = (shared ? share : plain).safeParse(text)
      if (parsed.success) return shared ? { share: parsed.data } : parsed.data
      const known = shared || new RegExp(patternOf(kind)).test(text)
      const message = known ? parsed.error.issues[0]!.message : expected
      context.issues.push({ code: 'custom', message, input: text })
      return z.NEVER
    })
}

/** Does a text of a file state a share? */
export function isShareText(text: string): boolean {
  return new RegExp(patternOf('share')).test(text)
}

/** SI value of a string that may be anything, or undefined: for checks that look across fields. */
export function quantityOrUndefined(value: unknown, quantity: Quantity): number | undefined {
  if (typeof value !== 'string') return undefined
  try {
    return parseQuantity(value, quantity)
  } catch (error) {
    if (error instanceof DrystrokeError) return undefined
    throw error
  }
}

interface Bound {
  readonly says: string
  readonly broken: (value: number) => boolean
}

function boundsOf({ min, max, above, step }: Range, parse: (text: string) => number): Bound[] {
  const bounds: Bound[] = []
  const add = (says: string, text: string | undefined, broken: (value: number, bound: number) => boolean) => {
    if (text === undefined) return
    const bound = parse(text)
    bounds.push({ says: `${says} "${text}"`, broken: (value) => broken(value, bound) })
  }
  // Conversion rounds: "300 cm" must keep a bound of "3 m".
  add('at least', min, (v, bound) => v < bound - 1e-12 * Math.abs(bound))
  add('more than', above, (v, bound) => v <= bound)
  add('at most', max, (v, bound) => v > bound + 1e-12 * Math.abs(bound))
  add('a whole multiple of', step, (v, bound) => Math.abs(v / bound - Math.round(v / bound)) > 1e-6)
  return bounds
}

function describe(about: string, bounds: readonly Bound[]): string {
  return bounds.length === 0 ? about : `${about}: ${bounds.map((b) => b.says).join(', ')}`
}
