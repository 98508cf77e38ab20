import { describe, expect, test } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import type { BladeAxis } from '../../../src/files/rig.js'
import { Chain } from '../../../src/motion/chain.js'
import { InverseKinematics } from '../../../src/motion/ik.js'
import { rotationBetween } from '../../../src/motion/pose.js'
import { randomStream } from '../../../src/random.js'

const RIGS = [
  'rigs/reservoir-skiff.yaml',
  'tests/golden/rigs/four-joints.yaml',
  'tests/golden/rigs/seven-joints.yaml',
]
const ALL: readonly BladeAxis[] = ['x', 'y', 'z', 'feather', 'lean', 'pitch']

function armOf(file: string) {
  const rig = readRigFile(file, {})
  const arm = rig.arms[0]!
  const joints = arm.joints.map((i) => rig.joints[i]!)
  const limits = joints.map((j) => j.limits)
  const random = randomStream(5, file)
  const anyPose = () =>
    Float64Array.from(limits, ({ lower, upper }) => lower + random.uniform() * (upper - lower))
  return { arm, joints, limits, random, anyPose, chain: new Chain(arm, joints) }
}

describe.each(RIGS)('%s', (file) => {
  const { arm, limits, random, anyPose, chain } = armOf(file)
  const n = chain.n

  test('the Jacobian agrees with central differences of the forward kinematics', () => {
    const jacobian = new Float64Array(6 * n)
    const turn = new Float64Array(3)
    const h = 1e-5
    for (let round = 0; round < 50; round++) {
      const q = anyPose()
      chain.forward(q)
      chain.jacobian(jacobian)
      for (let i = 0; i < n; i++) {
        const [low, high] = [q.slice(), q.slice()]
        low[i] = low[i]! - h
        high[i] = high[i]! + h
        chain.forward(low)
        const before = chain.blade.slice()
        chain.forward(high)
        rotationBetween(before, chain.blade, turn)
        for (let k = 0; k < 3; k++) {
          expect(
            Math.abs((chain.blade[9 + k]! - before[9 + k]!) / (2 * h) - jacobian[k * n + i]!),
          ).toBeLessThan(1e-8)
          expect(Math.abs(turn[k]! / (2 * h) - jacobian[(3 + k) * n + i]!)).toBeLessThan(1e-8)
        }
      }
    }
  })

  test('how the twist bends at even joint speeds agrees with central differences of the Jacobian', () => {
    const [before, after] = [new Float64Array(6 * n), new Float64Array(6 * n)]
    const bent = new Float64Array(6)
    const h = 1e-4
    for (let round = 0; round < 50; round++) {
      const q = anyPose()
      const qd = q.map(() => 2 * random.uniform() - 1)
      chain.forward(q.map((x, i) => x - h * qd[i]!))
      chain.jacobian(before)
      chain.forward(q.map((x, i) => x + h * qd[i]!))
      chain.jacobian(after)
      chain.forward(q)
      chain.bend(qd, bent)
      for (let r = 0; r < 6; r++) {
        const change = qd.reduce((sum, v, i) => sum + (after[r * n + i]! - before[r * n + i]!) * v, 0)
        expect(Math.abs(bent[r]! - change / (2 * h))).toBeLessThan(1e-6)
      }
    }
  })

  test('from a near start it meets the pose, inside the limits', () => {
    const ik = new InverseKinematics(chain, arm.tool, limits)
    const turn = new Float64Array(3)
    let solved = 0
    let met = 0
    for (let round = 0; round < 500; round++) {
      const truth = anyPose()
      chain.forward(truth)
      const target = chain.blade.slice()
      const q = truth.map((x) => x + 0.04 * (random.uniform() - 0.5))
      const outcome = ik.solve(target, q)
      if (outcome === 'no-solution') continue
      met++
      if (outcome === 'solved') {
        solved++
        expect(q.every((x, i) => x >= limits[i]!.lower && x <= limits[i]!.upper)).toBe(true)
      } else {
        expect(q.some((x, i) => x < limits[i]!.lower || x > limits[i]!.upper)).toBe(true)
      }
      chain.forward(q)
      for (let k = 0; k < 3; k++) expect(Math.abs(chain.blade[9 + k]! - target[9 + k]!)).toBeLessThan(1e-11)
      rotationBetween(chain.blade, target, turn)
      if (arm.tool.constrained.length === 6) expect(Math.hypot(...turn)).toBeLessThan(1e-11)
    }
    // Poses at random include nearly singular ones, and ones at the very end of a range.
    expect(met).toBeGreaterThan(485)
    // With a joint to spare the solution is pulled to the middle of all ranges, which is not always inside each.
    expect(solved).toBeGreaterThan(n > arm.tool.constrained.length ? 380 : 450)
  })

  test('a pose out of reach has no solution, and says how far it stays short', () => {
    const ik = new InverseKinematics(chain, arm.tool, limits)
    const q = anyPose()
    chain.forward(q)
    const target = chain.blade.slice()
    target[9] = 5
    expect(ik.solve(target, q)).toBe('no-solution')
    expect(ik.residual).toBeGreaterThan(1)
  })
})

describe('limits', () => {
  test('a solution outside a range is no solution: it is named, and not clamped', () => {
    const { arm, limits, chain } = armOf(RIGS[0]!)
    const q = Float64Array.of(0, 0.13, 1.49, 0.1, 1.34, 0.9)
    chain.forward(q)
    const target = chain.blade.slice()
    const narrow = limits.map((l, i) => (i === 2 ? { lower: 1.6, upper: 2 } : l))
    const ik = new InverseKinematics(chain, arm.tool, narrow)
    const found = q.map((x) => x + 0.01)
    expect(ik.solve(target, found)).toBe('limit')
    expect(ik.joint).toBe(2)
    expect(ik.margin).toBeCloseTo(1.49 - 1.6, 9)
    expect(
      new InverseKinematics(chain, arm.tool, limits).solve(
        target,
        q.map((x) => x + 0.01),
      ),
    ).toBe('solved')
  })
})

describe('singularity measure', () => {
  const { arm, limits, chain, anyPose } = armOf(RIGS[0]!)
  const ik = new InverseKinematics(chain, arm.tool, limits)

  /** Singular values of the scaled Jacobian's square, by Jacobi rotations: a second route. */
  function leastSingularValue(q: Float64Array): number {
    chain.forward(q)
    const j = new Float64Array(36)
    chain.jacobian(j)
    for (let i = 0; i < 18; i++) j[i] = j[i]! / chain.scale
    const a = Array.from({ length: 6 }, (_, r) =>
      Array.from({ length: 6 }, (_, c) =>
        [0, 1, 2, 3, 4, 5].reduce((s, k) => s + j[6 * r + k]! * j[6 * c + k]!, 0),
      ),
    )
    for (let sweep = 0; sweep < 30; sweep++) {
      for (let p = 0; p < 5; p++) {
        for (let r = p + 1; r < 6; r++) {
          if (Math.abs(a[p]![r]!) < 1e-300) continue
          const angle = Math.atan2(2 * a[p]![r]!, a[r]![r]! - a[p]![p]!) / 2
          const [c, s] = [Math.cos(angle), Math.sin(angle)]
          for (let k = 0; k < 6; k++) {
            const [x, y] = [a[p]![k]!, a[r]![k]!]
            a[p]![k] = c * x - s * y
            a[r]![k] = s * x + c * y
          }
          for (let k = 0; k < 6; k++) {
            const [x, y] = [a[k]![p]!, a[k]![r]!]
            a[k]![p] = c * x - s * y
            a[k]![r] = s * x + c * y
          }
        }
      }
    }
    return Math.sqrt(Math.max(0, Math.min(...a.map((row, i) => row[i]!))))
  }

  test('lies between the smallest singular value over root six and that value', () => {
    for (let round = 0; round < 200; round++) {
      const q = anyPose()
      const least = leastSingularValue(q)
      chain.forward(q)
      ik.solve(chain.blade.slice(), q)
      expect(ik.singularity).toBeLessThanOrEqual(least * (1 + 1e-6) + 1e-9)
      expect(ik.singularity).toBeGreaterThanOrEqual((least / Math.sqrt(6)) * (1 - 1e-6) - 1e-9)
    }
  })

  // A second route: the singular values by Jacobi rotations; the sum of the inverse's squares is that of their inverses.
  test('is what the singular values say, near singular poses too', () => {
    const values = new Float64Array(6)
    for (let round = 0; round < 300; round++) {
      const q = anyPose()
      if (round % 3 === 0) q[4] = 10 ** -(1 + 4 * Math.abs(q[4]!))
      chain.forward(q)
      ik.solve(chain.blade.slice(), q)
      ik.singularValues(values)
      const measure = 1 / Math.sqrt(values.reduce((sum, s) => sum + 1 / (s * s), 0))
      // Where it is nearly nothing it is worked out from squares, which have half the digits.
      expect(Math.abs(ik.singularity - measure)).toBeLessThan(measure > 1e-3 ? 1e-9 * measure : 1e-7)
    }
  })

  test('goes to zero as the forearm and the shaft come into line', () => {
    const measures = [0.5, 0.1, 0.01, 1e-4].map((pitch) => {
      const q = Float64Array.of(0, 0.13, 1.49, 0.1, pitch, 0.9)
      chain.forward(q)
      ik.solve(chain.blade.slice(), q)
      return ik.singularity
    })
    expect(measures[0]).toBeGreaterThan(0.05)
    expect(measures.every((m, i) => i === 0 || m < measures[i - 1]!)).toBe(true)
    expect(measures[3]).toBeLessThan(1e-4)
  })
})

/** The way along a path from one control period to the next, and the way from anywhere: two methods, one solution. */
describe('from near by and from afar', () => {
  const { arm, limits, anyPose, random, chain } = armOf(RIGS[0]!)

  test('lead to the same joint positions', () => {
    const ik = new InverseKinematics(chain, arm.tool, limits)
    let compared = 0
    for (let round = 0; round < 300; round++) {
      const truth = anyPose()
      chain.forward(truth)
      const target = chain.blade.slice()
      const near = truth.map((x) => x + 0.01 * (random.uniform() - 0.5))
      const far = truth.map((x) => x + 0.6 * (random.uniform() - 0.5))
      if (ik.solve(target, near) === 'no-solution' || ik.singularity < 0.02) continue
      for (const [i, x] of near.entries()) expect(Math.abs(x - truth[i]!)).toBeLessThan(1e-10)
      if (ik.solve(target, far) === 'no-solution') continue
      // From afar it may come to the arm's other ways of holding the blade.
      if (far.some((x, i) => Math.abs(x - truth[i]!) > 1e-3)) continue
      compared++
      for (const [i, x] of far.entries()) expect(Math.abs(x - near[i]!)).toBeLessThan(1e-10)
    }
    expect(compared).toBeGreaterThan(150)
  })

  test('a start so near to a singular pose that a step of the one would leap is led by the other', () => {
    const ik = new InverseKinematics(chain, arm.tool, limits)
    // Forearm and shaft nearly in line, and a target that turns the blade across them.
    const start = Float64Array.of(0, 0.13, 1.49, 0.1, 1e-3, 0.9)
    chain.forward(start.map((x, i) => x + (i === 4 ? 0.05 : i === 3 ? 0.6 : 0)))
    const target = chain.blade.slice()
    const q = start.slice()
    expect(ik.solve(target, q)).toBe('solved')
    chain.forward(q)
    for (let k = 0; k < 12; k++) expect(Math.abs(chain.blade[k]! - target[k]!)).toBeLessThan(1e-11)
    expect(Math.max(...q.map((x, i) => Math.abs(x - start[i]!)))).toBeLessThan(2)
  })
})

test('with every subset of freedoms held, only those are met', () => {
  const { arm, limits, chain } = armOf(RIGS[0]!)
  const q = Float64Array.of(0.1, 0.13, 1.49, 0.1, 1.34, 0.9)
  chain.forward(q.map((x, i) => x + 0.1 * Math.sin(i + 1)))
  const target = chain.blade.slice()
  for (let bits = 1; bits < 64; bits++) {
    const constrained = ALL.filter((_, i) => bits & (1 << i))
    const ik = new InverseKinematics(chain, { ...arm.tool, constrained }, limits)
    const found = q.slice()
    expect(ik.solve(target, found), constrained.join()).toBe('solved')
    chain.forward(found)
    const turn = new Float64Array(3)
    rotationBetween(chain.blade, target, turn)
    const { shaft: s, normal: m } = arm.tool
    const third = [m[1] * s[2] - m[2] * s[1], m[2] * s[0] - m[0] * s[2], m[0] * s[1] - m[1] * s[0]]
    const about = (v: readonly number[]) =>
      [0, 1, 2].reduce(
        (sum, r) =>
          sum + turn[r]! * (target[3 * r]! * v[0]! + target[3 * r + 1]! * v[1]! + target[3 * r + 2]! * v[2]!),
        0,
      )
    const errors: Record<BladeAxis, number> = {
      x: chain.blade[9]! - target[9]!,
      y: chain.blade[10]! - target[10]!,
      z: chain.blade[11]! - target[11]!,
      feather: about(s),
      lean: about(m),
      pitch: about(third),
    }
    for (const axis of ALL) {
      if (constrained.includes(axis))
        expect(Math.abs(errors[axis]), `${constrained.join()}: ${axis}`).toBeLessThan(1e-11)
    }
    if (constrained.length < 6)
      expect(Math.max(...ALL.map((axis) => Math.abs(errors[axis])))).toBeGreaterThan(1e-3)
  }
})

test('an arm with a joint to spare comes back to the same joint positions after a stroke, from wherever it started', () => {
  const { arm, limits, chain } = armOf(RIGS[2]!)
  const ik = new InverseKinematics(chain, arm.tool, limits)
  const start = Float64Array.of(0.05, 0.13, -0.06, 1.49, 0.01, 1.34, 0.87)
  chain.forward(start)
  const home = chain.blade.slice()
  expect(ik.solve(home, start)).toBe('solved')
  const q = start.slice()
  const target = home.slice()
  for (let k = 0; k <= 400; k++) {
    const angle = (k * Math.PI) / 200
    target[9] = home[9]! + 0.2 * Math.sin(angle)
    target[11] = home[11]! + 0.1 * (1 - Math.cos(angle))
    expect(ik.solve(target, q)).toBe('solved')
  }
  for (let i = 0; i < 7; i++) expect(q[i]).toBeCloseTo(start[i]!, 7)
})
