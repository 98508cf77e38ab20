/** The craft on the water against scipy: the same equations by an adaptive integrator, its steady speed by a root finder. */
import { describe, expect, test } from 'vitest'
import { hullAddedMass } from '../../src/motion/water/added-mass.js'
import { CraftMotion, crossFlowDamping, type Hull } from '../../src/motion/water/craft-motion.js'
import { FrictionDrag } from '../../src/motion/water/hull-drag.js'
import { freshWater } from '../../src/motion/water/properties.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const WATER = freshWater(15)
const HULL: Hull = { length: 4, beam: 1.1, draught: 0.14, mass: 180, gyration: 1, centre: 0.2 }
const WETTED = { length: 4, area: 3.1, formFactor: 0.2 }
const DAMPING = crossFlowDamping(HULL, WATER, 1)
const drag = new FrictionDrag(WETTED, WATER)

describe.skipIf(!needs('python3-scipy'))('the craft', () => {
  test('ends at the speed at which drag is the thrust, by scipy.optimize.brentq', () => {
    const thrusts = [2, 10, 40]
    const theirs = python<number[]>(
      `
import json, sys
from math import log10
from scipy.optimize import brentq
job = json.load(sys.stdin)
def drag(v):
    return .5 * job['rho'] * job['area'] * 1.2 * v * v * .075 / (log10(v * job['length'] / job['nu']) - 2) ** 2
json.dump([brentq(lambda v: drag(v) - t, .05, 10, xtol=1e-13) for t in job['thrusts']], sys.stdout)
`,
      { thrusts, rho: WATER.density, nu: WATER.viscosity, ...WETTED },
    )
    thrusts.forEach((thrust, i) => {
      const craft = new CraftMotion(HULL, drag, DAMPING, WATER, 0.05)
      for (let k = 0; k < 40000; k++) {
        craft.pull(Float64Array.of(thrust, 0, 0, 0, 0, 0), 0, 0)
        craft.step()
      }
      expect(craft.state[3]).toBeCloseTo(theirs[i]!, 9)
    })
  })

  test('a turn under pulsing pulls at both sides in a current, by scipy.integrate.solve_ivp', () => {
    const added = hullAddedMass(HULL, WATER)
    const times = { period: 0.05, end: 20 }
    const pulses = { port: 30, starboard: -12, side: 6, rate: 0.9, hold: 0.5 }
    const current = [0.3, -0.2]
    const theirs = python<number[]>(
      `
import json, sys
from math import log10, cos, sin, floor
from scipy.integrate import solve_ivp
j = json.load(sys.stdin)
h, a, w, d, p = j['hull'], j['added'], j['wetted'], j['damping'], j['pulses']
m11, m22, m66 = h['mass'] + a['surge'], h['mass'] + a['sway'], h['mass'] * h['gyration'] ** 2 + a['yaw']
def resist(u):
    re = max(abs(u) * w['length'] / j['nu'], 1e5)
    return .5 * j['rho'] * w['area'] * (1 + w['formFactor']) * u * abs(u) * .075 / (log10(re) - 2) ** 2
def slope(y, on):
    _, _, psi, u, v, r = y
    X = on * (p['port'] + p['starboard'])
    Y = on * p['side']
    N = on * (-1 * p['port'] + 1 * p['starboard'] + (.5 - h['centre']) * p['side'])
    return [cos(psi) * u - sin(psi) * v + j['current'][0], sin(psi) * u + cos(psi) * v + j['current'][1], r,
        (X - resist(u) + m22 * v * r) / m11,
        (Y - d['sway']['quadratic'] * abs(v) * v - m11 * u * r) / m22,
        (N - d['yaw']['quadratic'] * abs(r) * r - (m22 - m11) * u * v) / m66]
y, t, on = [0.] * 6, 0., 1
while t < j['times']['end'] - 1e-9:
    s = solve_ivp(lambda t, y: slope(y, on), (0, p['hold']), y, method='DOP853', rtol=1e-11, atol=1e-13)
    y, t, on = s.y[:, -1], t + p['hold'], 1 - on
json.dump(list(y), sys.stdout)
`,
      {
        hull: HULL,
        added,
        wetted: WETTED,
        damping: DAMPING,
        pulses,
        current,
        times,
        rho: WATER.density,
        nu: WATER.viscosity,
      },
    )
    const craft = new CraftMotion(HULL, drag, DAMPING, WATER, times.period)
    craft.current.set(current)
    const port = Float64Array.of(pulses.port, 0, 0, 0, 0, 0)
    const starboard = Float64Array.of(pulses.starboard, pulses.side, 0, 0, 0, 0)
    const steps = Math.round(times.end / times.period)
    const hold = Math.round(pulses.hold / times.period)
    for (let k = 0; k < steps; k++) {
      if (Math.floor(k / hold) % 2 === 0) {
        craft.pull(port, 0.5, 1)
        craft.pull(starboard, 0.5, -1)
      }
      craft.step()
    }
    theirs.forEach((y, i) => {
      expect(Math.abs(craft.state[i]! - y)).toBeLessThan(1e-6)
    })
    // It did turn, and drift.
    expect(Math.abs(theirs[2]!)).toBeGreaterThan(0.5)
    expect(Math.abs(theirs[4]!)).toBeGreaterThan(0.01)
  })
})
