/**
 * Smoothness of speed profiles against published and recomputed values: check table of the project, section 4 (Balasubramanian et al., IEEE
 * TBME 59(8), 2012 and J. NeuroEng. Rehab. 12:112, 2015), at 100 Hz; and against numpy, written out from the papers' definitions.
 */
import { describe, expect, it, test } from 'vitest'
import { logDimensionlessJerk, profileStride, SpectralArc } from '../../src/motion/smoothness.js'
import { randomStream } from '../../src/random.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const arc = new SpectralArc(512, 100)
const sparc = (profile: readonly number[]): number => arc.of(Float64Array.from(profile), profile.length)
const ldlj = (profile: readonly number[]): number =>
  logDimensionlessJerk(Float64Array.from(profile), profile.length)

/** Speed of a minimum-jerk movement over one unit in 1 s at 100 Hz, without the end point. */
const MINIMUM = Array.from({ length: 100 }, (_, i) => 30 * (i / 100) ** 2 * (1 - i / 100) ** 2)
/** From -1 s on, without the end point. */
const BELL = Array.from({ length: 200 }, (_, i) => Math.exp(-5 * (-1 + i / 100) ** 2))
const REST = Array.from({ length: 50 }, () => 0)

describe('published speed profiles', () => {
  it.each([
    ['exp(-5 t^2)', BELL, -1.41403, -5.81636],
    ['minimum jerk', MINIMUM, -1.40583, -5.22414],
    ['two minimum jerks', [...MINIMUM, ...MINIMUM], -2.24455, -8.04636],
    ['two minimum jerks, 0.5 s between', [...MINIMUM, ...REST, ...MINIMUM], -3.11903, -8.70311],
  ])('%s', (_, profile, arcLength, jerk) => {
    expect(sparc(profile)).toBeCloseTo(arcLength, 5)
    expect(ldlj(profile)).toBeCloseTo(jerk, 5)
  })

  it('comes to the closed form of minimum jerk, -ln(720 / 1.875^2), as the rate rises', () => {
    const fine = Array.from({ length: 20_000 }, (_, i) => 30 * (i / 20_000) ** 2 * (1 - i / 20_000) ** 2)
    expect(ldlj(fine)).toBeCloseTo(-5.32203, 3)
  })
})

test('size does not matter, nor does direction; a profile without motion has no smoothness', () => {
  expect(sparc(BELL.map((v) => -0.01 * v))).toBeCloseTo(sparc(BELL), 12)
  expect(ldlj(BELL.map((v) => -0.01 * v))).toBeCloseTo(ldlj(BELL), 12)
  expect([sparc(REST), ldlj(REST), ldlj([1, 2])]).toEqual([Number.NaN, Number.NaN, Number.NaN])
})

test('profiles are sampled as near to 100 Hz as whole periods allow', () => {
  expect([50, 100, 125, 200, 250, 500, 1000].map(profileStride)).toEqual([1, 1, 1, 2, 3, 5, 10])
})

const REFERENCE = `
import json, sys
import numpy as np
def sparc(v, fs):
    n = int(2 ** (np.ceil(np.log2(len(v))) + 4))
    f = np.arange(n) * fs / n
    m = np.abs(np.fft.fft(v, n))
    m = m / m.max()
    f, m = f[f <= 10], m[f <= 10]
    i = np.nonzero(m >= 0.05)[0]
    f, m = f[i[0]:i[-1] + 1], m[i[0]:i[-1] + 1]
    return -np.sum(np.sqrt((np.diff(f) / (f[-1] - f[0])) ** 2 + np.diff(m) ** 2))
def ldlj(v, fs):
    dt = 1 / fs
    return -np.log((len(v) * dt) ** 3 / np.max(np.abs(v)) ** 2 * np.sum((np.diff(v, 2) / dt ** 2) ** 2) * dt)
json.dump([[float(sparc(np.array(v), 100.0)), float(ldlj(np.array(v), 100.0))] for v in json.load(sys.stdin)], sys.stdout)
`

test.skipIf(!needs('python3-numpy'))('any profiles, against numpy', () => {
  const random = randomStream(11, 'profiles')
  const profiles = [5, 33, 64, 100, 129, 400, 512].map((n) =>
    Array.from({ length: n }, (_, i) => Math.sin((Math.PI * i) / n) ** 2 + 0.05 * random.normal()),
  )
  const theirs = python<[number, number][]>(REFERENCE, profiles)
  profiles.forEach((profile, i) => {
    expect(sparc(profile)).toBeCloseTo(theirs[i]![0], 9)
    expect(ldlj(profile)).toBeCloseTo(theirs[i]![1], 9)
  })
})
