/** A cruise: what goes in comes out, mirror images, the battery's closed form, and what a rig must say. */
import { describe, expect, it } from 'vitest'
import { envelopeOf } from '../../../src/driver/envelope/envelope.js'
import type { Rig } from '../../../src/files/rig.js'
import type { Cruise } from '../../../src/motion/cruise.js'
import { DEMO, go, Player, withStroke } from './play.js'

/** Distances have tests of their own. */
const SKIFF: Rig = { ...DEMO, clearance: null }

const cruise = (rig: Rig, surge: number, yaw = 0): Cruise => envelopeOf(rig, [], 8, go(surge, yaw)).cruise!

describe('over whole strokes', () => {
  it.each<[string, Rig, number, number]>([
    ['ahead', SKIFF, 0.45, 0],
    ['astern', SKIFF, -0.3, 0],
    ['in a turn', SKIFF, 0.35, 0.12],
    ['one side astern', SKIFF, 0.1, -0.3],
    ['in a turn, strokes together', withStroke(SKIFF, { sides: 'together' }), 0.35, 0.12],
  ])(
    'what the joints give goes into friction, the water at the blades, and the hull: %s',
    (_, rig, surge, yaw) => {
      const { power } = cruise(rig, surge, yaw)
      const { driving, braking, friction, slip, hull } = power
      for (const part of Object.values(power)) expect(part).toBeGreaterThan(0)
      expect(Math.abs(driving - braking - friction - slip - hull)).toBeLessThan(0.003 * driving)
    },
  )
})

describe('a craft', () => {
  it('goes straight under both sides alike, slower than its blades, and not astern when it is told ahead', () => {
    const { surge, sway, yaw, speed, sides } = cruise(SKIFF, 0.4)
    expect(Math.abs(sway)).toBeLessThan(1e-9)
    expect(Math.abs(yaw)).toBeLessThan(1e-9)
    expect(surge).toBe(speed)
    expect(surge).toBeGreaterThan(0.1)
    expect(surge).toBeLessThan(0.4)
    expect(sides.map((s) => [s.side, s.way, s.speed])).toEqual([
      ['port', 'ahead', 0.4],
      ['starboard', 'ahead', 0.4],
    ])
    expect(sides[0]!.cadence).toBeCloseTo(sides[1]!.cadence, 9)
    const back = cruise(SKIFF, -0.3)
    expect(back.surge).toBeLessThan(-0.05)
    expect(back.sides.map((s) => s.way)).toEqual(['astern', 'astern'])
  })

  it('with coupled sides strokes at one cadence, and shortens the strokes of the slower side', () => {
    const { sides } = cruise(withStroke(SKIFF, { sides: 'together' }), 0.35, 0.12)
    const [port, starboard] = sides
    expect(port!.cadence).toBeCloseTo(starboard!.cadence, 9)
    expect(port!.reach).toBeCloseTo(0.23 / 0.47, 9)
    expect(starboard!.reach).toBe(1)
  })

  it('whose blades go faster than the command by the slip goes as under a command that is as much faster', () => {
    const slipping = { ...SKIFF, driver: { ...SKIFF.driver, slip: 0.2 } }
    const [told, faster] = [cruise(slipping, 0.3, 0.05), cruise(SKIFF, 0.36, 0.06)]
    expect(told.surge).toBeCloseTo(faster.surge, 6)
    expect(told.yaw).toBeCloseTo(faster.yaw, 6)
    expect(told.power.driving).toBeCloseTo(faster.power.driving, 4)
  })

  it('turns the other way, and drifts the other way, when told so', () => {
    const [left, right] = [cruise(SKIFF, 0.3, 0.1), cruise(SKIFF, 0.3, -0.1)]
    expect(left.yaw).toBeGreaterThan(0.01)
    expect(left.sway).toBeLessThan(0)
    expect(right.yaw).toBeCloseTo(-left.yaw, 6)
    expect(right.sway).toBeCloseTo(-left.sway, 6)
    expect(right.surge).toBeCloseTo(left.surge, 6)
    expect(right.power.driving).toBeCloseTo(left.power.driving, 4)
  })

  it('has the cadence of the driver: three strokes of its setpoints take as long', () => {
    const { sides } = cruise(SKIFF, 0.4, 0.1)
    const player = new Player(SKIFF)
    player.play(go(0.4, 0.1), 4)
    for (const { side, cadence } of sides) {
      const place = player.driver.sides[side]
      let [phase, gone, periods] = [place.phase, 0, 0]
      while (gone < 3) {
        player.step(go(0.4, 0.1))
        gone += (place.phase - phase + 1) % 1
        phase = place.phase
        periods++
      }
      expect(periods * SKIFF.control.period * cadence).toBeCloseTo(3, 2)
    }
  })
})

describe('the battery', () => {
  // Project check values 10: C 100 A h, H 20 h, k 1.2: 10 A last 8.7055 h.
  const rated = { capacity: 360_000, rating: 72_000, exponent: 1.2, usable: 1, efficiency: 1, standby: 0 }

  it('lasts by Peukert: at 10 A 8.7055 h, and so far', () => {
    const { power } = cruise(SKIFF, 0.4)
    const rig = { ...SKIFF, battery: { ...rated, voltage: power.driving / 10 } }
    const { battery, speed } = cruise(rig, 0.4)
    expect(battery!.current).toBeCloseTo(10, 9)
    expect((battery!.time / 3600).toFixed(4)).toBe('8.7055')
    expect(battery!.range).toBeCloseTo(speed * battery!.time, 6)
    expect(battery!.energyPerMetre).toBeCloseTo(power.driving / speed, 9)
  })

  it('gives what drives take after losses on the way, and what is drawn all the time; braking gives nothing back', () => {
    const rig = { ...SKIFF, battery: { ...rated, voltage: 24, efficiency: 0.8, standby: 12 } }
    const { battery, power, assumptions } = cruise(rig, 0.4)
    expect(battery!.drawn).toBeCloseTo(power.driving / 0.8 + 12, 9)
    expect(assumptions.join('\n')).toContain('12 W are drawn all the time')
  })

  it('is missing from the figures where the rig states none', () => {
    expect(cruise({ ...SKIFF, battery: null }, 0.4).battery).toBeNull()
  })
})

describe('a cruise that cannot be told', () => {
  it.each<[string, Rig, number, RegExp]>([
    ['on the spot', SKIFF, 0, /turns on the spot goes nowhere/],
    ['without water', { ...SKIFF, water: null }, 0.4, /lacks the section water; add it to the rig file/],
    ['without hull', { ...SKIFF, hull: null }, 0.4, /lacks the section hull/],
    [
      'of arms without weight',
      { ...SKIFF, joints: SKIFF.joints.map((j) => ({ ...j, body: null })) },
      0.4,
      /lacks the body of port\.swing/,
    ],
    ['of a stroke that is not reached', withStroke(SKIFF, { length: 2 }), 0.4, /--cruise: port: /],
  ])('%s is refused', (_, rig, surge, message) => {
    expect(() => envelopeOf(rig, [], 8, go(surge, surge === 0 ? 0.2 : 0))).toThrow(message)
  })

  it('is told, outside, where the arms do not bear it', () => {
    const { placed } = cruise(SKIFF, 1.4)
    expect(placed.share).toBeGreaterThan(1)
    expect(placed.boundary.limits.length).toBeGreaterThan(0)
  })
})
