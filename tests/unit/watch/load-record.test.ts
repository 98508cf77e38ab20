/** Strokes of even torques, in closed form: what the heaviest was, and how warm a trip of all of them gets. */
import { expect, it } from 'vitest'
import { LoadRecord } from '../../../src/watch/load-record.js'

const RATING = { continuous: 10, peak: 30, warmUp: 600 }
const [PERIOD, TRIP] = [0.01, 1200]
const BLADE = new Float64Array(12)

/** Each a torque (N m) that is held for so long (s), from catch to catch. */
function strokes(...of: readonly (readonly [torque: number, seconds: number])[]) {
  const record = new LoadRecord('port.elbow', RATING, TRIP, PERIOD)
  let k = 0
  for (const [torque, seconds] of of) {
    record.catches(k)
    for (let i = 0; i < Math.round(seconds / PERIOD); i++) record.see(torque, BLADE, ++k)
  }
  record.catches(k)
  return record.close()!
}

it('the heaviest stroke is the heaviest, not the last; a pull either way counts', () => {
  const { stroke, strokeAt, peak, peakAt } = strokes([6, 2], [-12, 1], [4, 1])
  expect(stroke).toBeCloseTo(12, 12)
  // Told at its end.
  expect(strokeAt).toBe(300)
  expect([peak, peakAt]).toEqual([12, 201])
})

it('a trip is warmed by each stroke for as long as it lasts', () => {
  const { trip, steady } = strokes([6, 2], [12, 1])
  expect(steady).toBeCloseTo((36 * 2 + 144) / 3 / 100, 12)
  expect(trip).toBeCloseTo(((36 * 2 + 144) / 300) * (1 - Math.exp(-2)), 12)
})
