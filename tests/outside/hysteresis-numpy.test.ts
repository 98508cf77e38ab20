/** The least squares of the reversal error against numpy.linalg.lstsq on the same samples, and what is known of a backlash operator. */
import { expect, it } from 'vitest'
import { Hysteresis } from '../../src/motion/hysteresis.js'
import { randomStream } from '../../src/random.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const FIT = `
import json, sys
import numpy as np
job = json.load(sys.stdin)
q, v, a, e = (np.array(job[k]) for k in 'qvae')
A = np.column_stack([np.ones_like(q), q - q[0], v, a, np.sign(v)])
x, *_ = np.linalg.lstsq(A, e, rcond=None)
json.dump(float(2 * x[4]), sys.stdout)
`

it.skipIf(!needs('python3-numpy', 'python3-scipy')).each([1, 2, 3])(
  'motion of seed %i, with noise',
  (seed) => {
    const random = randomStream(seed, 'motion')
    const job = { q: [] as number[], v: [] as number[], a: [] as number[], e: [] as number[] }
    const fit = new Hysteresis(1)
    const w = 1 + 2 * random.uniform()
    for (let i = 0; i < 4000; i++) {
      const t = i * 0.005
      const q = Math.sin(w * t) + 0.3 * Math.sin(2.3 * w * t)
      const v = w * (Math.cos(w * t) + 0.69 * Math.cos(2.3 * w * t))
      const a = -w * w * (Math.sin(w * t) + 1.587 * Math.sin(2.3 * w * t))
      if (Math.abs(v) < 0.09) continue
      const e =
        0.01 + 0.002 * q + 0.011 * v - 2e-4 * a + 0.004 * Math.sign(v) + 1e-3 * (random.uniform() - 0.5)
      job.q.push(q)
      job.v.push(v)
      job.a.push(a)
      job.e.push(e)
      fit.see(q, v, a, Float64Array.of(e))
    }
    const reversal = fit.reversal(0)
    expect(Math.abs(reversal / python<number>(FIT, job) - 1)).toBeLessThan(1e-9)
    // Put in: 0.004 to each side.
    expect(Math.abs(reversal - 0.008)).toBeLessThan(1e-4)
  },
)
