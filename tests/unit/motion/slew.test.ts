import { describe, expect, test } from 'vitest'
import { Slew } from '../../../src/motion/slew.js'
import { randomStream } from '../../../src/random.js'

const [LIMIT, JERK, PERIOD] = [0.4, 2, 0.005]

/** Runs to a resting target; returns the number of periods and the extremes on the way. */
function run(slew: Slew, target: number, most = 10_000) {
  let [low, high, steepest, sharpest, before] = [slew.value, slew.value, 0, 0, slew.slope]
  let count = 0
  for (; count < most && !(slew.value === target && slew.slope === 0); count++) {
    slew.step(target)
    low = Math.min(low, slew.value)
    high = Math.max(high, slew.value)
    steepest = Math.max(steepest, Math.abs(slew.slope))
    sharpest = Math.max(sharpest, Math.abs(slew.slope - before) / PERIOD)
    before = slew.slope
  }
  return { count, low, high, steepest, sharpest }
}

describe('from rest to a resting target', () => {
  test.each([0.3, -0.45, 1e-3, 1e-7, 3])(
    '%d: met exactly, without overshoot, within both limits',
    (target) => {
      const { count, low, high, steepest, sharpest } = run(new Slew(LIMIT, JERK, PERIOD), target)
      expect(count).toBeLessThan(10_000)
      expect(low).toBeGreaterThanOrEqual(Math.min(0, target) - 1e-15)
      expect(high).toBeLessThanOrEqual(Math.max(0, target) + 1e-15)
      expect(steepest).toBeLessThanOrEqual(LIMIT + 1e-12)
      expect(sharpest).toBeLessThanOrEqual(JERK + 1e-9)
    },
  )

  test('takes no longer than the time-optimal profile, but for the rounding to periods', () => {
    // Trapezoid of slope: D/A + A/J when D > A^2/J (common practice, no source).
    const { count } = run(new Slew(LIMIT, JERK, PERIOD), 0.3)
    expect(count * PERIOD).toBeLessThanOrEqual(0.3 / LIMIT + LIMIT / JERK + 3 * PERIOD)
  })
})

test('keeps both limits whatever the target does, and still arrives', () => {
  const random = randomStream(7, 'slew')
  const slew = new Slew(LIMIT, JERK, PERIOD)
  let [steepest, sharpest] = [0, 0]
  for (let k = 0; k < 20_000; k++) {
    const target = k % 61 < 30 ? random.normal() : 0.2
    const slope = slew.slope
    slew.step(target)
    steepest = Math.max(steepest, Math.abs(slew.slope))
    sharpest = Math.max(sharpest, Math.abs(slew.slope - slope) / PERIOD)
  }
  // Both limits were reached, and neither passed.
  expect(steepest).toBe(LIMIT)
  expect(sharpest).toBeCloseTo(JERK, 9)
  expect(run(slew, 0.1).count).toBeLessThan(2_000)
  expect(slew.value).toBe(0.1)
})

test('passes zero without lingering', () => {
  const slew = new Slew(LIMIT, JERK, PERIOD)
  run(slew, 0.3)
  let slowest = Number.POSITIVE_INFINITY
  while (slew.value !== -0.3) {
    slew.step(-0.3)
    if (Math.abs(slew.value) < 0.1) slowest = Math.min(slowest, Math.abs(slew.slope))
  }
  expect(slowest).toBeCloseTo(LIMIT, 9)
})
