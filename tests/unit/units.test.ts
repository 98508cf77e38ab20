import { describe, expect, it } from 'vitest'
import { parseQuantity, patternOf, showBeside, showQuantity } from '../../src/units.js'

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

describe('quantities of a file', () => {
  it.each([
    ['2.5 kg m2', 'inertia', 2.5],
    ['137 kg cm2', 'inertia', 0.0137],
    ['-5e3kg mm2', 'inertia', -0.005],
    ['40 g cm2', 'inertia', 4e-6],
    ['0.1 N m s/rad', 'viscous friction', 0.1],
  ] as const)('%s as %s is %f in SI', (text, quantity, si) => {
    expect(new RegExp(patternOf(quantity)).test(text)).toBe(true)
    expect(parseQuantity(text, quantity)).toBeCloseTo(si, 15)
  })

  it.each([
    ['1 kg', 'inertia', /has the unit "kg"; expected an inertia such as "1 kg m2"/],
    ['1 kg m', 'inertia', /has the unit "kg m"/],
    ['1 N m', 'viscous friction', /expected a viscous friction such as "1 N m s\/rad"/],
    ['1 N m s', 'viscous friction', /has the unit "N m s"/],
  ] as const)('%s is no %s', (text, quantity, says) => {
    expect(new RegExp(patternOf(quantity)).test(text)).toBe(false)
    expect(() => parseQuantity(text, quantity)).toThrow(says)
  })
})
