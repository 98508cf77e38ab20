/** What simulated drives report: the winding against the closed form of its differential equation, the supply against Ohm's law. */
import { describe, expect, it } from 'vitest'
import { Supply } from '../../../src/plant/supply.js'
import { Winding } from '../../../src/plant/winding.js'

const limits = { lower: -1, upper: 1, speed: 1, acceleration: 1, torque: 30 }
const rating = { continuous: 20, peak: 30, warmUp: 600 }

describe('winding', () => {
  it('ends 80 K above the air at continuous torque, 63 % of it after one time constant', () => {
    const winding = new Winding({ rating, limits }, 20)
    expect(winding.temperature(20, 0)).toBe(20)
    // 1 - exp(-1), looked at every 0.1 s as a drive is that reports so often.
    let t = 0
    for (; t <= 600; t += 0.1) winding.temperature(20, t * 1e9)
    expect(winding.temperature(20, 600e9)).toBeCloseTo(20 + 80 * (1 - Math.exp(-1)), 6)
    expect(winding.temperature(20, 60_000e9)).toBeCloseTo(100, 6)
    // Twice the torque heats four times as much; without any it cools to the air.
    expect(winding.temperature(-40, 1e18)).toBeCloseTo(340, 6)
    expect(winding.temperature(0, 2e18)).toBeCloseTo(20, 6)
  })

  it('takes the torque limit where no rating is stated, and what a fault adds', () => {
    const winding = new Winding({ rating: null, limits }, 20)
    expect(winding.temperature(30, 1e18)).toBeCloseTo(100, 6)
    winding.hotter = 45
    expect(winding.temperature(30, 2e18)).toBeCloseTo(145, 6)
  })
})

describe('supply', () => {
  it('falls by its resistance times the current that all draw', () => {
    const supply = new Supply({ voltage: 24, resistance: 0.5 })
    expect(supply.at(0)).toBe(24)
    supply.feeds({ power: () => 48 })
    supply.feeds({ power: (t) => t })
    expect(supply.at(0)).toBe(24 - 0.5 * 2)
    expect(supply.at(24)).toBe(24 - 0.5 * 3)
    supply.feeds({ power: () => 1e6 })
    expect(supply.at(24)).toBe(0)
  })
})
