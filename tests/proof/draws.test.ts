/** What a seed draws: commands within the envelope, arms within their tolerances, the same every time. */
import { expect, it } from 'vitest'
import { VirtualTime } from '../../src/clock.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import { portSpeed, starboardSpeed } from '../../src/motion/side-speeds.js'
import { AfloatTorque } from './afloat-torque.js'
import { cleanScenario, LEAST_TIME, rigOfSeed } from './clean.js'
import { fastest } from './driver-entry.js'
import { jobsOf, keyOf } from './jobs.js'
import { proofRig, RIGS } from './rigs.js'
import { drawn, drawnArms, TOLERANCE } from './tolerances.js'

const root = new URL('../..', import.meta.url).pathname
const SEEDS = Array.from({ length: 5 }, (_, i) => i + 1)

it('every rig of the proof is drawn', () => {
  const names = new Set(Array.from({ length: 200 }, (_, i) => rigOfSeed(i)))
  expect([...names].sort()).toEqual([...RIGS].sort())
})

it.each(SEEDS)('seed %i: commands are within the greatest side speed, and go on long enough', (seed) => {
  const rig = proofRig(root, rigOfSeed(seed))
  const { scenario } = cleanScenario(rig, seed)
  expect(scenario.duration).toBeGreaterThanOrEqual(LEAST_TIME)
  expect(scenario.commands.length).toBeGreaterThan(0)
  for (const { surge, yaw } of scenario.commands)
    for (const speed of [portSpeed, starboardSpeed])
      expect(Math.abs(speed(surge, yaw, rig.craft.track))).toBeLessThanOrEqual(fastest(rig) + 1e-12)
  expect(cleanScenario(rig, seed).scenario).toEqual(scenario)
})

it('tolerances stay within a fifth, differ from joint to joint and from seed to seed, and reach far', () => {
  const rig = proofRig(root, 'skiff')
  const { simulation, joints } = rig
  const shares: number[] = []
  for (const seed of SEEDS)
    for (const joint of joints) {
      const { servo, feedback, sag } = drawn(simulation, joint, seed)
      shares.push(
        servo.frequency / simulation.servo.frequency,
        servo.damping / simulation.servo.damping,
        servo.feedforward / simulation.servo.feedforward,
        feedback.delay / simulation.feedback.delay,
        feedback.jitter / simulation.feedback.jitter,
        feedback.noise / simulation.feedback.noise,
        sag / simulation.sag,
      )
    }
  expect(new Set(shares).size).toBe(shares.length)
  expect(Math.min(...shares)).toBeGreaterThanOrEqual(1 - TOLERANCE)
  expect(Math.max(...shares)).toBeLessThanOrEqual(1 + TOLERANCE)
  expect(Math.max(...shares) - Math.min(...shares)).toBeGreaterThan(1.9 * TOLERANCE)
})

it('the arms that are drawn stand where their draws say, and a fault reaches its own joint', () => {
  const rig = proofRig(root, 'skiff')
  const time = new VirtualTime()
  const { plant } = drawnArms(rig, time, 5, 'dry')
  const out = new Float64Array(rig.joints.length)
  plant.witness(0, out)
  rig.joints.forEach((joint, j) => {
    expect(out[j]).toBeCloseTo(drawn(rig.simulation, joint, 5).joints[j]!.start, 12)
  })
})

it('the two sets have no seed in common, and every job a name of its own', () => {
  const [tuning, held] = (['tuning', 'held-out'] as const).map((set) =>
    jobsOf({ set, clean: 1000, seeds: 4 }).map(keyOf),
  )
  expect(new Set([...tuning!, ...held!]).size).toBe(tuning!.length + held!.length)
})

/** Greatest share of what a drive may give, over so many s under commands that begin at the given times (s, m/s). */
function afloatNeed(commands: readonly (readonly [at: number, surge: number])[], lasts: number): number {
  const rig = proofRig(root, 'skiff')
  const driver = new ReferenceDriver(rig)
  const torque = new AfloatTorque(rig)
  let [now, last, before] = [0, 1, 2].map(() => driver.parkPose.slice()) as [
    Float64Array,
    Float64Array,
    Float64Array,
  ]
  let most = 0
  driver.begin()
  for (let t = 0; t < lasts; t += rig.control.period) {
    ;[now, last, before] = [before, now, last]
    driver.step({ surge: commands.findLast(([at]) => at <= t)?.[1] ?? 0, yaw: 0 }, now)
    if (t > 2 * rig.control.period) most = Math.max(most, torque.step(now, last, before))
  }
  return most
}

it('afloat a script asks no more torque than drives give: a steady one bears what the envelope says, to a fifth, and no turning round at once besides', () => {
  // The greatest speed afloat by `drystroke envelope` on this rig is 0.484 m/s, where a roll drive gives all that it may.
  expect(afloatNeed([[0.5, 0.484]], 10)).toBeGreaterThan(0.8)
  expect(afloatNeed([[0.5, 0.484]], 10)).toBeLessThan(1.2)
  expect(afloatNeed([[0.5, 0.3]], 10)).toBeLessThan(0.8)
  expect(
    afloatNeed(
      [
        [0.5, -0.48],
        [7.5, 0.52],
      ],
      14,
    ),
  ).toBeGreaterThan(1)
})
