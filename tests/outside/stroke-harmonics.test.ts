/**
 * Why twenty harmonics of a stroke are looked at (the default of mount.harmonics): by numpy's Fourier transform of the fore-and-aft
 * force on the blade of the demo rig over one even stroke, paddle and water together, no higher one has 5 % of the strongest.
 */
import { describe, expect, test } from 'vitest'
import { strokesOf } from '../../src/driver/strokes.js'
import { readRigFile } from '../../src/files/load.js'
import { recoveryRate, strokeRate } from '../../src/motion/cadence.js'
import { POSE } from '../../src/motion/pose.js'
import { BladeForce } from '../../src/motion/water/blade-force.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const SAMPLES = 1024
/** Steps of the phase between two samples. */
const FINE = 20
const rig = readRigFile('rigs/reservoir-skiff.yaml', watchSchemas)
const { shape, side, paths } = strokesOf(rig)
const arm = rig.arms[0]!

/** N along x that the blade takes over one stroke at side speed v, evenly spaced in time. @param craft m/s, surge through the water */
function foreAndAft(v: number, craft: number): { force: number[]; rate: number } {
  const even = v / side.cadence.kappa
  const back = recoveryRate(v, side.cadence)
  const rate = strokeRate(v, side.cadence, (p) => shape.recovery(p))
  const step = 1 / rate / SAMPLES
  const speedAt = (p: number) => even + shape.recovery(p % 1) * (back - even)
  let phase = 0
  const poses = Array.from({ length: SAMPLES }, () => {
    const pose = new Float64Array(POSE)
    paths[0]!.pose({ phase: phase % 1, reach: 1, lift: 0, carry: 0 }, pose)
    const h = step / FINE
    for (let i = 0; i < FINE; i++) phase += h * speedAt(phase + (h / 2) * speedAt(phase))
    return pose
  })
  expect(phase).toBeCloseTo(1, 4)
  const { normal, shaft } = arm.tool
  const { length, area, flow, mass } = arm.paddle
  const outline = { normal, shaft, length, width: area / length }
  const water = new BladeForce(outline, flow, { density: 999.1 }, rig.craft.waterline)
  const wrench = new Float64Array(6)
  const force = poses.map((pose, k) => {
    const [a, b] = [poses.at(k - 1)!, poses[(k + 1) % SAMPLES]!]
    const slope = (i: number) => (b[i]! - a[i]!) / (2 * step)
    const bend = (i: number) => (b[i]! - 2 * pose[i]! + a[i]!) / step ** 2
    // R' R^T, of which three entries are the angular velocity.
    const turn = (r: number, c: number) =>
      [0, 1, 2].reduce((sum, i) => sum + slope(3 * r + i) * pose[3 * c + i]!, 0)
    const twist = Float64Array.of(slope(9), slope(10), slope(11), turn(2, 1), turn(0, 2), turn(1, 0))
    water.at(pose, twist, Float64Array.of(craft, 0, 0), new Float64Array(2), wrench)
    water.addInertia(Float64Array.of(bend(9), bend(10), bend(11), 0, 0, 0), wrench)
    return mass * bend(9) - wrench[0]!
  })
  return { force, rate }
}

describe.skipIf(!needs('python3-numpy'))('by numpy.fft', () => {
  test.each([
    { v: 0.1, craft: 0 },
    { v: 0.1, craft: 0.06 },
    { v: 0.3, craft: 0 },
    { v: 0.3, craft: 0.18 },
    { v: 0.52, craft: 0 },
    { v: 0.52, craft: 0.31 },
  ])(
    'at $v m/s, craft at $craft m/s: the last harmonic with 5 % is within those that are looked at',
    ({ v, craft }) => {
      const shares = python<number[]>(
        `
import json, sys
import numpy as np
a = np.abs(np.fft.rfft(json.load(sys.stdin)))[1:]
json.dump((a / a.max()).tolist(), sys.stdout)
`,
        foreAndAft(v, craft).force,
      )
      const last = 1 + shares.findLastIndex((share) => share >= 0.05)
      expect(last).toBeLessThanOrEqual(rig.mount!.harmonics)
      // And half as many would be too few.
      if (v === 0.1) expect(last).toBeGreaterThan(rig.mount!.harmonics / 2)
    },
  )
})
