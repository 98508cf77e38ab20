/** Spectra against scipy.signal.welch and numpy, on seeded signals: density, lines (from numpy's transform of the whole), power in bands. */
import { expect, test } from 'vitest'
import { RealFft } from '../../src/motion/fft.js'
import { bandPower, spectralLines } from '../../src/motion/spectral-lines.js'
import { Welch } from '../../src/motion/welch.js'
import { randomStream } from '../../src/random.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const RATE = 200
const SWINGS = [
  { frequency: 7.3, amplitude: 2e-3 },
  { frequency: 31.4159, amplitude: 4e-4 },
  { frequency: 59.6, amplitude: 1e-4 },
]

/** Noise of one encoder count on a slow stroke, with swings in it. */
function signal(seed: number, n: number): number[] {
  const random = randomStream(seed, 'signal')
  return Array.from({ length: n }, (_, i) => {
    const t = i / RATE
    const swings = SWINGS.reduce(
      (sum, s) => sum + s.amplitude * Math.sin(2 * Math.PI * s.frequency * t + s.frequency),
      0,
    )
    return 0.4 + 0.01 * t + swings + 4.8e-5 * random.normal()
  })
}

function welchOf(x: readonly number[], samples: number): Welch {
  const welch = new Welch(samples, RATE)
  for (const value of x) welch.push(value)
  return welch
}

const TRANSFORM = `
import json, sys
import numpy as np
x = np.fft.rfft(json.load(sys.stdin))
json.dump([x.real.tolist(), x.imag.tolist()], sys.stdout)
`

test.skipIf(!needs('python3-numpy')).each([4, 8, 64, 1024, 8192])(
  'transform of %d samples, against numpy',
  (n) => {
    const x = signal(n, n)
    const [re, im] = python<[number[], number[]]>(TRANSFORM, x)
    const fft = new RealFft(n)
    fft.transform(Float64Array.from(x))
    const size = Math.max(...re.map((r, k) => Math.hypot(r, im[k]!)))
    for (let k = 0; k <= n / 2; k++) {
      expect(Math.abs(fft.re[k]! - re[k]!) / size).toBeLessThan(1e-13)
      expect(Math.abs(fft.im[k]! - im[k]!) / size).toBeLessThan(1e-13)
    }
  },
)

test('a number of samples that is no power of two is refused', () => {
  for (const n of [0, 2, 3, 1000, Number.NaN]) expect(() => new RealFft(n)).toThrow(/expected a power of two/)
})

const WELCH = `
import json, sys
import numpy as np
from scipy import signal
job = json.load(sys.stdin)
f, p = signal.welch(np.array(job['x']), fs=job['rate'], nperseg=job['samples'])
json.dump({'f': f.tolist(), 'p': p.tolist()}, sys.stdout)
`

test.skipIf(!needs('python3-numpy', 'python3-scipy')).each([
  { seed: 1, samples: 256, n: 4000 },
  { seed: 2, samples: 1024, n: 20_000 },
  { seed: 3, samples: 1024, n: 1024 },
])('density of $n samples in segments of $samples, to 1e-9 of scipy', ({ seed, samples, n }) => {
  const x = signal(seed, n)
  const theirs = python<{ f: number[]; p: number[] }>(WELCH, { x, rate: RATE, samples })
  const welch = welchOf(x, samples)
  const ours = welch.density()
  expect(welch.segments).toBe(Math.floor(n / (samples / 2)) - 1)
  expect(ours).toHaveLength(theirs.p.length)
  theirs.p.forEach((p, k) => {
    expect(k * welch.step).toBeCloseTo(theirs.f[k]!, 12)
    // The bin of zero is what rounding leaves of a mean that was taken off.
    if (k > 0) expect(Math.abs(ours[k]! / p - 1)).toBeLessThan(1e-9)
  })
})

const LINES = `
import json, sys
import numpy as np
job = json.load(sys.stdin)
x = np.array(job['x'])
t = np.arange(len(x)) / job['rate']
# Least squares of all swings together with the slope that they lie on.
rows = [np.ones_like(t), t]
for f in job['frequencies']:
    rows += [np.cos(2 * np.pi * f * t), np.sin(2 * np.pi * f * t)]
c = np.linalg.lstsq(np.array(rows).T, x, rcond=None)[0]
json.dump([float(np.hypot(c[2 + 2 * i], c[3 + 2 * i])) for i in range(len(job['frequencies']))], sys.stdout)
`

test.skipIf(!needs('python3-numpy'))(
  'lines: frequencies as they were made, amplitudes as numpy fits them',
  () => {
    const x = signal(4, 20_000)
    const welch = welchOf(x, 1024)
    const lines = spectralLines(welch.density(), welch.step, 10, 3)
    expect(lines).toHaveLength(SWINGS.length)
    const frequencies = SWINGS.map((s) => s.frequency)
    const amplitudes = python<number[]>(LINES, { x, rate: RATE, frequencies })
    lines.forEach(({ frequency, amplitude }, i) => {
      expect(Math.abs(frequency - frequencies[i]!)).toBeLessThan(0.1 * welch.step)
      expect(amplitude / amplitudes[i]!).toBeCloseTo(1, 1)
    })
  },
)

test('noise alone has no lines, and its power in a band is the share that the band has of all', () => {
  const random = randomStream(9, 'noise')
  const welch = welchOf(
    Array.from({ length: 40_000 }, () => 3 * random.normal()),
    1024,
  )
  const density = welch.density()
  expect(spectralLines(density, welch.step, 10, 1)).toEqual([])
  expect(bandPower(density, welch.step, 20, 50) / (9 * (30 / 100))).toBeCloseTo(1, 1)
})

test('a gap begins a new segment: nothing is made of two stretches', () => {
  const x = signal(5, 1500)
  const welch = welchOf(x.slice(0, 200), 256)
  welch.breaks()
  for (const value of x.slice(200, 456)) welch.push(value)
  expect(welch.segments).toBe(1)
  const alone = welchOf(x.slice(200, 456), 256).density()
  expect(welch.density()).toEqual(alone)
})
