/**
 * Figures of a move from rest to rest. Steps: the table of the exact second-order response (wn = 1), project check values 5. Smooth moves:
 * scipy.signal.lsim on a finer grid, and figures worked out by numpy.
 */
import { describe, expect, it } from 'vitest'
import { quintic } from '../../src/motion/quintic.js'
import { StepResponse } from '../../src/motion/step-response.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

// zeta, overshoot %, rise 10-90, settling 2 %
const TABLE: [number, number, number, number][] = [
  [0.2, 52.662, 1.2034, 19.602],
  [0.4, 25.383, 1.4635, 8.409],
  [0.5, 16.303, 1.6376, 8.076],
  [0.6, 9.478, 1.8541, 5.943],
  [0.7, 4.599, 2.1262, 5.979],
  [0.8, 1.517, 2.4675, 3.756],
]
const REST = 20
/** Sample time, in units of 1/wn */
const H = 0.002

/** Closed form: 1 - exp(-z t) (cos wd t + z / wd sin wd t). */
function response(z: number, t: number): number {
  const wd = Math.sqrt(1 - z * z)
  return t < 0 ? 0 : 1 - Math.exp(-z * t) * (Math.cos(wd * t) + (z / wd) * Math.sin(wd * t))
}

describe.each([1, -0.3])('a step of height %d', (height) => {
  it.each(TABLE)('damping %d: overshoot %d %%, rise %d, settling %d', (z, overshoot, rise, settling) => {
    const look = Math.ceil(30 / H)
    const step = new StepResponse(look + 100, REST, look)
    for (let i = 0; i < REST + 5; i++) expect(step.see(2, 2)).toBe(false)
    let over = false
    for (let i = 0; !over; i++) over = step.see(2 + height, 2 + height * response(z, i * H))
    const { last } = step
    expect(last.height).toBeCloseTo(height, 12)
    expect(last.askedRise).toBeCloseTo(0.8, 12) // of one sample: a step seen by samples is a ramp between two of them
    // The top lies between samples: (wn H)^2 / 8 of the height below it at the most.
    expect(Math.abs(100 * last.overshoot - overshoot)).toBeLessThan(0.0005 + (100 * H * H) / 8)
    expect(Math.abs(last.rise * H - rise)).toBeLessThan(0.5e-4 + H * H)
    expect(last.settling * H).toBeGreaterThan(settling - 0.0005 - H)
    expect(last.settling * H).toBeLessThan(settling + 0.0005 + H)
  })
})

const MOVE = `
import json, sys
import numpy as np
from scipy import signal
job = json.load(sys.stdin)
h, T, z, w = job['h'], job['T'], job['z'], job['w']
t = np.arange(0, T + 3, h / 20)
s = np.clip(t / T, 0, 1)
r = s**3 * (10 - 15 * s + 6 * s**2)
_, y, _ = signal.lsim(signal.lti([w * w], [1, 2 * z * w, w * w]), r, t)
cross = lambda x, level: np.interp(level, x[: int(np.argmax(x >= level)) + 1], t[: int(np.argmax(x >= level)) + 1])
out = np.abs(y - 1) > 0.02
json.dump({
    'y': y[::20].tolist(),
    'rise': float(cross(y, 0.9) - cross(y, 0.1)),
    'asked': float(cross(r, 0.9) - cross(r, 0.1)),
    'overshoot': float(max(0, y.max() - 1)),
    'settling': float(max(0, t[np.flatnonzero(out)[-1]] - T)),
}, sys.stdout)
`
it.skipIf(!needs('python3-numpy', 'python3-scipy')).each([
  [0.3, 0.2, 8],
  [0.8, 0.4, 8],
  [0.5, 1, 12],
])('scipy: a quintic move of a loop with damping %d in %d s at %d rad/s', (z, T, w) => {
  const h = 0.005
  const known = python<{ y: number[]; rise: number; asked: number; overshoot: number; settling: number }>(
    MOVE,
    { h, T, z, w },
  )
  const step = new StepResponse(2000, REST, 500)
  for (let i = 0; i < 2 * REST; i++) step.see(0, 0)
  let over = false
  for (let i = 0; !over; i++) over = step.see(quintic((i * h) / T), known.y[i]!)
  const { last } = step
  expect(Math.abs(last.rise * h - known.rise)).toBeLessThan(h / 20)
  expect(Math.abs(last.askedRise * h - known.asked)).toBeLessThan(h / 20)
  expect(Math.abs(last.overshoot - known.overshoot)).toBeLessThan((w * h) ** 2 / 8)
  expect(Math.abs(last.settling * h - known.settling)).toBeLessThan(2 * h)
})
