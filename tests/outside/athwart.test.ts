/**
 * How far an arm's mass can go athwart against general-purpose libraries: places of the masses by the Orocos Kinematics and Dynamics
 * Library (Debian's python3-pykdl), the farthest within the joints' ranges by scipy.optimize.differential_evolution, which knows nothing of
 * circles. The arm is the demo rig's.
 */
import { describe, expect, test } from 'vitest'
import { ReferenceDriver } from '../../src/driver/reference.js'
import { readRigFile } from '../../src/files/load.js'
import type { WeighedJoint } from '../../src/motion/laden-arm.js'
import { armMass } from '../../src/motion/water/athwart.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const PYTHON = `
import json, sys
import numpy as np
import PyKDL as kdl
from scipy.optimize import differential_evolution
def frame(p):
    return kdl.Frame(kdl.Rotation.RPY(*p['turn']), kdl.Vector(*p['at']))
job = json.load(sys.stdin)
chain = kdl.Chain()
chain.addSegment(kdl.Segment(kdl.Joint('base', kdl.Joint.Fixed), frame(job['base'])))
for i, joint in enumerate(job['joints']):
    origin = frame(joint['origin'])
    axis = origin.M * kdl.Vector(*joint['axis'])
    chain.addSegment(kdl.Segment(kdl.Joint('j%d' % i, origin.p, axis, kdl.Joint.RotAxis), origin))
chain.addSegment(kdl.Segment(kdl.Joint('tool', kdl.Joint.Fixed), frame(job['tool'])))
places = kdl.ChainFkSolverPos_recursive(chain)
n = len(job['joints'])
a, f = kdl.JntArray(n), kdl.Frame()
def moment(q):
    for i in range(n): a[i] = q[i]
    total = 0
    for i, joint in enumerate(job['joints']):
        places.JntToCart(a, f, i + 2)
        total += joint['body']['mass'] * (f * kdl.Vector(*joint['body']['centre']))[1]
    places.JntToCart(a, f)
    return total + job['paddle'] * f.p[1]
box = [(j['limits']['lower'], j['limits']['upper']) for j in job['joints']]
most = -differential_evolution(lambda q: -moment(q), box, seed=1, tol=1e-10).fun
least = differential_evolution(moment, box, seed=1, tol=1e-10).fun
json.dump({'most': most, 'least': least, 'park': moment(job['park'])}, sys.stdout)
`

const rig = readRigFile('rigs/reservoir-skiff.yaml', watchSchemas)
const parkPose = new ReferenceDriver(rig).parkPose
const [port, starboard] = rig.arms.map((arm) => {
  const own = arm.joints.map((j) => rig.joints[j] as WeighedJoint)
  const park = Float64Array.from(arm.joints, (j) => parkPose[j]!)
  return { arm, own, park, mass: armMass(arm, own, park) }
})

describe.skipIf(!needs('python3-pykdl', 'python3-scipy'))('the port arm', () => {
  test('goes as far outboard and inboard as scipy finds, to a tenth of a millimetre', () => {
    const { arm, own, park, mass } = port!
    const kdl = python<{ most: number; least: number; park: number }>(PYTHON, {
      base: arm.base,
      joints: own,
      tool: arm.tool.pose,
      paddle: arm.paddle.mass,
      park,
    })
    expect(mass.mass).toBeCloseTo(8.5, 12)
    expect(mass.outboard).toBeCloseTo((kdl.most - kdl.park) / mass.mass, 4)
    expect(mass.inboard).toBeCloseTo((kdl.park - kdl.least) / mass.mass, 4)
    // Never less than what any search finds.
    expect(mass.outboard).toBeGreaterThan((kdl.most - kdl.park) / mass.mass - 1e-9)
  }, 120_000)
})

test('the starboard arm is its mirror image', () => {
  expect(starboard!.mass.side).toBe('starboard')
  expect(starboard!.mass.outboard).toBeCloseTo(port!.mass.outboard, 6)
  expect(starboard!.mass.inboard).toBeCloseTo(port!.mass.inboard, 6)
})
