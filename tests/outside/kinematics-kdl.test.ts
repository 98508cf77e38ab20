/**
 * Forward and inverse kinematics against a general-purpose kinematics library: the Orocos Kinematics and Dynamics Library,
 * Debian's python3-pykdl, in one process of Debian's own Python, JSON in and out.
 */
import { spawnSync } from 'node:child_process'
import { beforeAll, describe, expect, test } from 'vitest'
import { readRigFile } from '../../src/files/load.js'
import type { BladeAxis, Pose, Vector3 } from '../../src/files/rig.js'
import { Chain } from '../../src/motion/chain.js'
import { InverseKinematics } from '../../src/motion/ik.js'
import { rotationBetween } from '../../src/motion/pose.js'
import { randomStream } from '../../src/random.js'
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
  const within = (size: number): Vector3 =>
    [0, 0, 0].map(() => size * (2 * random.uniform() - 1)) as unknown as Vector3
  const direction = (): Vector3 => {
    const v = [random.normal(), random.normal(), random.normal()] as const
    const size = Math.hypot(...v)
    return [v[0] / size, v[1] / size, v[2] / size]
  }
  return {
    base: { at: within(1), turn: within(3) },
    joints: Array.from({ length: 6 }, () => ({
      origin: { at: within(0.4), turn: within(3) },
      axis: direction(),
      limits: { lower: -2.5, upper: 2.5 },
    })),
    tool: {
      pose: { at: within(0.5), turn: within(3) },
      normal: [1, 0, 0],
      shaft: [0, 0, 1],
      constrained: SIX,
    },
  }
}

const PYTHON = `
import json, sys
import PyKDL as kdl
def frame(p):
    return kdl.Frame(kdl.Rotation.RPY(*p['turn']), kdl.Vector(*p['at']))
def array(q):
    a = kdl.JntArray(len(q))
    for i, x in enumerate(q): a[i] = x
    return a
job = json.load(sys.stdin)
chain = kdl.Chain()
chain.addSegment(kdl.Segment(kdl.Joint('base', kdl.Joint.Fixed), frame(job['base'])))
for i, joint in enumerate(job['joints']):
    origin = frame(joint['origin'])
    axis = origin.M * kdl.Vector(*joint['axis'])
    chain.addSegment(kdl.Segment(kdl.Joint('j%d' % i, origin.p, axis, kdl.Joint.RotAxis), origin))
chain.addSegment(kdl.Segment(kdl.Joint('tool', kdl.Joint.Fixed), frame(job['tool']['pose'])))
forward = kdl.ChainFkSolverPos_recursive(chain)
inverse = kdl.ChainIkSolverPos_LMA(chain, 1e-9, 500, 1e-15)
def blade(q):
    f = kdl.Frame()
    assert forward.JntToCart(array(q), f) == 0
    return [f.M[r, c] for r in range(3) for c in range(3)] + [f.p[i] for i in range(3)]
def solve(start, target):
    f = kdl.Frame(kdl.Rotation(*target[:9]), kdl.Vector(*target[9:]))
    out = kdl.JntArray(len(start))
    return [out[i] for i in range(len(start))] if inverse.CartToJnt(array(start), f, out) == 0 else None
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
  let kdl: { truth: number[][]; found: number[][]; solved: (number[] | null)[] }

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
    const job = { ...geometry, truth, targets, starts, found }
    const plain = (_: string, value: unknown) => (value instanceof Float64Array ? [...value] : value)
    const run = spawnSync('/usr/bin/python3', ['-c', PYTHON], {
      input: JSON.stringify(job, plain),
      encoding: 'utf8',
      maxBuffer: 1e8,
    })
    if (run.status !== 0) throw new Error(run.stderr)
    kdl = JSON.parse(run.stdout)
  })

  test(`forward: ${POSES} seeded poses agree to 1e-9 m and 1e-9 rad`, () => {
    expect(kdl.truth).toHaveLength(POSES)
    for (const [i, theirs] of kdl.truth.entries()) {
      const { position, rotation } = apart(targets[i]!, theirs)
      expect(position).toBeLessThan(1e-9)
      expect(rotation).toBeLessThan(1e-9)
    }
  })

  test('inverse: a solution inside the ranges for every pose, and the library places it within 1e-6 of the target', () => {
    expect(kdl.found).toHaveLength(POSES)
    expect(outcomes.filter((outcome) => outcome !== 'solved')).toEqual([])
    for (const [i, theirs] of kdl.found.entries()) {
      const { position, rotation } = apart(targets[i]!, theirs)
      expect(position).toBeLessThan(1e-6)
      expect(rotation).toBeLessThan(1e-6)
      expect(found[i]!.every((x, k) => x >= limits[k]!.lower && x <= limits[k]!.upper)).toBe(true)
    }
  })

  test("the library's own inverse from the same starts leads to the same poses", () => {
    const reached = kdl.solved.flatMap((q, i) =>
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
