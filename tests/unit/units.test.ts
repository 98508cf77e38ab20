import { describe, expect, it } from 'vitest'
import { showBeside, showQuantity } from '../../src/units.js'

describe('quantities on a screen', () => {
  it.each([
    [0.7853, 'rad', '45 deg'],
    [0.05, 'm/s', '0.05 m/s'],
    [0.08, 's', '80 ms'],
    [0.000427, 's', '0.43 ms'],
    [0.0649, 's', '64.9 ms'],
    [12.345, 's', '12.3 s'],
    [1044.4, 'N m', '1044 N m'],
    [0, 's', '0 ms'],
    [3, 'count', '3'],
    [1e-9, 'm', '1e-9 m'],
    [Number.POSITIVE_INFINITY, 'm', 'Infinity m'],
  ] as const)('%f %s is shown as %s', (value, unit, shown) => {
    expect(showQuantity(value, unit)).toBe(shown)
  })

  it('beside a limit have the digits that tell them apart, and no more', () => {
    expect(showBeside(0.504, 0.5, 'm')).toEqual(['0.504 m', '0.5 m'])
    expect(showBeside(0.6, 0.5, 'm')).toEqual(['0.6 m', '0.5 m'])
    expect(showBeside(0.5, 0.5, 'm')).toEqual(['0.5 m', '0.5 m'])
    expect(showBeside(100.04, 100, 'm')).toEqual(['100.04 m', '100 m'])
  })
})
