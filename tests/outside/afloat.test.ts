/**
 * The plant afloat against the world outside: its steady speed against the ITTC-1957 line and a root finder of scipy, the torques that its
 * drives report at rest against the Orocos Kinematics and Dynamics Library (Debian's python3-pykdl).
 */
import { describe, expect, test } from 'vitest'
import { loadRig } from '../../src/files/load.js'
import { Afloat } from '../../src/plant/afloat.js'
import { openRecording } from '../../src/record/read.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { Decoder } from '../../src/wire/decoder.js'
import { kdl } from '../setup/kdl.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'
import { DEMO_RIG, eventsOf, play, temporaryFolder } from '../setup/runs.js'
import { afloatRig, GRID, Led } from '../unit/plant/led.js'

/** rad/s: of two paddle wheels of one blade each, at the sides of a light skiff. */
const RATE = 1.5
const TURN = (2 * Math.PI) / RATE
const WETTED = { length: 3.8, area: 2.9, formFactor: 0.2 }

/** Over the last revolutions: mean thrust (N) of both blades, and the craft's speed in each ms. */
function steady(): { thrust: number; speeds: number[] } {
  // About y, with the axis half a radius above the water: each blade is in it on the lowest part of its way.
  const wheel = { joints: [{ axis: [0, 1, 0] as const }], normal: [0, 0, -1] as const }
  const rig = afloatRig(
    [
      { ...wheel, base: [0, 1, 0] },
      { ...wheel, base: [0, -1, 0], side: 'starboard' },
    ],
    {
      mass: 60,
      waterline: 0.3,
      hull: {
        ...{ length: WETTED.length, beam: 1, draught: 0.12, gyration: 0.95, added: null },
        resistance: { kind: 'wetted', area: WETTED.area, formFactor: WETTED.formFactor },
      },
    },
  )
  const water = new Afloat(rig)
  // Both at once, so that the craft neither yaws nor sways.
  const wheels = [0, 0].map((position, i) => {
    const joint = new Led()
    Object.assign(joint.motion, { position, speed: RATE })
    water.join(i, joint)
    return joint
  })
  expect(wheels).toHaveLength(2)
  // Not far from where it ends.
  water.craft.state[3] = 0.3
  const ends = Math.round((30 * TURN) / 1e-3)
  const begins = ends - Math.round((6 * TURN) / 1e-3)
  let thrust = 0
  const speeds: number[] = []
  for (let k = 1; k <= ends; k++) {
    if (k > begins) speeds.push(water.craft.state[3]!)
    water.advance(k * GRID)
    if (k > begins) thrust += (water.load(0)[0]! + water.load(1)[0]!) / (ends - begins)
  }
  return { thrust, speeds }
}

describe.skipIf(!needs('python3-scipy'))('a craft that its blades have brought to a steady speed', () => {
  test('goes where the ITTC-1957 line and its form factor hold the mean thrust, by scipy.optimize.brentq', () => {
    const { thrust, speeds } = steady()
    // Fresh water at 15 C: density of Tanaka et al. (2001), kinematic viscosity of ITTC 7.5-02-01-03 (from memory).
    const theirs = python<{ speed: number; drag: number }>(
      `
import json, sys
import numpy as np
from scipy.optimize import brentq
j = json.load(sys.stdin)
def drag(v):
    re = np.maximum(np.abs(v) * j['length'] / 1.1386e-6, 1e5)
    return .5 * 999.103 * j['area'] * (1 + j['formFactor']) * v * np.abs(v) * .075 / (np.log10(re) - 2) ** 2
json.dump({
    'speed': brentq(lambda v: drag(v) - j['thrust'], .01, 5, xtol=1e-12),
    'drag': float(np.mean(drag(np.array(j['speeds'])))),
}, sys.stdout)
`,
      { ...WETTED, thrust, speeds },
    )
    const mean = speeds.reduce((sum, v) => sum + v, 0) / speeds.length
    expect(thrust).toBeGreaterThan(1)
    // What the hull loses over whole revolutions is what the blades gave it; at its mean speed, nearly so.
    expect(theirs.drag / thrust).toBeCloseTo(1, 3)
    expect(mean / theirs.speed).toBeCloseTo(1, 2)
    // It pulses, and is well below the speed of the blades.
    expect(Math.max(...speeds) - Math.min(...speeds)).toBeGreaterThan(0.001 * mean)
    expect(mean).toBeLessThan(0.6 * RATE)
  })
})

describe.skipIf(!needs('python3-pykdl'))('arms that stand still afloat', () => {
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
  const still = ['name: still', 'about: x', 'duration: "3 s"', 'plant: afloat'].join('\n')

  test('report the torques of their weight, by KDL at their true pose, to a step of the wire', async () => {
    const { folder } = await play(
      temporaryFolder(),
      DEMO_RIG,
      `${still}\nexpect: { outcome: finish, parked: true }\n`,
    )
    const torques = rig.joints.map(() => Number.NaN)
    const decoder = new Decoder(rig, (o) => {
      if (playing && o.kind === 'feedback') torques[o.joint] = o.torque
    })
    let playing = false
    openRecording(folder).replay({
      frame: (bus, frame, t, sent) => decoder.see(bus, frame, t, sent),
      event: (e) => {
        if (e.kind === 'stage') playing = e.stage === 'play'
      },
    })
    let truth: readonly number[] = []
    for (const e of eventsOf(folder)) {
      if (e.kind === 'stage' && e.stage === 'park') break
      if (e.kind === 'tick' && e.witness) truth = e.witness
    }
    const theirs = kdl<number[][]>(
      "json.dump([Arm(arm).gravity(arm['q']) for arm in job], sys.stdout)",
      rig.arms.map(({ base, joints, tool, paddle: { mass } }) => ({
        base,
        joints: joints.map((i) => rig.joints[i]!),
        tool,
        // Its weight is all that shows at rest: a point at the blade's centre.
        held: { mass, centre: [0, 0, 0], inertia: [0, 0, 0, 0, 0, 0] },
        q: joints.map((i) => truth[i]!),
      })),
    ).flat()
    rig.joints.forEach(({ wire, name }, i) => {
      // A step is a thousandth of the rated torque; the joint still moves by its encoder's noise.
      const step = wire.protocol === 'cia402' ? wire.ratedTorque / 1000 : 0
      expect(Math.abs(torques[i]! - theirs[i]!), name).toBeLessThan(1.5 * step)
    })
    expect(Math.max(...theirs.map(Math.abs))).toBeGreaterThan(5)
  })
})
