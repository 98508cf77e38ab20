/**
 * The torques of a stroke at the envelope's boundary, made anew by other means: the driver's own setpoints, differentiated over the
 * control period, and a general-purpose library's recursion: the Orocos Kinematics and Dynamics Library, Debian's python3-pykdl
 * (ChainIdSolver_RNE). The paddle is a thin even plate there too (any textbook of mechanics:
 * m w^2/12 about the line along it, m l^2/12 about that across it, and their sum about its normal).
 */
import { expect, test } from 'vitest'
import { envelopeOf } from '../../src/driver/envelope/envelope.js'
import type { Item } from '../../src/motion/envelope.js'
import { kdl } from '../setup/kdl.js'
import { needs } from '../setup/needs.js'
import { DEMO, go, Player } from '../unit/driver/play.js'

const KDL = `
import numpy as np
joints, paddle, tool = job['joints'], job['arm']['paddle'], job['arm']['tool']
normal, shaft = np.array(tool['normal']), np.array(tool['shaft'])
across = np.cross(normal, shaft)
along, over = paddle['mass'] * paddle['width'] ** 2 / 12, paddle['mass'] * paddle['length'] ** 2 / 12
plate = along * np.outer(shaft, shaft) + over * np.outer(across, across) + (along + over) * np.outer(normal, normal)
entries = [float(plate[i, j]) for i, j in [(0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)]]
held = {'mass': paddle['mass'], 'centre': [0, 0, 0], 'inertia': entries}
arm = Arm({**job['arm'], 'joints': joints, 'held': held})
q, T = np.array(job['setpoints']), job['period']
qd, qdd = (q[2:] - q[:-2]) / (2 * T), (q[2:] - 2 * q[1:-1] + q[:-2]) / T ** 2
torques = np.array([arm.torques(q[k + 1], qd[k], qdd[k], [0] * 6) for k in range(len(qd))])
viscous = np.array([j['train']['viscous'] for j in joints])
coulomb = np.array([j['train']['coulomb'] for j in joints])
torques = torques + viscous * qd + np.where(qd > 0, coulomb[:, 0], np.where(qd < 0, coulomb[:, 1], 0))
json.dump({'torque': np.abs(torques).max(0).tolist(), 'lasting torque': np.sqrt((torques ** 2).mean(0)).tolist(),
    'joint speed': np.abs(qd).max(0).tolist(), 'joint acceleration': np.abs(qdd).max(0).tolist()}, sys.stdout)
`

test.skipIf(!needs('python3-pykdl')).each(['ahead', 'astern'] as const)(
  'peak and root mean square of the torques, speeds and accelerations at the boundary %s agree to half a per cent',
  (way) => {
    const limit = envelopeOf(DEMO, [], 8).sides.find((s) => s.side === 'port' && s.way === way)!
    // Without a stroke there is nothing to play.
    expect(limit.cadence).toBeGreaterThan(0.1)
    const player = new Player(DEMO)
    const [arm] = DEMO.arms
    const joints = arm!.joints.map((j) => DEMO.joints[j]!)
    const command = go(way === 'ahead' ? limit.speed : -limit.speed)
    player.play(command, 6)
    const setpoints: number[][] = []
    player.play(command, 1 / limit.cadence + 2 * DEMO.control.period, () => {
      setpoints.push(arm!.joints.map((j) => player.setpoints[j]!))
    })
    const job = { arm, joints, setpoints, period: DEMO.control.period }
    const theirs = kdl<Partial<Record<Item, number[]>>>(KDL, job)
    const seen = limit.strains.filter(({ item }) => theirs[item] !== undefined)
    expect(seen).toHaveLength(4)
    for (const { item, joint, value } of seen) {
      const other = theirs[item]![joints.findIndex(({ name }) => name === joint)]!
      expect(Math.abs(value - other) / other, `${item}, ${joint}: ${value} and ${other}`).toBeLessThan(0.005)
    }
  },
)
