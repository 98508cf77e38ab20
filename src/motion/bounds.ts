/** One refusal for figures that physics cannot work with: what it is, what it was, what was expected. */
import { DrystrokeError } from '../errors.js'

/**
 * @param what the setting, such as `hull.length`; @param unit of `value`, empty for a plain number
 * @throws DrystrokeError `file-invalid` unless value is finite and above zero
 */
export function expectPositive(what: string, value: number, unit: string): void {
  if (!(value > 0 && value < Number.POSITIVE_INFINITY)) refuse(what, value, unit, 'more than zero')
}

/** @throws DrystrokeError `file-invalid` unless value is finite and not below zero */
export function expectNotNegative(what: string, value: number, unit: string): void {
  if (!(value >= 0 && value < Number.POSITIVE_INFINITY)) refuse(what, value, unit, 'zero or more')
}

/** @throws DrystrokeError `file-invalid` unless low <= value <= high */
export function expectWithin(what: string, value: number, low: number, high: number, unit: string): void {
  if (!(value >= low && value <= high)) refuse(what, value, unit, `from ${low} to ${high}${after(unit)}`)
}

/**
 * @param expected with its unit
 * @throws DrystrokeError `file-invalid`: the figure is not what was expected
 */
export function refuse(what: string, value: number, unit: string, expected: string): never {
  throw new DrystrokeError('file-invalid', `${what} is ${value}${after(unit)}; expected ${expected}`, {
    what,
    value,
  })
}

function after(unit: string): string {
  return unit === '' ? '' : ` ${unit}`
}
