import { expect, it } from 'vitest'
import { Demand } from '../../../src/plant/demand.js'

it('runs straight over the period, then stands; a new setpoint begins where it is', () => {
  const d = new Demand()
  d.hold(1)
  expect(d.at(123)).toBe(1)
  d.move(100, 2, 50)
  expect([90, 100, 110, 125, 150, 900].map((t) => d.at(t))).toEqual([1, 1, 1.2, 1.5, 2, 2])
  d.move(125, 0, 50)
  expect([125, 150, 175].map((t) => d.at(t))).toEqual([1.5, 0.75, 0])
  d.move(200, 5, 0)
  expect(d.at(200)).toBe(5)
})
