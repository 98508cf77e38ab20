/**
 * Forward and inverse kinematics against a general-purpose kinematics library: the Orocos Kinematics and Dynamics Library,
 * Debian's python3-pykdl, in one process of Debian's own Python, JSON in and out.
 */
import { beforeAll, describe, expect, test } from 'vitest'
import { readRigFile } from '../../src/files/load.js'
import type { BladeAxis, Pose, Vector3 } from '../../src/files/rig.js'
import { Chain } from '../../src/motion/chain.js'
import { InverseKinematics } from '../../src/motion/ik.js'
import { rotationBetween } from '../../src/motion/pose.js'
import { randomStream } from '../../src/random.js'
import { anyDirection, anyVector } from '../setup/invented-arm.js'
import { kdl } from '../setup/kdl.js'
import { needs } from '../setup/needs.js'

const POSES = 1000
const SIX: readonly BladeAxis[] = ['x', 'y', 'z', 'feather', 'lean', 'pitch']

interface Geometry {
  base: Pose
  joints: { origin: Pose; axis: Vector3; limits: { lower: number; upper: number } }[]
  tool: { pose: Pose; normal: Vector3; shaft: Vector3; constrained: readonly BladeAxis[] }
}

const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const starboard = rig.arms[1]!
const demo: Geometry = {
  base: starboard.base,
  joints: starboard.joints.map((i) => rig.joints[i]!),
  tool: starboard.tool,
}

/** Six joints with skew axes, offsets in all directions and turned frames: nothing that a formula could take for granted. */
function skewArm(): Geometry {
  const random = randomStream(41, 'skew arm')
  const pose = (size: number): Pose => ({ at: anyVector(random, size), turn: anyVector(random, 3) })
  return {
    base: pose(1),
    joints: Array.from({ length: 6 }, () => ({
      origin: pose(0.4),
      axis: anyDirection(random),
      limits: { lower: -2.5, upper: 2.5 },
    })),
    tool: { pose: pose(0.5), normal: [1, 0, 0], shaft: [0, 0, 1], constrained: SIX },
  }
}

const KDL = `
arm = Arm(job)
inverse = kdl.ChainIkSolverPos_LMA(arm.chain, 1e-9, 500, 1e-15)
def blade(q):
    f = arm.place(q)
    return [f.M[r, c] for r in range(3) for c in range(3)] + [f.p[i] for i in range(3)]
def solve(start, target):
    f = kdl.Frame(kdl.Rotation(*target[:9]), kdl.Vector(*target[9:]))
    out = kdl.JntArray(arm.n)
    return [out[i] for i in range(arm.n)] if inverse.CartToJnt(array(start), f, out) == 0 else None
json.dump({
    'truth': [blade(q) for q in job['truth']],
    'found': [blade(q) for q in job['found']],
    'solved': [solve(s, t) for s, t in zip(job['starts'], job['targets'])],
}, sys.stdout)
`

const ROTATION = new Float64Array(3)

function apart(a: ArrayLike<number>, b: ArrayLike<number>): { position: number; rotation: number } {
  const [p, q] = [Float64Array.from(a), Float64Array.from(b)]
  rotationBetween(p, q, ROTATION)
  return {
    position: Math.hypot(p[9]! - q[9]!, p[10]! - q[10]!, p[11]! - q[11]!),
    rotation: Math.hypot(...ROTATION),
  }
}

describe.skipIf(!needs('python3-pykdl')).each([
  { name: 'the demo rig, starboard', geometry: demo },
  { name: 'a skew arm', geometry: skewArm() },
])('$name', ({ geometry }) => {
  const limits = geometry.joints.map((joint) => joint.limits)
  const chain = new Chain(geometry, geometry.joints)
  const ik = new InverseKinematics(chain, geometry.tool, limits)
  const random = randomStream(17, 'poses')
  const truth: Float64Array[] = []
  const targets: Float64Array[] = []
  const starts: Float64Array[] = []
  const found: Float64Array[] = []
  const outcomes: string[] = []
  let theirs: { truth: number[][]; found: number[][]; solved: (number[] | null)[] }

  beforeAll(() => {
    for (let i = 0; i < POSES; i++) {
      const q = Float64Array.from(limits, ({ lower, upper }) => lower + random.uniform() * (upper - lower))
      chain.forward(q)
      const target = chain.blade.slice()
      truth.push(q)
      targets.push(target)
      // From up to 0.2 rad off, one start a pose: none may need a second.
      const start = q.map((x) => x + 0.4 * (random.uniform() - 0.5))
      const solution = start.slice()
      starts.push(start)
      outcomes.push(ik.solve(target, solution))
      found.push(solution)
    }
    theirs = kdl(KDL, { ...geometry, truth, targets, starts, found })
  })

  test(`forward: ${POSES} seeded poses agree to 1e-9 m and 1e-9 rad`, () => {
    expect(theirs.truth).toHaveLength(POSES)
    for (const [i, pose] of theirs.truth.entries()) {
      const { position, rotation } = apart(targets[i]!, pose)
      expect(position).toBeLessThan(1e-9)
      expect(rotation).toBeLessThan(1e-9)
    }
  })

  test('inverse: a solution inside the ranges for every pose, and the library places it within 1e-6 of the target', () => {
    expect(theirs.found).toHaveLength(POSES)
    expect(outcomes.filter((outcome) => outcome !== 'solved')).toEqual([])
    for (const [i, pose] of theirs.found.entries()) {
      const { position, rotation } = apart(targets[i]!, pose)
      expect(position).toBeLessThan(1e-6)
      expect(rotation).toBeLessThan(1e-6)
      expect(found[i]!.every((x, k) => x >= limits[k]!.lower && x <= limits[k]!.upper)).toBe(true)
    }
  })

  test("the library's own inverse from the same starts leads to the same poses", () => {
    const reached = theirs.solved.flatMap((q, i) =>
      q ? [{ q: Float64Array.from(q), target: targets[i]! }] : [],
    )
    expect(reached.length).toBeGreaterThan(0.9 * POSES)
    for (const { q, target } of reached) {
      chain.forward(q)
      const { position, rotation } = apart(chain.blade, target)
      expect(position).toBeLessThan(1e-6)
      expect(rotation).toBeLessThan(1e-6)
    }
  })
})
