/** The inverse of a six-joint arm's Jacobian by blocks, held against the Jacobian itself; and that it is what leads along a path. */
import { describe, expect, test, vi } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import type { Pose, Vector3 } from '../../../src/files/rig.js'
import { Chain } from '../../../src/motion/chain.js'
import { InverseKinematics } from '../../../src/motion/ik.js'
import { SixJoints } from '../../../src/motion/six-joints.js'
import { randomStream } from '../../../src/random.js'

const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const arm = rig.arms[1]!
const random = randomStream(8, 'six joints')
const any = (size: number): number => size * (2 * random.uniform() - 1)
const vector = (size: number): Vector3 => [any(size), any(size), any(size)]
const pose = (): Pose => ({ at: vector(0.4), turn: vector(3) })

/** Axes that are skew to each other, with offsets in all directions. */
function skewChain(): Chain {
  const joints = Array.from({ length: 6 }, () => {
    const [x, y, z] = [random.normal(), random.normal(), random.normal()]
    const size = Math.hypot(x, y, z)
    return { origin: pose(), axis: [x / size, y / size, z / size] as const }
  })
  const { normal, shaft, constrained } = arm.tool
  return new Chain({ base: pose(), tool: { pose: pose(), normal, shaft, constrained } }, joints)
}

const demoChain = (): Chain =>
  new Chain(
    arm,
    arm.joints.map((j) => rig.joints[j]!),
  )

describe.each([
  ['the demo arm', demoChain],
  ['skew arms', skewChain],
])('%s', (_, chainOf) => {
  test('the joint motion for a twist makes this twist; trace and inverse say the same', () => {
    const [jacobian, twist, motion] = [new Float64Array(36), new Float64Array(6), new Float64Array(6)]
    let taken = 0
    for (let round = 0; round < 200; round++) {
      const chain = chainOf()
      const six = new SixJoints(chain)
      chain.forward(Float64Array.from({ length: 6 }, () => any(2)))
      if (!six.take()) continue
      taken++
      chain.jacobian(jacobian)
      let squares = 0
      for (let c = 0; c < 6; c++) {
        twist.fill(0)
        twist[c] = c < 3 ? chain.scale : 1
        six.solve(twist, motion)
        for (let r = 0; r < 6; r++) {
          const made = motion.reduce((sum, dq, i) => sum + jacobian[6 * r + i]! * dq, 0)
          expect(Math.abs(made - twist[r]!)).toBeLessThan(1e-9)
        }
        squares += motion.reduce((sum, dq) => sum + dq * dq, 0)
      }
      expect(Math.abs(six.inverseTrace() / squares - 1)).toBeLessThan(1e-9)
    }
    expect(taken).toBeGreaterThan(120)
  })
})

test('along a path two steps are enough, and it is these that are made', () => {
  const limits = arm.joints.map((j) => rig.joints[j]!.limits)
  const chain = demoChain()
  const ik = new InverseKinematics(chain, arm.tool, limits)
  const q = Float64Array.of(0, 0.13, 1.49, 0.1, 1.34, 0.9)
  const [whole, small] = [vi.spyOn(chain, 'forward'), vi.spyOn(chain, 'forwardBy')]
  const target = new Float64Array(12)
  for (let k = 0; k < 500; k++) {
    // Joint speeds of 2 rad/s at 200 Hz.
    const truth = q.map((x, i) => x + 0.01 * Math.sin(k / 40 + i))
    chain.forward(truth)
    target.set(chain.blade)
    whole.mockClear()
    small.mockClear()
    expect(ik.solve(target, q)).toBe('solved')
    expect([whole.mock.calls.length, small.mock.calls.length]).toEqual([1, 2])
    for (let i = 0; i < 6; i++) expect(Math.abs(q[i]! - truth[i]!)).toBeLessThan(1e-11)
  }
})

test('joints turned on by small steps, and by large ones, stand where they stand when turned there at once', () => {
  const [chain, other] = [demoChain(), demoChain()]
  for (let round = 0; round < 200; round++) {
    const q = Float64Array.from({ length: 6 }, () => any(3))
    const size = [0.001, 0.0312, 0.0313, 1][round % 4]!
    const step = q.map(() => size * Math.sign(any(1)))
    chain.forward(q)
    chain.forwardBy(step)
    other.forward(q.map((x, i) => x + step[i]!))
    for (let k = 0; k < 12; k++) expect(Math.abs(chain.blade[k]! - other.blade[k]!)).toBeLessThan(5e-15)
  }
})
