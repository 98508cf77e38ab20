/**
 * Dynamics against a general-purpose library: the Orocos Kinematics and Dynamics Library, Debian's python3-pykdl
 * (ChainIdSolver_RNE and ChainDynParam).
 */
import { beforeAll, describe, expect, test } from 'vitest'
import { whyUnphysical } from '../../src/files/body.js'
import { readRigFile } from '../../src/files/load.js'
import { Dynamics } from '../../src/motion/dynamics.js'
import { Links } from '../../src/motion/links.js'
import { randomStream } from '../../src/random.js'
import { anyBody, anyVector, type InventedArm, skewArm } from '../setup/invented-arm.js'
import { kdl } from '../setup/kdl.js'
import { needs } from '../setup/needs.js'

const STATES = 1000

const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const starboard = rig.arms[1]!
const demo: InventedArm = {
  base: starboard.base,
  joints: starboard.joints.map((i) => rig.joints[i]!),
  tool: starboard.tool,
}

const KDL = `
arm = Arm(job, job['gravity'])
json.dump([{
    'inverse': arm.torques(s['q'], s['qd'], s['qdd'], s['load']), 'hold': arm.gravity(s['q']), 'mass': arm.mass(s['q'])
} for s in job['states']], sys.stdout)
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
  let theirs: Answer[]

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
    const joints = geometry.joints.map((joint, i) => ({ ...joint, body: bodies[i], train: trains[i] }))
    theirs = kdl<Answer[]>(KDL, { ...geometry, joints, held, gravity, states })
  })

  test('the invented bodies could exist', () => {
    expect([...bodies, held].map(whyUnphysical)).toEqual(Array(n + 1).fill(null))
  })

  test.each(['inverse', 'hold', 'mass'] as const)(`%s: ${STATES} seeded states agree to 1e-9`, (what) => {
    expect(theirs).toHaveLength(STATES)
    const worst = Math.max(...theirs.map((answer, i) => apart(ours[i]![what], answer[what])))
    expect(worst).toBeLessThan(1e-9)
  })

  test('forward: the torques of the library lead back to the accelerations they were for', () => {
    const out = new Float64Array(n)
    for (const [i, state] of states.entries()) {
      const [q, qd, tau, load] = [state.q, state.qd, theirs[i]!.inverse, state.load].map((x) =>
        Float64Array.from(x),
      )
      dynamics.forward(q!, qd!, tau!, load!, out)
      expect(apart([...out], state.qdd)).toBeLessThan(1e-9)
    }
  })
})
