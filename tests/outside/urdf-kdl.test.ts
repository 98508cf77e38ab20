/**
 * Reading and folding of URDF files by a second route: Python's own XML reader and a general-purpose kinematics and dynamics
 * library, the Orocos Kinematics and Dynamics Library (Debian's python3-pykdl), in which every joint of the file, fixed ones
 * too, is a segment of its own. JSON in and out.
 */
import { spawnSync } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { beforeAll, describe, expect, test } from 'vitest'
import { loadRig } from '../../src/files/load.js'
import type { Joint, Pose, Rig } from '../../src/files/rig.js'
import { Chain } from '../../src/motion/chain.js'
import { randomStream } from '../../src/random.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { needs } from '../setup/needs.js'
import { change } from '../setup/runs.js'

const STATES = 1000
const GRAVITY = [0.3, -0.7, -9.81] as const

const PYTHON = `
import json, sys
import xml.etree.ElementTree as xml
import PyKDL as kdl

job = json.load(sys.stdin)
root = xml.parse(job['file']).getroot()
numbers = lambda text: [float(x) for x in text.split()]

def frame(element):
    origin = element.find('origin')
    if origin is None:
        return kdl.Frame.Identity()
    xyz, rpy = numbers(origin.get('xyz', '0 0 0')), numbers(origin.get('rpy', '0 0 0'))
    return kdl.Frame(kdl.Rotation.RPY(*rpy), kdl.Vector(*xyz))

def inertia(link):
    inertial = link.find('inertial')
    if inertial is None:
        return kdl.RigidBodyInertia(0)
    i = inertial.find('inertia')
    own = kdl.RotationalInertia(*[float(i.get(k)) for k in ('ixx', 'iyy', 'izz', 'ixy', 'ixz', 'iyz')])
    return frame(inertial) * kdl.RigidBodyInertia(float(inertial.find('mass').get('value')), kdl.Vector(0, 0, 0), own)

links = {link.get('name'): link for link in root.findall('link')}
joints = root.findall('joint')
parent, child = (lambda j: j.find('parent').get('link')), (lambda j: j.find('child').get('link'))

way = []
at = job['tip']
while at != job['base']:
    joint = [j for j in joints if child(j) == at][0]
    way.insert(0, joint)
    at = parent(joint)

def with_sides(name):
    """The link, and what hangs on it aside from the way."""
    whole = inertia(links[name])
    for j in joints:
        if parent(j) == name and j not in way:
            whole = whole + frame(j) * with_sides(child(j))
    return whole

chain = kdl.Chain()
groups = []
for j in way:
    f = frame(j)
    if j.get('type') == 'fixed':
        turn = kdl.Joint(j.get('name'), kdl.Joint.Fixed)
    else:
        axis = j.find('axis')
        xyz = [1, 0, 0] if axis is None else numbers(axis.get('xyz'))
        turn = kdl.Joint(j.get('name'), f.p, f.M * kdl.Vector(*xyz), kdl.Joint.RotAxis)
    chain.addSegment(kdl.Segment(child(j), turn, f, with_sides(child(j))))
    # What moves as one, in the frame of the joint that turns it.
    if j.get('type') != 'fixed':
        groups.append((kdl.Frame.Identity(), with_sides(child(j))))
    elif groups:
        before, whole = groups[-1]
        groups[-1] = (before * f, whole + before * f * with_sides(child(j)))

n = chain.getNrOfJoints()
forward = kdl.ChainFkSolverPos_recursive(chain)
dynamics = kdl.ChainDynParam(chain, kdl.Vector(*job['gravity']))

def state(q):
    angles, tip, weight, mass = kdl.JntArray(n), kdl.Frame(), kdl.JntArray(n), kdl.JntSpaceInertiaMatrix(n)
    for i, x in enumerate(q):
        angles[i] = x
    forward.JntToCart(angles, tip)
    dynamics.JntToGravity(angles, weight)
    dynamics.JntToMass(angles, mass)
    return {
        'tip': [tip.M[i, j] for i in range(3) for j in range(3)] + [tip.p[i] for i in range(3)],
        'gravity': [weight[i] for i in range(n)],
        'mass': [mass[i, j] for i in range(n) for j in range(n)],
    }

json.dump({
    'bodies': [{'mass': b.getMass(), 'centre': [b.getCOG()[i] for i in range(3)]} for _, b in groups],
    'states': [state(q) for q in job['states']],
}, sys.stdout)
`

interface Theirs {
  readonly bodies: { readonly mass: number; readonly centre: number[] }[]
  readonly states: { readonly tip: number[]; readonly gravity: number[]; readonly mass: number[] }[]
}

const CASES = [
  {
    file: 'rigs/skiff-arm.urdf',
    base: 'mount',
    tip: 'flange',
    joints: 'swing shoulder elbow roll pitch feather'.split(' ').map((n) => `${n}_joint`),
  },
  {
    file: 'tests/outside/data/skew-arm.urdf',
    base: 'ground',
    tip: 'tip',
    joints: ['j1', 'j2', 'j3', 'j4', 'j5', 'j6'],
  },
]

const STILL: Pose = { at: [0, 0, 0], turn: [0, 0, 0] }

/** A rig with one arm of this file, its base link at the origin of the craft and its blade at the tip. */
function rigOf({ file, base, tip, joints }: (typeof CASES)[number]): Rig {
  const small = readFileSync(new URL('../unit/files/small-urdf-rig.yaml', import.meta.url), 'utf8')
  const path = fileURLToPath(new URL(`../../${file}`, import.meta.url))
  const entry = (urdf: string, i: number) =>
    `      - { name: j${i}, urdf: ${urdf}, limits: { position: ["-3 rad", "3 rad"], acceleration: "1 rad/s2" }, ` +
    `wire: { bus: can-a, node: ${i + 1}, counts-per-turn: 4096, sign: 1, zero: "0 counts", rated-torque: "20 N m" } }\n`
  const starts = joints.map(
    (_, i) => `    port.j${i}: { counts-per-turn: 4096, sign: 1, zero: "0 counts", start: "0 deg" }\n`,
  )
  const urdf = `urdf: { file: ${JSON.stringify(path)}, base-link: ${base}, tip: ${tip} }`
  let text = change(small, /urdf: \{.*\}/, urdf)
  text = change(text, / {6}- name: swing[\s\S]*?(?= {4}tool)/, joints.map(entry).join(''))
  text = change(text, / {4}port\.swing:[\s\S]*$/, starts.join(''))
  text = change(
    text,
    /base: \{ at.*/,
    'base: { at: ["0 m", "0 m", "0 m"], turn: ["0 deg", "0 deg", "0 deg"] }',
  )
  text = change(text, 'tool: { at: ["0 m", "0 m", "0.52 m"]', 'tool: { at: ["0 m", "0 m", "0 m"]')
  return loadRig(text, 'rig.yaml', watchSchemas)
}

/** Gravity torques and mass matrix from the folded bodies by virtual work: sums over bodies of J^T m g and of J^T M J. */
function loads(joints: readonly Joint[], q: Float64Array): { gravity: number[]; mass: number[] } {
  const n = joints.length
  const gravity = new Array<number>(n).fill(0)
  const mass = new Array<number>(n * n).fill(0)
  joints.forEach(({ body }, j) => {
    const { mass: m, centre, inertia } = body!
    const [xx, yy, zz, xy, xz, yz] = inertia
    const upTo = new Chain(
      {
        base: STILL,
        tool: { pose: { at: centre, turn: [0, 0, 0] }, normal: [0, 1, 0], shaft: [0, 0, 1], constrained: [] },
      },
      joints.slice(0, j + 1),
    )
    upTo.forward(q)
    const k = j + 1
    const jacobian = new Float64Array(6 * k)
    upTo.jacobian(jacobian)
    const [r0, r1, r2, r3, r4, r5, r6, r7, r8] = upTo.blade as unknown as number[]
    const column = (i: number) => {
      const [vx, vy, vz, wx, wy, wz] = [0, 1, 2, 3, 4, 5].map((row) => jacobian[row * k + i]!)
      // In the body's own axes.
      const w = [
        r0! * wx! + r3! * wy! + r6! * wz!,
        r1! * wx! + r4! * wy! + r7! * wz!,
        r2! * wx! + r5! * wy! + r8! * wz!,
      ]
      return { v: [vx!, vy!, vz!], w }
    }
    const columns = Array.from({ length: k }, (_, i) => column(i))
    const dot = (a: readonly number[], b: readonly number[]) => a[0]! * b[0]! + a[1]! * b[1]! + a[2]! * b[2]!
    columns.forEach((a, i) => {
      gravity[i]! -= m * dot(a.v, GRAVITY)
      const turned = [dot([xx, xy, xz], a.w), dot([xy, yy, yz], a.w), dot([xz, yz, zz], a.w)]
      columns.forEach((b, h) => {
        mass[i * n + h]! += m * dot(a.v, b.v) + dot(turned, b.w)
      })
    })
  })
  return { gravity, mass }
}

/** The largest difference of two lists, as a share of the largest value of theirs. */
function apart(ours: readonly number[], theirs: readonly number[]): number {
  expect(ours).toHaveLength(theirs.length)
  const largest = Math.max(...theirs.map(Math.abs))
  return Math.max(...ours.map((x, i) => Math.abs(x - theirs[i]!))) / largest
}

describe.skipIf(!needs('python3-pykdl')).each(CASES)('$file', (arm) => {
  const rig = rigOf(arm)
  const random = randomStream(23, arm.file)
  const states = Array.from({ length: STATES }, () =>
    Float64Array.from(rig.joints, () => Math.PI * (2 * random.uniform() - 1)),
  )
  let theirs: Theirs

  beforeAll(() => {
    const file = fileURLToPath(new URL(`../../${arm.file}`, import.meta.url))
    const job = { ...arm, file, gravity: GRAVITY, states: states.map((q) => [...q]) }
    const run = spawnSync('/usr/bin/python3', ['-c', PYTHON], {
      input: JSON.stringify(job),
      encoding: 'utf8',
      maxBuffer: 1e8,
    })
    if (run.status !== 0) throw new Error(run.stderr)
    theirs = JSON.parse(run.stdout)
  })

  test(`the tip is where the library has it at ${STATES} seeded states, to 1e-12 m and rad`, () => {
    const chain = new Chain(rig.arms[0]!, rig.joints)
    expect(theirs.states).toHaveLength(STATES)
    let worst = 0
    states.forEach((q, i) => {
      chain.forward(q)
      const { tip } = theirs.states[i]!
      for (const [k, x] of tip.entries()) worst = Math.max(worst, Math.abs(x - chain.blade[k]!))
    })
    expect(worst).toBeLessThan(1e-12)
  })

  test('what moves as one has the mass and the centre that the library sums up', () => {
    expect(theirs.bodies).toHaveLength(rig.joints.length)
    for (const [i, { mass, centre }] of theirs.bodies.entries()) {
      const { body } = rig.joints[i]!
      expect(apart([body!.mass], [mass])).toBeLessThan(1e-12)
      expect(apart([...body!.centre], centre)).toBeLessThan(1e-12)
    }
  })

  test('gravity torques and mass matrix of the folded bodies are those of the links one by one, to 1e-9', () => {
    let [weight, inertia] = [0, 0]
    states.forEach((q, i) => {
      const ours = loads(rig.joints, q)
      weight = Math.max(weight, apart(ours.gravity, theirs.states[i]!.gravity))
      inertia = Math.max(inertia, apart(ours.mass, theirs.states[i]!.mass))
    })
    expect(weight).toBeLessThan(1e-9)
    expect(inertia).toBeLessThan(1e-9)
  })
})
