/**
 * The load watch's torques against a general-purpose library: the Orocos Kinematics and Dynamics Library (Debian's python3-pykdl,
 * ChainIdSolver_RNE for torques, ChainFkSolverPos for the blade), with the demo arm of the URDF rig. Joints swing as sines, whose
 * derivatives are known in closed form. The paddle as a body is worked out here anew: a thin plate, for the shaft along z and the face along
 * y of the demo's blade frame.
 */
import { beforeAll, describe, expect, test } from 'vitest'
import { readRigFile } from '../../src/files/load.js'
import { ArmTorques } from '../../src/motion/arm-torques.js'
import { LoadWatch } from '../../src/watch/load.js'
import { isRated } from '../../src/watch/loaded-arm.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { kdl } from '../setup/kdl.js'
import { needs } from '../setup/needs.js'
import { scenario } from '../unit/watch/rig.js'

const KDL = `
arm = Arm(job)
def acceleration(s, h=2e-4):
    def at(t):
        return arm.place([q + v * t + a * t * t / 2 for q, v, a in zip(s['q'], s['qd'], s['qdd'])]).p
    d = (at(h) - 2 * at(0) + at(-h)) / (h * h)
    return [d[0], d[1], d[2]]
def torques(s, load):
    return arm.torques(s['q'], s['qd'], s['qdd'], load)
json.dump([{'dry': torques(s, [0] * 6), 'afloat': torques(s, s['wrench']), 'acceleration': acceleration(s),
            'reach': (arm.place(s['q']).p - kdl.Vector(*job['base']['at'])).Norm()}
           for s in job['states']], sys.stdout)
`

interface Answer {
  dry: number[]
  afloat: number[]
  /** m/s2 of the blade's centre, by a second difference of its place */
  acceleration: number[]
  /** m, from the arm's base to the blade's centre */
  reach: number
}

const PERIOD = 0.005
const rig = readRigFile('rigs/reservoir-skiff-urdf.yaml', watchSchemas)
const arm = rig.arms[0]!
const own = rig.joints.filter((j) => j.arm === 0).filter(isRated)
const n = own.length
const { mass, length, width } = arm.paddle
const [along, across] = [(mass * width ** 2) / 12, (mass * length ** 2) / 12]
const held = { mass, centre: [0, 0, 0], inertia: [across, along + across, along, 0, 0, 0] }

/** Amplitudes (rad), rates (rad/s) and phases of the joints' sines, about the middle of a stroke. */
const MIDDLE = [0.1, 0.6, 1.3, 0.05, 0.9, 0.5]
const SWING = [0.35, 0.3, 0.35, 0.3, 0.3, 0.8]
const RATE = [3.1, 3.7, 4.3, 2.9, 5.1, 4.7]
const state = (t: number) => ({
  q: MIDDLE.map((m, i) => m + SWING[i]! * Math.sin(RATE[i]! * t + i)),
  qd: SWING.map((a, i) => a * RATE[i]! * Math.cos(RATE[i]! * t + i)),
  qdd: SWING.map((a, i) => -a * RATE[i]! ** 2 * Math.sin(RATE[i]! * t + i)),
})
const array = (x: readonly number[]) => Float64Array.from(x)
/** N m: viscous and dry friction of a joint that moves. */
const rubs = (i: number, speed: number): number => {
  const { viscous, coulomb } = own[i]!.train
  return viscous * speed + (speed > 0 ? coulomb[0] : coulomb[1])
}

describe.skipIf(!needs('python3-pykdl'))('the demo arm, port', () => {
  const torques = new ArmTorques(rig.craft, arm, own, new Float64Array(n), { density: 999.1 })
  const craft = Float64Array.of(0.3, -0.1, 0.2)
  const current = Float64Array.of(0.05, 0.02)
  const ours: { dry: number[]; afloat: number[]; wrench: number[]; carried: number; area: number }[] = []
  const states = Array.from({ length: 800 }, (_, k) => state(k * PERIOD))
  let theirs: Answer[]

  beforeAll(() => {
    for (const s of states) {
      torques.at(array(s.q), array(s.qd), array(s.qdd))
      torques.wet(craft, current)
      const { dry, afloat, wrench, area } = torques
      ours.push({
        ...{ dry: [...dry], afloat: [...afloat], wrench: [...wrench], area },
        carried: torques.carried(wrench),
      })
    }
    const loaded = states.map((s, k) => ({ ...s, wrench: ours[k]!.wrench }))
    const { base, tool } = arm
    theirs = kdl<Answer[]>(KDL, { base, joints: own, tool, held, states: loaded })
  })

  test('the blade is in and out of the water', () => {
    const wet = ours.filter(({ area }) => area > 0).length
    expect(wet).toBeGreaterThan(100)
    expect(wet).toBeLessThan(700)
  })

  test.each(['dry', 'afloat'] as const)('torques %s, 800 states, agree to 1e-9', (as) => {
    const size = Math.max(...theirs.flatMap((k) => k[as].map(Math.abs)))
    const off = theirs.flatMap((k, s) =>
      k[as].map((tau, i) => Math.abs(tau + rubs(i, states[s]!.qd[i]!) - ours[s]![as][i]!)),
    )
    expect(Math.max(...off) / size).toBeLessThan(1e-9)
  })

  test('what the end of the arm carries: the paddle against gravity, its acceleration and the water', () => {
    const off = theirs.map(({ acceleration: [x, y, z] }, s) => {
      const [wx, wy, wz] = ours[s]!.wrench
      const force = Math.hypot(mass * x! - wx!, mass * y! - wy!, mass * (z! + 9.80665) - wz!)
      return Math.abs(force / 9.80665 / ours[s]!.carried - 1)
    })
    expect(Math.max(...off)).toBeLessThan(1e-5)
  })

  test('the watch, shown the motion as encoders tell it, has its peaks to 1 % of the largest', () => {
    const settings = rig.watch.load
    const watch = new LoadWatch({ rig, scenario: scenario(), settings, report: () => {} })
    const at = (k: number) => Math.round(k * PERIOD * 1e9)
    watch.see({ kind: 'stage', t: 0, stage: 'play' })
    states.forEach(({ q }, index) => {
      for (const joint of rig.joints)
        watch.see({
          ...{ kind: 'feedback', t: at(index), joint: joint.index, index, torque: 0 },
          position: q[arm.joints.indexOf(joint.index)] ?? 0,
        })
    })
    watch.close()
    // The ends of the motion, half a window each, are not seen.
    const seen = theirs.slice(5, -5)
    const peaks = own.map((_, i) =>
      Math.max(...seen.map(({ dry }, s) => Math.abs(dry[i]! + rubs(i, states[s + 5]!.qd[i]!)))),
    )
    const figures = watch.figures()
    own.forEach(({ name }, i) => {
      const value = figures.find((f) => f.place === name && f.name === 'torque, dry, peak')!.value
      expect(Math.abs(value - peaks[i]!)).toBeLessThan(0.01 * Math.max(...peaks))
    })
    const ofArm = (name: string): number =>
      figures.find((f) => f.place === arm.name && f.name === name)!.value
    const reaches = seen.map(({ reach }) => reach)
    expect(ofArm('reach of the blade, farthest')).toBeCloseTo(Math.max(...reaches), 4)
    // The last place is not the farthest, and where it carries most neither.
    expect(reaches.at(-1)!).toBeLessThan(0.99 * Math.max(...reaches))
    const carried = seen.map(({ acceleration: [x, y, z] }) => mass * Math.hypot(x!, y!, z! + 9.80665))
    const most = carried.indexOf(Math.max(...carried))
    expect(ofArm('payload used, dry') / (carried[most]! / 9.80665 / arm.payload)).toBeCloseTo(1, 2)
    expect(Math.abs(reaches[most]! - Math.max(...reaches))).toBeGreaterThan(0.01)
    expect(Math.abs(ofArm('payload used, dry: at reach') - reaches[most]!)).toBeLessThan(0.01)
  })
})
