/** The meter on an ellipse: what it should measure is known in closed form. */
import { expect, it } from 'vitest'
import { StrokeMeter } from '../../../src/motion/stroke-meter.js'

/** m: half axes, along the craft and upright; the blade goes in and out at the turns. */
const ALONG = 0.55
const UPRIGHT = 0.2
const LENGTH = 1
const EVEN = 0.8
const STEP = 0.002
/** rad from the foremost place at which u leaves the even part on the drive: cos = -0.4 / 0.55 */
const OUT = Math.acos((-EVEN * LENGTH) / 2 / ALONG)

function meter(): StrokeMeter {
  return new StrokeMeter({ middle: 0, length: LENGTH, even: EVEN, over: (2 * ALONG) / LENGTH })
}

/** Where the blade is, rad from its foremost place; the drive comes first, under water. */
const placeAt = (angle: number) => {
  const height = -UPRIGHT * Math.sin(angle)
  return { x: ALONG * Math.cos(angle), depth: -height, clearance: height, angle: 0 }
}

/** s */
let t = 0

/** Goes there; whether it was ever taken to be on its way back. */
function go(m: StrokeMeter, angles: Iterable<number>): boolean {
  let recovering = false
  for (const angle of angles) {
    t += STEP
    m.see(t, placeAt(angle))
    recovering ||= m.recovering
  }
  return recovering
}

function* sweep(from: number, to: number): Iterable<number> {
  for (let angle = from; angle < to; angle += STEP) yield angle
}
/** At rest, but for a tremble of a thousandth of a rad, 0.4 mm. */
function* rest(at: number): Iterable<number> {
  for (let k = 0; k < 400; k++) yield at + 0.001 * Math.sin(k)
}

it('is on its way back within the even part of the recovery, and nowhere else', () => {
  const m = meter()
  for (const angle of sweep(0, 4 * Math.PI)) {
    const { x } = placeAt(angle)
    m.see(angle, placeAt(angle))
    const back = Math.sin(angle) < 0 && Math.abs(x) < (EVEN * LENGTH) / 2
    // One sample at either end may lie on the other side.
    if (Math.abs(Math.abs(x) - (EVEN * LENGTH) / 2) > 2 * STEP)
      expect([angle, m.recovering]).toEqual([angle, back])
  }
  const edge = UPRIGHT * Math.sqrt(1 - ((EVEN * LENGTH) / 2 / ALONG) ** 2)
  expect(m.last.clearance).toBeCloseTo(edge, 2)
  expect(m.last.shallowest).toBeCloseTo(edge, 2)
  expect(m.last.way).toBeCloseTo(2 * ALONG, 4)
})

it.each([-0.0005, 0, 0.0005])(
  'a blade that comes to rest where the even part of the drive ends, and trembles, is not on its way back: %f rad beyond',
  (beyond) => {
    const m = meter()
    expect(go(m, sweep(-1, OUT + beyond))).toBe(false)
    expect(go(m, rest(OUT + beyond))).toBe(false)
    expect(go(m, sweep(OUT + beyond, Math.PI))).toBe(false)
    expect(go(m, sweep(Math.PI, 2 * Math.PI))).toBe(true)
  },
)

it('nor is one on its drive that rests where the even part of the recovery ends: its depth is none of the drive', () => {
  const m = meter()
  const stands = OUT + Math.PI
  go(m, sweep(-1, stands))
  go(m, rest(stands))
  go(m, sweep(stands, 4 * Math.PI))
  const edge = UPRIGHT * Math.sqrt(1 - ((EVEN * LENGTH) / 2 / ALONG) ** 2)
  expect(m.count).toBe(1)
  expect(m.last.shallowest).toBeCloseTo(edge, 2)
})
