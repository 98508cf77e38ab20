/** How far an arm's mass can go athwart, in a plane: against sines, and against a fine grid over both joints' ranges. */
import { describe, expect, it } from 'vitest'
import type { WeighedJoint } from '../../../../src/motion/laden-arm.js'
import { armMass } from '../../../../src/motion/water/athwart.js'
import { randomStream } from '../../../../src/random.js'
import { afloatRig } from '../../plant/led.js'

const REACH = 0.6
const NONE = [0, 0, 0, 0, 0, 0] as const

/** Joints about the craft's z, one after the other, each with a mass at its end. */
function planar(links: readonly { length: number; mass: number; lower: number; upper: number }[]) {
  const rig = afloatRig([
    {
      joints: links.map(({ mass, length }, i) => ({
        origin: { at: [i === 0 ? 0 : links[i - 1]!.length, 0, 0], turn: [0, 0, 0] },
        body: { mass, centre: [length, 0, 0], inertia: NONE },
      })),
      tool: { at: [links.at(-1)!.length, 0, 0], turn: [0, 0, 0] },
    },
  ])
  const joints = rig.joints.map((joint, i) => {
    const { lower, upper } = links[i]!
    return { ...joint, limits: { ...joint.limits, lower, upper } } as WeighedJoint
  })
  return { arm: rig.arms[0]!, joints }
}

describe('one joint, its mass 0.6 m out: y is 0.6 sin q', () => {
  it.each([
    ['top within the range', 0.2, 2.5, 1, Math.sin(0.2)],
    ['top beyond it', 0.2, 0.9, Math.sin(0.9), Math.sin(0.2)],
    ['top before it', 1.9, 2.6, Math.sin(1.9), Math.sin(2.6)],
    ['top and bottom a turn later', 2, 12, 1, -1],
    ['a turn earlier, neither', -6, -5, Math.sin(-5), Math.sin(-6)],
  ])('%s', (_, lower, upper, most, least) => {
    const { arm, joints } = planar([{ length: REACH, mass: 4, lower, upper }])
    const upright = (lower + upper) / 2
    const { mass, outboard, inboard } = armMass(arm, joints, Float64Array.of(upright))
    expect(mass).toBeCloseTo(4, 6)
    expect(outboard).toBeCloseTo(REACH * (most - Math.sin(upright)), 8)
    expect(inboard).toBeCloseTo(REACH * (Math.sin(upright) - least), 8)
  })
})

it('two joints, ranges at random: never less far than a grid of a thousandth of them finds, and no farther than its steps', () => {
  const random = randomStream(8, 'athwart')
  const [a, b] = [0.5, 0.4]
  for (let k = 0; k < 30; k++) {
    const range = () => {
      const lower = -4 + 5 * random.uniform()
      return { lower, upper: lower + 0.5 + 4 * random.uniform() }
    }
    const [first, second] = [range(), range()]
    const [m1, m2] = [0.2 + random.uniform(), 0.2 + random.uniform()]
    const { arm, joints } = planar([
      { length: a, mass: m1, ...first },
      { length: b, mass: m2, ...second },
    ])
    const moment = (q1: number, q2: number) =>
      m1 * a * Math.sin(q1) + m2 * (a * Math.sin(q1) + b * Math.sin(q1 + q2))
    const upright = [first.lower, second.lower] as const
    const here = moment(...upright)
    let [most, least] = [here, here]
    const n = 1000
    for (let i = 0; i <= n; i++) {
      for (let j = 0; j <= n; j++) {
        const y = moment(
          first.lower + ((first.upper - first.lower) * i) / n,
          second.lower + ((second.upper - second.lower) * j) / n,
        )
        if (y > most) most = y
        if (y < least) least = y
      }
    }
    const found = armMass(arm, joints, Float64Array.from(upright))
    // A grid misses a top by its curvature times half a step squared: 1 kg m and 5 mrad make less than 2e-5.
    const more = [found.outboard * found.mass - (most - here), found.inboard * found.mass - (here - least)]
    for (const x of more) {
      expect(x, `case ${k}`).toBeGreaterThan(-1e-8)
      expect(x, `case ${k}`).toBeLessThan(2e-5)
    }
  }
})
