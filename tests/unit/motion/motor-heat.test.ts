import { expect, test } from 'vitest'
import { MotorHeat } from '../../../src/motion/motor-heat.js'

const RATING = { continuous: 10, peak: 30, timeConstant: 600 }
const TRIP = 1800

test('continuous torque fills the allowed rise, and a trip of three time constants gets to 95 % of it', () => {
  const heat = new MotorHeat('port.elbow', RATING, TRIP)
  for (let i = 0; i < 200; i++) heat.see(i % 2 === 0 ? 10 : -10, 0.005)
  const { duration, rms, load, rise, peak, peakShare } = heat.close()!
  expect(duration).toBeCloseTo(1, 12)
  expect(rms).toBeCloseTo(10, 12)
  expect(load).toBeCloseTo(1, 12)
  expect(rise).toBeCloseTo(1 - Math.exp(-3), 12)
  expect([peak, peakShare]).toEqual([10, 1 / 3])
})

test('a sine counts with its half square, whatever the steps; its crest is the peak', () => {
  const heat = new MotorHeat('port.elbow', RATING, TRIP)
  for (let i = 0; i < 1000; ) {
    const steps = i % 3 === 0 ? 1 : 2
    heat.see(24 * Math.sin((2 * Math.PI * (i + steps / 2)) / 1000), steps * 1e-3)
    i += steps
  }
  const figures = heat.close()!
  expect(figures.load).toBeCloseTo(0.5 * 2.4 ** 2, 4)
  expect(figures.peak).toBeCloseTo(24, 3)
})

// The same first-order heating, stepped in time: rise' = (load - rise) / T.
test('the closed form is what a body with one time constant does under the strokes', () => {
  const [dt, stroke] = [0.01, 2]
  const torque = (t: number) => (t % stroke < 1 ? 17 : 2)
  const heat = new MotorHeat('port.elbow', { ...RATING, timeConstant: 120 }, 300)
  for (let t = dt / 2; t < stroke; t += dt) heat.see(torque(t), dt)
  let rise = 0
  for (let t = dt / 2; t < 300; t += dt) rise += (((torque(t) / 10) ** 2 - rise) * dt) / 120
  // Strokes ripple it by less than half a stroke of heating.
  expect(Math.abs(heat.close()!.rise! - rise)).toBeLessThan((0.5 * stroke * 2.89) / 120)
})

test('a short trip warms by load times t / T; a pull the other way is as large', () => {
  const heat = new MotorHeat('port.elbow', RATING, 0.6)
  heat.see(-20, 1)
  const { rise, peak } = heat.close()!
  expect(rise! / (4 * 1e-3)).toBeCloseTo(1, 3)
  expect(peak).toBe(20)
})

test('what was held for long counts for long: 100 s of the continuous torque, then 300 s and 20 s of none', () => {
  const heat = new MotorHeat('port.elbow', RATING, TRIP)
  heat.see(10, 100)
  heat.see(0, 300)
  heat.see(0, 20)
  // One time constant of 600 s: up as 1 - exp, down as exp.
  expect(heat.close()!.end).toBeCloseTo((1 - Math.exp(-100 / 600)) * Math.exp(-320 / 600), 12)
})

test('nothing seen is no figure', () => {
  expect(new MotorHeat('port.elbow', RATING, TRIP).close()).toBeNull()
})

test.each([
  [() => new MotorHeat('a.b', { ...RATING, continuous: 0 }, TRIP), 'joint a.b: continuous torque is 0 N m'],
  [
    () => new MotorHeat('a.b', { ...RATING, peak: 9 }, TRIP),
    'joint a.b: peak torque 9 N m is below its continuous torque 10 N m',
  ],
  [
    () => new MotorHeat('a.b', { ...RATING, timeConstant: -1 }, TRIP),
    'joint a.b: thermal time constant is -1 s',
  ],
  [() => new MotorHeat('a.b', RATING, 0), 'trip is 0 s'],
  [() => new MotorHeat('a.b', RATING, TRIP).see(Number.NaN, 1), 'joint a.b: a torque of NaN N m for 1 s'],
  [() => new MotorHeat('a.b', RATING, TRIP).see(1, 0), 'joint a.b: a torque of 1 N m for 0 s'],
])('%s: %s', (make, message) => {
  expect(make).toThrow(message)
})
