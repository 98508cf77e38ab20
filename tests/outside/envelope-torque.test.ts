/**
 * The torques of a stroke at the envelope's boundary, made anew by other means: the driver's own setpoints, differentiated over the
 * control period, and a general-purpose library's recursion: the Orocos Kinematics and Dynamics Library, Debian's python3-pykdl
 * (ChainIdSolver_RNE), in one process of Debian's own Python. The paddle is a thin even plate there too (any textbook of mechanics:
 * m w^2/12 about the line along it, m l^2/12 about that across it, and their sum about its normal).
 */
import { spawnSync } from 'node:child_process'
import { expect, test } from 'vitest'
import { envelopeOf } from '../../src/driver/envelope/envelope.js'
import type { Item } from '../../src/motion/envelope.js'
import { needs } from '../setup/needs.js'
import { DEMO, go, Player } from '../unit/driver/play.js'

const PYTHON = `
import json, sys
import numpy as np
import PyKDL as kdl
job = json.load(sys.stdin)
def frame(p):
    return kdl.Frame(kdl.Rotation.RPY(*p['turn']), kdl.Vector(*p['at']))
def array(q):
    a = kdl.JntArray(len(q))
    for i, x in enumerate(q): a[i] = x
    return a
arm, joints, paddle = job['arm'], job['joints'], job['arm']['paddle']
chain = kdl.Chain()
chain.addSegment(kdl.Segment(kdl.Joint('base', kdl.Joint.Fixed), frame(arm['base'])))
for i, joint in enumerate(joints):
    origin, body = frame(joint['origin']), joint['body']
    axis = origin.M * kdl.Vector(*joint['axis'])
    turning = kdl.Joint('j%d' % i, origin.p, axis, kdl.Joint.RotAxis, 1, 0, joint['train']['rotor'])
    inertia = kdl.RigidBodyInertia(body['mass'], kdl.Vector(*body['centre']), kdl.RotationalInertia(*body['inertia']))
    chain.addSegment(kdl.Segment(turning, origin, inertia))
normal, shaft = np.array(arm['tool']['normal']), np.array(arm['tool']['shaft'])
across = np.cross(normal, shaft)
along, over = paddle['mass'] * paddle['width'] ** 2 / 12, paddle['mass'] * paddle['length'] ** 2 / 12
plate = along * np.outer(shaft, shaft) + over * np.outer(across, across) + (along + over) * np.outer(normal, normal)
held = kdl.RigidBodyInertia(paddle['mass'], kdl.Vector(0, 0, 0),
    kdl.RotationalInertia(*[float(plate[i, j]) for i, j in [(0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)]]))
chain.addSegment(kdl.Segment(kdl.Joint('tool', kdl.Joint.Fixed), frame(arm['tool']['pose']), held))
# Standard acceleration of free fall: 3rd CGPM (1901).
solver = kdl.ChainIdSolver_RNE(chain, kdl.Vector(0, 0, -9.80665))
n, q, T = len(joints), np.array(job['setpoints']), job['period']
qd, qdd = (q[2:] - q[:-2]) / (2 * T), (q[2:] - 2 * q[1:-1] + q[:-2]) / T ** 2
calm = [kdl.Wrench.Zero()] * chain.getNrOfSegments()
torques = []
for k in range(len(qd)):
    out = kdl.JntArray(n)
    assert solver.CartToJnt(array(q[k + 1]), array(qd[k]), array(qdd[k]), calm, out) == 0
    torques.append([out[i] for i in range(n)])
viscous = np.array([j['train']['viscous'] for j in joints])
coulomb = np.array([j['train']['coulomb'] for j in joints])
torques = np.array(torques) + viscous * qd + np.where(qd > 0, coulomb[:, 0], np.where(qd < 0, coulomb[:, 1], 0))
json.dump({'torque': np.abs(torques).max(0).tolist(), 'lasting torque': np.sqrt((torques ** 2).mean(0)).tolist(),
    'joint speed': np.abs(qd).max(0).tolist(), 'joint acceleration': np.abs(qdd).max(0).tolist()}, sys.stdout)
`

test.skipIf(!needs('python3-pykdl')).each(['ahead', 'astern'] as const)(
  'peak and root mean square of the torques, speeds and accelerations at the boundary %s agree to half a per cent',
  (way) => {
    const limit = envelopeOf(DEMO, [], 8).sides.find((s) => s.side === 'port' && s.way === way)!
    const player = new Player(DEMO)
    const [arm] = DEMO.arms
    const joints = arm!.joints.map((j) => DEMO.joints[j]!)
    const command = go(way === 'ahead' ? limit.speed : -limit.speed)
    player.play(command, 6)
    const setpoints: number[][] = []
    player.play(command, 1 / limit.cadence + 2 * DEMO.control.period, () => {
      setpoints.push(arm!.joints.map((j) => player.setpoints[j]!))
    })
    const run = spawnSync('/usr/bin/python3', ['-c', PYTHON], {
      input: JSON.stringify({ arm, joints, setpoints, period: DEMO.control.period }),
      encoding: 'utf8',
    })
    if (run.status !== 0) throw new Error(run.stderr)
    const kdl: Partial<Record<Item, number[]>> = JSON.parse(run.stdout)
    const seen = limit.strains.filter(({ item }) => kdl[item] !== undefined)
    expect(seen).toHaveLength(4)
    for (const { item, joint, value } of seen) {
      const theirs = kdl[item]![joints.findIndex(({ name }) => name === joint)]!
      expect(Math.abs(value - theirs) / theirs, `${item}, ${joint}: ${value} and ${theirs}`).toBeLessThan(
        0.005,
      )
    }
  },
)
