/**
 * How long a stroke takes, and how long its blade is under water, at an even side speed: closed forms, and scipy's adaptive quadrature of
 * the phase rate written anew from its definition (a quintic weight, a 4-norm of two rates: motion/stroke.ts, motion/cadence.ts).
 */
import { describe, expect, it } from 'vitest'
import { loadRig } from '../../src/files/load.js'
import type { Rig } from '../../src/files/rig.js'
import { strokeShape } from '../../src/motion/blade.js'
import { StrokeReference } from '../../src/motion/stroke-reference.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'
import { DEMO_RIG } from '../setup/runs.js'

const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
const referenceOf = (stroke: Partial<Rig['stroke']> = {}) => {
  const changed = { ...rig, stroke: { ...rig.stroke, ...stroke } }
  const paddles = rig.arms.map(({ paddle }) => paddle)
  return {
    reference: new StrokeReference(changed, rig.arms[0]!),
    kappa: strokeShape(changed.stroke, paddles).kappa,
    stroke: changed.stroke,
  }
}

describe('closed forms', () => {
  it('without a least rate on the recovery the phase runs evenly: a stroke takes kappa / v', () => {
    const { reference, kappa } = referenceOf({ recovery: 0 })
    for (const v of [0.05, 0.3, 0.52]) {
      reference.at(v, 1)
      expect(reference.time).toBeCloseTo(kappa / v, 9)
    }
  })

  it('a stroke shortened to a half at half the speed takes as long as the whole one, and covers half the way', () => {
    const { reference } = referenceOf()
    reference.at(0.3, 1)
    const { time, wet } = reference
    reference.at(0.15, 0.5)
    expect([reference.time, reference.wet]).toEqual([time, wet])
  })

  it('astern it takes as long as ahead', () => {
    const { reference } = referenceOf()
    reference.at(0.3, 1)
    const { time } = reference
    reference.at(-0.3, 1)
    expect(reference.time).toBe(time)
  })

  it('the blade is under water for longer than it takes to pass the even part, and out of it for less than the rest', () => {
    const { reference, stroke } = referenceOf()
    reference.at(0.3, 1)
    expect(reference.wet).toBeGreaterThan((stroke.even * stroke.length) / 0.3)
    expect(reference.shape.deepest).toBeCloseTo(stroke.immersion, 9)
    expect(reference.shape.clearance).toBeCloseTo(stroke.clearance, 9)
    // Catch and exit are a stroke's length apart, and the way goes a little beyond both.
    expect(reference.meter.over).toBeGreaterThan(1)
    expect(reference.meter.over).toBeLessThan(1.1)
    expect(reference.shape.catch).toBeCloseTo(reference.shape.exit, 6)
  })
})

const TIMES = `
import json, sys
import math
from scipy.integrate import quad
from scipy.optimize import brentq
job = json.load(sys.stdin)
even, ramp = job['even'], 0.65
half = 0.5 - even / 4
s = lambda t: 0 if t <= 0 else 1 if t >= 1 else 10*t**3 - 15*t**4 + 6*t**5
# d: signed phase from the middle of the recovery
w = lambda d: s((half - abs(d)) / (ramp * half))
depth = job['immersion'] + job['drop']
def times(v):
    a = v / job['kappa']
    b = job['least'] * math.tanh(v / (0.25 * job['acceleration']))
    back = (a**4 + b**4) ** 0.25
    rate = lambda d: a + w(d) * (back - a)
    # The centre is at the surface where the rise has taken it up by the immersion.
    out = brentq(lambda d: w(d) * (depth + job['clearance']) - job['immersion'], 0.0, half - 1e-12)
    area = lambda lo, hi: quad(lambda d: 1 / rate(d), lo, hi, epsabs=1e-13, epsrel=1e-13, limit=500)[0]
    dry = 2 * area(0, out)
    return [dry + 2 * area(out, half) + (1 - 2 * half) / a, 2 * area(out, half) + (1 - 2 * half) / a]
json.dump([times(v) for v in job['speeds']], sys.stdout)
`

it.skipIf(!needs('python3-numpy', 'python3-scipy'))(
  'scipy: times of whole strokes and of their wet part',
  () => {
    const { reference, kappa, stroke } = referenceOf()
    const { paddle } = rig.arms[0]!
    const drop = (paddle.length * Math.cos(stroke.lean) + paddle.width * Math.sin(stroke.lean)) / 2
    const speeds = [0.02, 0.05, 0.1, 0.24, 0.3, 0.52, 1]
    const { immersion, clearance, even, recovery: least } = stroke
    const { acceleration } = rig.driver
    const job = { speeds, kappa, even, least, acceleration, immersion, clearance, drop }
    python<[number, number][]>(TIMES, job).forEach(([time, wet], i) => {
      reference.at(speeds[i]!, 1)
      expect(Math.abs(reference.time / time - 1)).toBeLessThan(1e-5)
      expect(Math.abs(reference.wet / wet - 1)).toBeLessThan(1e-5)
    })
  },
)
