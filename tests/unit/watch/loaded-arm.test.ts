/** One arm as the load watch follows it: which strokes are whole, what friction a joint at rest has, and which model drives are held against. */
import { describe, expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import type { Rig } from '../../../src/files/rig.js'
import { ArmTorques } from '../../../src/motion/arm-torques.js'
import { waterOf } from '../../../src/motion/water/properties.js'
import { randomStream } from '../../../src/random.js'
import { LoadPrediction } from '../../../src/watch/load-prediction.js'
import { isRated, LoadedArm, type LoadSettings } from '../../../src/watch/loaded-arm.js'
import { watchSchemas } from '../../../src/watch/settings.js'

const RIG = readRigFile('rigs/reservoir-skiff-urdf.yaml', watchSchemas)
const { period } = RIG.control
const WATER = waterOf(RIG.water!)
const MIDDLE = [0.1, 0.6, 1.3, 0.05, 0.9, 0.5] as const
const SETTINGS = { window: RIG.watch.load.window, trip: null, afloat: false }
const ownOf = (rig: Rig) => rig.arms[0]!.joints.map((j) => rig.joints[j]!).filter(isRated)

/** @param water null: nothing is said of afloat */
function followed(rig: Rig, prediction: LoadPrediction | null = null, settings: Partial<LoadSettings> = {}) {
  const arm = new LoadedArm(rig, rig.arms[0]!, ownOf(rig), WATER, { ...SETTINGS, ...settings })
  let index = 0
  const play = (
    seconds: number,
    position: (t: number, i: number) => number,
    told?: (t: number, i: number) => number,
  ) => {
    for (let k = 0; k < seconds / period; k++, index++) {
      let whole = false
      for (let i = 0; i < MIDDLE.length; i++)
        whole = arm.see(i, index, position(k * period, i), told?.(k * period, i) ?? Number.NaN) || whole
      if (!whole) continue
      arm.judge(prediction, told !== undefined, index)
      prediction?.step()
    }
  }
  return {
    arm,
    play,
    skip: () => {
      index += 100
    },
  }
}

/** rad: the shoulder at which this share of the blade is under water, by halving from wholly out to wholly in. */
function shoulderAt(share: number): number {
  const own = ownOf(RIG)
  const rest = new Float64Array(own.length)
  const torques = new ArmTorques(RIG.craft, RIG.arms[0]!, own, rest, null)
  const wet = (shoulder: number): number => {
    torques.at(
      Float64Array.from(MIDDLE, (q, i) => (i === 1 ? shoulder : q)),
      rest,
      rest,
    )
    return torques.area / RIG.arms[0]!.paddle.area
  }
  let [out, under] = [0.2, 1]
  expect([wet(out), wet(under)]).toEqual([0, expect.closeTo(1, 9)])
  for (let k = 0; k < 40; k++) {
    const middle = (out + under) / 2
    if (wet(middle) > share) under = middle
    else out = middle
  }
  return under
}

describe('a stroke', () => {
  const OUT = 0.2
  /** Down from out of the water to there and up again, a second each time. */
  const dips = (deepest: number) => (t: number, i: number) =>
    i === 1 ? OUT + ((deepest - OUT) * (1 - Math.cos(2 * Math.PI * t))) / 2 : MIDDLE[i]!

  it.each([
    [0.4, false],
    [0.6, true],
  ])('begins with half of the blade under water: dips of %d of it make strokes, %s', (share, whole) => {
    const { arm, play } = followed(RIG)
    play(4, dips(shoulderAt(share)))
    expect(arm.dry[1]!.close()!.stroke !== null).toBe(whole)
  })

  it('is not one that was broken off in the air and goes on in the water: from there to the next catch is no whole one', () => {
    const deep = shoulderAt(0.9)
    const still = (shoulder: number) => (_: number, i: number) => (i === 1 ? shoulder : MIDDLE[i]!)
    const { arm, play, skip } = followed(RIG)
    play(0.5, still(OUT))
    arm.breaks()
    skip()
    play(0.5, still(deep))
    // Up and down once: the one catch that there is.
    play(1, (t, i) => (i === 1 ? deep - ((deep - OUT) * (1 - Math.cos(2 * Math.PI * t))) / 2 : MIDDLE[i]!))
    expect(arm.dry[1]!.close()!.stroke).toBeNull()
  })
})

it('a joint that only its encoder moves has no friction', () => {
  /** N m, the most of the upright joint, which bears no weight. */
  const most = (times: number): number => {
    const joints = RIG.joints.map((j) => ({
      ...j,
      train: { ...j.train, coulomb: j.train.coulomb.map((c) => times * c) as [number, number] },
    }))
    const { arm, play } = followed({ ...RIG, joints })
    const random = randomStream(3, 'encoder')
    // Two standard deviations of the rig's noise at most, either way.
    play(4, (_, i) => {
      const { wire } = ownOf(RIG)[i]!
      return (
        MIDDLE[i]! + (2 * RIG.simulation.feedback.noise * (2 * random.uniform() - 1)) / wire.countsPerRadian
      )
    })
    return arm.dry[0]!.close()!.peak
  }
  expect(RIG.joints[0]!.train.coulomb[0]).toBeGreaterThan(1)
  expect(most(100)).toBe(most(1))
})

/** A craft that no blade moves: what the blades meet is still water. */
const MOORED: Rig = {
  ...RIG,
  craft: { ...RIG.craft, mass: 1e12 },
  hull: { ...RIG.hull!, added: { surge: 0, sway: 0, yaw: 0 } },
  arms: RIG.arms.map((arm) => ({ ...arm, paddle: { ...arm.paddle, area: 0.09 } })),
}
const [SWING, RATE] = [0.3, 4]
const swing = (t: number, i: number) => MIDDLE[i]! + (i === 0 ? SWING * Math.sin(RATE * t) : 0)
/** N m at time t, in closed form of the motion. */
function model(as: 'dry' | 'afloat'): (t: number, i: number) => number {
  const own = ownOf(MOORED)
  const torques = new ArmTorques(MOORED.craft, MOORED.arms[0]!, own, new Float64Array(own.length), WATER)
  const only = (x: number) => Float64Array.from(own, (_, i) => (i === 0 ? x : 0))
  return (t, i) => {
    const [s, c] = [Math.sin(RATE * t), Math.cos(RATE * t)]
    torques.at(
      Float64Array.from(own, (_, j) => swing(t, j)),
      only(SWING * RATE * c),
      only(-SWING * RATE * RATE * s),
    )
    torques.wet(new Float64Array(3), new Float64Array(2))
    return torques[as][i]!
  }
}

describe('what drives told', () => {
  const trust = (plant: 'dry' | 'afloat', told: 'dry' | 'afloat'): number => {
    const prediction = new LoadPrediction(MOORED, MOORED.hull!, WATER)
    const { arm, play } = followed(MOORED, prediction, { afloat: plant === 'afloat' })
    play(((2 * Math.PI) / RATE) * 2, swing, model(told))
    return arm.trust[0]!.ratio
  }

  it('is held against the model of that plant which it came from', () => {
    expect(trust('dry', 'dry')).toBeCloseTo(1, 2)
    expect(trust('afloat', 'afloat')).toBeCloseTo(1, 2)
    expect(Math.abs(trust('dry', 'afloat') - 1)).toBeGreaterThan(0.1)
  })
})

it('what an arm carries afloat is its paddle and the water on the blade', () => {
  const carried = (area: number) => {
    const rig = { ...MOORED, arms: RIG.arms.map((arm) => ({ ...arm, paddle: { ...arm.paddle, area } })) }
    const { arm, play } = followed(rig, new LoadPrediction(rig, rig.hull!, WATER))
    play(2, swing)
    return arm.carried
  }
  const none = carried(1e-9)
  expect(none.afloat.most).toBeCloseTo(none.dry.most, 6)
  const broad = carried(0.09)
  expect(broad.dry.most).toBeCloseTo(none.dry.most, 9)
  // At 1.2 m/s of a swing 1 m out, rho v2 A is some 100 N: ten times the weight of a paddle of 1 kg.
  expect(broad.afloat.most).toBeGreaterThan(3 * broad.dry.most)
})
