/**
 * Dynamics against a general-purpose library: the Orocos Kinematics and Dynamics Library, Debian's python3-pykdl
 * (ChainIdSolver_RNE and ChainDynParam), in one process of Debian's own Python, JSON in and out.
 */
import { spawnSync } from 'node:child_process'
import { beforeAll, describe, expect, test } from 'vitest'
import { whyUnphysical } from '../../src/files/body.js'
import { readRigFile } from '../../src/files/load.js'
import { Dynamics } from '../../src/motion/dynamics.js'
import { Links } from '../../src/motion/links.js'
import { randomStream } from '../../src/random.js'
import { anyBody, anyVector, type InventedArm, skewArm } from '../setup/invented-arm.js'
import { needs } from '../setup/needs.js'

const STATES = 1000

const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const starboard = rig.arms[1]!
const demo: InventedArm = {
  base: starboard.base,
  joints: starboard.joints.map((i) => rig.joints[i]!),
  tool: starboard.tool,
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
def inertia(b):
    return kdl.RigidBodyInertia(b['mass'], kdl.Vector(*b['centre']), kdl.RotationalInertia(*b['inertia']))
job = json.load(sys.stdin)
chain = kdl.Chain()
chain.addSegment(kdl.Segment(kdl.Joint('base', kdl.Joint.Fixed), frame(job['base'])))
for i, joint in enumerate(job['joints']):
    origin = frame(joint['origin'])
    axis = origin.M * kdl.Vector(*joint['axis'])
    turning = kdl.Joint('j%d' % i, origin.p, axis, kdl.Joint.RotAxis, 1, 0, job['trains'][i]['rotor'])
    chain.addSegment(kdl.Segment(turning, origin, inertia(job['bodies'][i])))
chain.addSegment(kdl.Segment(kdl.Joint('tool', kdl.Joint.Fixed), frame(job['tool']['pose']), inertia(job['held'])))
gravity = kdl.Vector(*job['gravity'])
inverse = kdl.ChainIdSolver_RNE(chain, gravity)
parameters = kdl.ChainDynParam(chain, gravity)
forward = kdl.ChainFkSolverPos_recursive(chain)
n = len(job['joints'])
def torques(state):
    f = kdl.Frame()
    assert forward.JntToCart(array(state['q']), f) == 0
    push = [kdl.Wrench.Zero()] * chain.getNrOfSegments()
    load = kdl.Wrench(kdl.Vector(*state['load'][:3]), kdl.Vector(*state['load'][3:]))
    push[-1] = f.M.Inverse() * load
    out = kdl.JntArray(n)
    assert inverse.CartToJnt(array(state['q']), array(state['qd']), array(state['qdd']), push, out) == 0
    return [out[i] for i in range(n)]
def gravitation(state):
    out = kdl.JntArray(n)
    assert parameters.JntToGravity(array(state['q']), out) == 0
    return [out[i] for i in range(n)]
def mass(state):
    out = kdl.JntSpaceInertiaMatrix(n)
    assert parameters.JntToMass(array(state['q']), out) == 0
    return [out[i, j] for i in range(n) for j in range(n)]
json.dump([{'inverse': torques(s), 'hold': gravitation(s), 'mass': mass(s)} for s in job['states']], sys.stdout)
`

/** The greatest difference over the greatest number. */
function apart(ours: readonly number[], theirs: readonly number[]): number {
  const size = Math.max(...theirs.map(Math.abs))
  return Math.max(...theirs.map((x, i) => Math.abs(x - ours[i]!))) / size
}

interface Answer {
  inverse: number[]
  hold: number[]
  mass: number[]
}

describe.skipIf(!needs('python3-pykdl')).each([
  { name: 'the demo rig, starboard', geometry: demo },
  { name: 'a skew arm', geometry: skewArm(randomStream(43, 'skew arm')) },
])('$name', ({ name, geometry }) => {
  const n = geometry.joints.length
  const random = randomStream(23, name)
  const bodies = geometry.joints.map(() => anyBody(random))
  const held = anyBody(random)
  const trains = geometry.joints.map(() => ({ rotor: 0.2 * random.uniform() }))
  const gravity = anyVector(random, 9)
  const dynamics = new Dynamics(new Links(geometry, geometry.joints, bodies, trains, held))
  dynamics.gravity = gravity
  const any = (size: number, count = n): number[] =>
    Array.from({ length: count }, () => size * (2 * random.uniform() - 1))
  const states = Array.from({ length: STATES }, () => ({
    q: any(3),
    qd: any(3),
    qdd: any(10),
    load: any(30, 6),
  }))
  const ours: Answer[] = []
  let kdl: Answer[]

  beforeAll(() => {
    for (const state of states) {
      const [q, qd, qdd] = [state.q, state.qd, state.qdd].map((x) => Float64Array.from(x))
      const load = Float64Array.from(state.load)
      const [inverse, hold] = [new Float64Array(n), new Float64Array(n)]
      const mass = new Float64Array(n * n)
      dynamics.inverse(q!, qd!, qdd!, load, inverse)
      dynamics.hold(q!, hold)
      dynamics.mass(q!, mass)
      ours.push({ inverse: [...inverse], hold: [...hold], mass: [...mass] })
    }
    const run = spawnSync('/usr/bin/python3', ['-c', PYTHON], {
      input: JSON.stringify({ ...geometry, bodies, held, trains, gravity, states }),
      encoding: 'utf8',
      maxBuffer: 1e8,
    })
    if (run.status !== 0) throw new Error(run.stderr)
    kdl = JSON.parse(run.stdout)
  })

  test('the invented bodies could exist', () => {
    expect([...bodies, held].map(whyUnphysical)).toEqual(Array(n + 1).fill(null))
  })

  test.each(['inverse', 'hold', 'mass'] as const)(`%s: ${STATES} seeded states agree to 1e-9`, (what) => {
    expect(kdl).toHaveLength(STATES)
    const worst = Math.max(...kdl.map((theirs, i) => apart(ours[i]![what], theirs[what])))
    expect(worst).toBeLessThan(1e-9)
  })

  test('forward: the torques of the library lead back to the accelerations they were for', () => {
    const out = new Float64Array(n)
    for (const [i, state] of states.entries()) {
      const [q, qd, tau, load] = [state.q, state.qd, kdl[i]!.inverse, state.load].map((x) =>
        Float64Array.from(x),
      )
      dynamics.forward(q!, qd!, tau!, load!, out)
      expect(apart([...out], state.qdd)).toBeLessThan(1e-9)
    }
  })
})
