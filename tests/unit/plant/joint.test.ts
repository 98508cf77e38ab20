import { describe, expect, it } from 'vitest'
import { nanos } from '../../../src/clock.js'
import { ABILITY, JointMotion, STOP_MARGIN } from '../../../src/plant/joint.js'
import { BRAKE_ENGAGES, FALL_DAMPING } from '../../../src/plant/load.js'

const LIMITS = { lower: -1, upper: 1, speed: 3, acceleration: 20, torque: 30 }
const SERVO = { frequency: 12, damping: 0.8, feedforward: 0.5 }
const joint = (o: Partial<ConstructorParameters<typeof JointMotion>[0]> = {}) =>
  new JointMotion({ limits: LIMITS, servo: SERVO, start: 0, sag: 1, brakes: true, ...o })

/** Position, speed and acceleration by differences of the position seen every 1 ms. */
function seen(j: JointMotion, from: number, to: number) {
  const n = Math.round((to - from) / 1e-3)
  const x = Array.from({ length: n + 1 }, (_, i) => j.position(nanos(from + i * 1e-3)))
  const v = x.slice(1).map((value, i) => (value - x[i]!) / 1e-3)
  const a = v.slice(1).map((value, i) => (value - v[i]!) / 1e-3)
  const most = (values: number[]) => values.reduce((sum, value) => Math.max(sum, Math.abs(value)), 0)
  return { x, v, speed: most(v), acceleration: most(a) }
}

describe('without power', () => {
  it('brakes hold from power-on', () => {
    const j = joint({ start: 0.4 })
    expect(j.position(nanos(10))).toBe(0.4)
  })

  it('without brakes it falls: at first with the sag, then at sag / damping, then it lies on the lower hard stop', () => {
    const j = joint({ brakes: false })
    expect(j.position(nanos(0.05))).toBeCloseTo(-0.5 * 0.05 ** 2, 4)
    const t = 1
    const exact = -(1 / FALL_DAMPING) * (t - (1 - Math.exp(-FALL_DAMPING * t)) / FALL_DAMPING)
    expect(j.position(nanos(t))).toBeCloseTo(exact, 9)
    expect(j.position(nanos(60))).toBeCloseTo(LIMITS.lower - STOP_MARGIN, 12)
    expect(j.resting).toBe(true)
  })

  it('the brake bites after its time, and holds', () => {
    const j = joint()
    j.follow(0)
    j.release(nanos(0.1))
    const bitten = 0.1 + BRAKE_ENGAGES
    const fallen = j.position(nanos(bitten))
    expect(fallen).toBeCloseTo(-0.5 * BRAKE_ENGAGES ** 2, 4)
    const later = j.position(nanos(bitten + 0.01))
    expect(later).toBeLessThanOrEqual(fallen)
    expect(j.position(nanos(20))).toBe(later)
  })

  it('a moving joint coasts on until the brake stops it', () => {
    const j = joint()
    j.follow(0)
    j.demand.move(0, 0.9, nanos(0.9))
    j.release(nanos(0.3))
    const { v } = seen(j, 0.3, 0.5)
    expect(v[20]).toBeGreaterThan(0.9)
    expect(v.at(-1)).toBe(0)
  })

  it('a joint that starts beyond its limits has its hard stop there', () => {
    const j = joint({ start: -1.5, brakes: false })
    expect(j.position(nanos(5))).toBe(-1.5)
  })
})

describe('with power', () => {
  it('starts where it is, without a jump', () => {
    const j = joint({ start: 0.3 })
    j.follow(nanos(0.0105))
    const { x } = seen(j, 0.011, 0.2)
    for (const value of x) expect(value).toBeCloseTo(0.3, 12)
  })

  it('catches a falling joint where it is', () => {
    const j = joint({ start: 0.7, brakes: false })
    const caught = j.position(nanos(0.6))
    expect(caught).toBeLessThan(0.6)
    j.follow(nanos(0.6))
    const { x } = seen(j, 0.6, 2)
    // It runs on for less than speed / (w z), and comes back to where it was caught, not higher by more than
    // 2 %.
    const most = 0.5 / (2 * Math.PI * SERVO.frequency * SERVO.damping)
    expect(caught - Math.min(...x)).toBeLessThan(most)
    expect(Math.max(...x) - caught).toBeLessThan(0.02 * most)
    expect(x.at(-1)).toBeCloseTo(caught, 9)
  })

  it('keeps to its speed and acceleration, however far the setpoint jumps', () => {
    const j = joint({ limits: { ...LIMITS, lower: -10, upper: 10 } })
    j.follow(0)
    j.demand.move(0, 0.9, 0)
    const { speed, acceleration } = seen(j, 0, 1)
    // The limit holds for the mean of each grid step; inside the step in which it lets go, w h more may show.
    const onGrid = 1 + 2 * Math.PI * SERVO.frequency * 1e-3
    expect(acceleration).toBeLessThanOrEqual(ABILITY.acceleration * LIMITS.acceleration * onGrid)
    expect(acceleration).toBeGreaterThan(0.99 * ABILITY.acceleration * LIMITS.acceleration)
    expect(speed).toBeLessThanOrEqual(ABILITY.speed * LIMITS.speed * (1 + 1e-9))
    expect(j.position(nanos(5))).toBeCloseTo(0.9, 6)
  })

  it('a torque limit lowers its acceleration in proportion', () => {
    const j = joint()
    j.follow(0)
    j.limitTorque(0, 0.5 * LIMITS.torque)
    j.demand.move(0, 0.9, 0)
    const { acceleration } = seen(j, 0, 0.3)
    expect(acceleration).toBeCloseTo(0.5 * ABILITY.acceleration * LIMITS.acceleration, 6)
  })

  it('stops at the hard stop', () => {
    const j = joint()
    j.follow(0)
    j.demand.move(0, 2, nanos(0.5))
    expect(j.position(nanos(2))).toBeCloseTo(LIMITS.upper + STOP_MARGIN, 12)
  })

  it('a ramp ends after speed / deceleration and speed^2 / 2 deceleration', () => {
    const j = joint()
    j.follow(0)
    j.demand.move(0, 0.9, nanos(0.9))
    const begin = j.position(nanos(0.4))
    j.ramp(nanos(0.4), 8)
    expect(j.timeToRest / 1e9).toBeCloseTo(1 / 8, 6)
    j.advance(nanos(0.4 + 1 / 8 + 0.001))
    expect(j.resting).toBe(true)
    expect(j.position(nanos(1)) - begin).toBeCloseTo(1 / 16, 6)
  })

  it('between grid points it is smooth: no seam larger than what second order leaves out', () => {
    const j = joint()
    j.follow(0)
    j.demand.move(0, 0.1, nanos(0.1))
    let worst = 0
    for (let k = 1; k < 200; k++) {
      const before = j.position(k * 1e6 - 1)
      worst = Math.max(worst, Math.abs(j.position(k * 1e6) - before))
    }
    // A nanosecond at 1.2 rad/s, and jerk h^3 / 6 with jerk <= w^2 x speed step (1 rad/s) = 5,700 rad/s3.
    expect(worst).toBeLessThan(1.2e-9 + (5700 * 1e-9) / 6)
  })

  it('torque: holding carries the sag; a jam pushes up to the limit', () => {
    const j = joint()
    const inertia = LIMITS.torque / (ABILITY.acceleration * LIMITS.acceleration)
    j.follow(0)
    expect(j.torque(nanos(0.2))).toBeCloseTo(inertia * 1, 9)
    j.jam(nanos(0.2), true)
    j.demand.move(nanos(0.2), 0.5, nanos(10))
    expect(j.torque(nanos(0.22))).toBeLessThan(LIMITS.torque)
    expect(j.torque(nanos(0.9))).toBe(LIMITS.torque)
    expect(j.position(nanos(1))).toBeCloseTo(0, 12)
    j.jam(nanos(1.2), false)
    expect(j.position(nanos(12))).toBeCloseTo(0.5, 6)
  })

  it('an encoder that jumps makes the loop move the joint the other way', () => {
    const j = joint()
    j.follow(0)
    j.shiftEncoder(nanos(0.1), 0.05)
    expect(j.measured(nanos(0.1))).toBeCloseTo(0.05, 12)
    expect(j.position(nanos(1))).toBeCloseTo(-0.05, 9)
    expect(j.measured(nanos(1))).toBeCloseTo(0, 9)
  })

  it('that jump is a step to the loop, no speed to be fed forward', () => {
    const j = joint({ limits: { ...LIMITS, speed: 1e4, acceleration: 1e6 } })
    j.follow(0)
    j.shiftEncoder(nanos(0.1), 0.05)
    const most = ((2 * Math.PI * SERVO.frequency) ** 2 * 0.05 * 1e-6) / 2
    expect(-j.position(nanos(0.101))).toBeGreaterThan(0.9 * most)
    expect(-j.position(nanos(0.101))).toBeLessThanOrEqual(most)
  })
})
