import { describe, expect, test } from 'vitest'
import {
  accelerationNoiseGain,
  Differentiator,
  delay,
  speedNoiseGain,
} from '../../../src/motion/differentiator.js'
import { randomStream } from '../../../src/random.js'

const PERIOD = 0.005

test('of a parabola it gives the exact speed and acceleration, (n - 1)/2 periods late', () => {
  const d = new Differentiator(21, PERIOD)
  expect(delay(21, PERIOD)).toBe(0.05)
  for (let k = 0; k <= 60; k++) {
    const t = k * PERIOD
    d.push(100 + 0.7 * t - 3 * t * t)
    expect(d.ready).toBe(k >= 20)
    if (!d.ready) {
      expect(d.speed).toBeNaN()
      continue
    }
    const then = t - delay(21, PERIOD)
    expect(d.speed).toBeCloseTo(0.7 - 6 * then, 9)
    expect(d.acceleration).toBeCloseTo(-6, 7)
  }
})

test('the published five-point weights: (-2 -1 0 1 2)/10 and (2 -1 -2 -1 2)/7', () => {
  // Savitzky and Golay (1964), tables of convolutes for quadratics, 5 points; from memory.
  const speeds: number[] = []
  const accelerations: number[] = []
  for (let place = 0; place < 5; place++) {
    const d = new Differentiator(5, 1)
    for (let k = 0; k < 5; k++) d.push(k === place ? 1 : 0)
    speeds.push(d.speed * 10)
    accelerations.push(d.acceleration * 7)
  }
  const round = (x: number) => Math.round(x * 1e9) / 1e9 + 0
  expect(speeds.map(round)).toEqual([-2, -1, 0, 1, 2])
  expect(accelerations.map(round)).toEqual([2, -1, -2, -1, 2])
})

test('after a reset it waits for a full window and knows nothing of before', () => {
  const d = new Differentiator(5, PERIOD)
  for (let k = 0; k < 9; k++) d.push(1000 * k)
  d.reset()
  expect([d.ready, d.speed]).toEqual([false, Number.NaN])
  for (let k = 0; k < 4; k++) d.push(2)
  expect(d.ready).toBe(false)
  d.push(2)
  expect([d.ready, d.speed, d.acceleration]).toEqual([true, 0, 0])
})

describe('noise', () => {
  test.each([5, 21, 41])('measured gain of a window of %d agrees with the closed form', (window) => {
    const random = randomStream(3, `noise ${window}`)
    const d = new Differentiator(window, PERIOD)
    let [speed, acceleration, count] = [0, 0, 0]
    for (let k = 0; k < 200_000; k++) {
      d.push(random.normal())
      if (!d.ready) continue
      speed += d.speed ** 2
      acceleration += d.acceleration ** 2
      count++
    }
    expect(Math.sqrt(speed / count) / speedNoiseGain(window, PERIOD)).toBeCloseTo(1, 1.5)
    expect(Math.sqrt(acceleration / count) / accelerationNoiseGain(window, PERIOD)).toBeCloseTo(1, 1.5)
  })
})

test.each([4, 1, 2.5])('a window of %d samples is refused', (window) => {
  expect(() => new Differentiator(window, PERIOD)).toThrow(/odd number/)
})
