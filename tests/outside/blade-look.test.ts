/**
 * The greatest force on the end of an arm that a preflight finds, against the Orocos Kinematics and Dynamics Library (Debian's
 * python3-pykdl): the same setpoints through its forward kinematics, second differences by numpy, and Newton for the paddle's mass.
 */
import { describe, expect, test } from 'vitest'
import { ScenarioWalk } from '../../src/bench/scenario-walk.js'
import { loadScenario, readRigFile } from '../../src/files/load.js'
import { BladeLook } from '../../src/preflight/blade-look.js'
import { MiddleOfThree } from '../../src/preflight/middle.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const PYTHON = `
import json, sys
import numpy as np
import PyKDL as kdl
def frame(p):
    return kdl.Frame(kdl.Rotation.RPY(*p['turn']), kdl.Vector(*p['at']))
job = json.load(sys.stdin)
out = []
for arm in job['arms']:
    chain = kdl.Chain()
    chain.addSegment(kdl.Segment(kdl.Joint('base', kdl.Joint.Fixed), frame(arm['base'])))
    for i, joint in enumerate(arm['joints']):
        origin = frame(joint['origin'])
        axis = origin.M * kdl.Vector(*joint['axis'])
        chain.addSegment(kdl.Segment(kdl.Joint('j%d' % i, origin.p, axis, kdl.Joint.RotAxis), origin))
    chain.addSegment(kdl.Segment(kdl.Joint('tool', kdl.Joint.Fixed), frame(arm['tool'])))
    places = kdl.ChainFkSolverPos_recursive(chain)
    a, f, way = kdl.JntArray(len(arm['joints'])), kdl.Frame(), []
    for q in arm['q']:
        for i, x in enumerate(q): a[i] = x
        places.JntToCart(a, f)
        way.append([f.p[0], f.p[1], f.p[2]])
    way = np.array(way)
    pull = (way[2:] - 2 * way[1:-1] + way[:-2]) / job['period']**2 + np.array([0, 0, 9.80665])
    out.append(float(arm['mass'] * np.linalg.norm(pull, axis=1).max()))
json.dump(out, sys.stdout)
`

const rig = readRigFile('rigs/reservoir-skiff.yaml', watchSchemas)
const SCRIPT = `name: arc
about: Strokes of both sides, the starboard one faster.
duration: "9 s"
commands:
  - { at: "0.2 s", surge: "0.35 m/s", yaw: "8 deg/s", over: "0.3 s" }
  - { at: "8 s", surge: "0 m/s", yaw: "0 deg/s", over: "0.3 s" }
expect: { outcome: finish, parked: true }
`

function walked(of: typeof rig) {
  const walk = new ScenarioWalk(of)
  const look = new BladeLook(of, walk.period)
  const middle = new MiddleOfThree(of, walk.driver, walk.period, [look])
  const setpoints: number[][] = []
  const witness = { see: (q: Float64Array) => void setpoints.push([...q]) }
  walk.walk(loadScenario(SCRIPT, 'scenario.yaml', of), [middle, witness])
  return { look, setpoints, period: walk.period }
}

const dry = walked({ ...rig, water: null, hull: null })

describe.skipIf(!needs('python3-pykdl', 'python3-numpy'))('dry', () => {
  test('weight and inertia of the paddle, at the arm with more of it, to half a percent', () => {
    const theirs = python<number[]>(PYTHON, {
      period: dry.period,
      arms: rig.arms.map(({ base, joints, tool, paddle }) => ({
        base,
        joints: joints.map((j) => rig.joints[j]),
        tool: tool.pose,
        mass: paddle.mass,
        q: dry.setpoints.map((q) => joints.map((j) => q[j])),
      })),
    })
    const { arm, force, phase } = dry.look.greatest
    expect(arm).toBe('starboard')
    expect(theirs[1]!).toBeGreaterThan(theirs[0]!)
    expect(force / theirs[1]!).toBeCloseTo(1, 2)
    expect(Math.abs(force / theirs[1]! - 1)).toBeLessThan(0.005)
    expect(phase).toBeGreaterThan(0)
  })
})

test('in the water it is more, and most in the drive; a heavier craft takes longer to run, and is pulled harder', () => {
  const afloat = walked(rig).look
  expect(afloat.greatest.force).toBeGreaterThan(1.1 * dry.look.greatest.force)
  expect(afloat.greatest.arm).toBe('starboard')
  expect(afloat.greatest.phase).toBeLessThan(0.5)
  const hull = { ...rig.hull!, draught: 1.2 }
  const heavy = walked({ ...rig, hull, craft: { ...rig.craft, mass: 1800 } }).look
  expect(heavy.greatest.force).toBeGreaterThan(afloat.greatest.force)
})
