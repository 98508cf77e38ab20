/**
 * Warmth of a motor against scipy.signal.lsim: 1/(1 + T s) under the square of torque over continuous torque, each value held over its
 * step; RMS against numpy; what the filter keeps of an acceleration against scipy.signal.savgol_coeffs.
 */
import { expect, test } from 'vitest'
import { accelerationGain, keepsUpTo } from '../../src/motion/differentiator.js'
import { MotorHeat } from '../../src/motion/motor-heat.js'
import { randomStream } from '../../src/random.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const HEAT = `
import json, sys
import numpy as np
from scipy import signal
job = json.load(sys.stdin)
tau = np.array(job['torques'])
share = np.square(tau / job['continuous'])
# Of steps that are held, lsim wants the value at each step's beginning.
t = np.arange(len(tau) + 1) * job['dt']
_, y, _ = signal.lsim(signal.lti([1], [job['T'], 1]), np.append(share, 0), t, interp=False)
json.dump({'rms': float(np.sqrt(np.mean(np.square(tau)))), 'end': float(y[-1])}, sys.stdout)
`
const GAIN = `
import json, sys
import numpy as np
from scipy import signal
job = json.load(sys.stdin)
n = job['window']
c = signal.savgol_coeffs(n, 2, deriv=2, delta=1, use='dot')
i = np.arange(n) - (n - 1) // 2
json.dump([float(-np.sum(c * np.cos(w * i)) / w ** 2) for w in job['turns']], sys.stdout)
`

test.skipIf(!needs('python3-numpy', 'python3-scipy'))('any torques: RMS and the warmth at their end', () => {
  const random = randomStream(5, 'torques')
  const torques = Array.from({ length: 4000 }, () => 40 * random.uniform() - 15)
  const [dt, continuous, T] = [0.05, 12, 90]
  const heat = new MotorHeat('port.elbow', { continuous, peak: 30, timeConstant: T }, null)
  for (const torque of torques) heat.see(torque, dt)
  const theirs = python<{ rms: number; end: number }>(HEAT, { torques, dt, continuous, T })
  const { rms, end, rise } = heat.close()!
  expect(rms / theirs.rms).toBeCloseTo(1, 12)
  expect(end! / theirs.end).toBeCloseTo(1, 9)
  expect(rise).toBeNull()
})

test.skipIf(!needs('python3-numpy', 'python3-scipy')).each([3, 5, 11, 31])(
  'window %d keeps as much of accelerations as the published weights do',
  (window) => {
    const turns = [0.01, 0.05, 0.1, 0.2, 0.3].map((x) => (x * 10) / window)
    const theirs = python<number[]>(GAIN, { window, turns })
    turns.forEach((turn, i) => {
      expect(accelerationGain(window, turn)).toBeCloseTo(theirs[i]!, 7)
    })
    const period = 0.005
    const turn = 2 * Math.PI * period * keepsUpTo(window, period, 0.9)
    expect(python<number[]>(GAIN, { window, turns: [turn] })[0]).toBeCloseTo(0.9, 9)
  },
)

// Closed form: rise = (1 - exp(-t/T)) c^2 under a constant share c; falls by exp(-t/T) without torque.
test('a step of torque, then none', () => {
  const heat = new MotorHeat('port.elbow', { continuous: 10, peak: 30, timeConstant: 60 }, null)
  for (let i = 0; i < 6000; i++) heat.see(20, 0.005)
  expect(heat.close()!.end).toBeCloseTo(4 * (1 - Math.exp(-0.5)), 10)
  for (let i = 0; i < 900; i++) heat.see(0, 0.1)
  expect(heat.close()!.end).toBeCloseTo(4 * (1 - Math.exp(-0.5)) * Math.exp(-1.5), 10)
})
