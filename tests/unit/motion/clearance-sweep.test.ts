/** What the sweep finds between two samples, against looking everywhere. */
import { describe, expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import type { ClearanceSettings, Solid } from '../../../src/files/rig.js'
import { Bodies, type ThickRig } from '../../../src/motion/clearance/bodies.js'
import { pairsOf } from '../../../src/motion/clearance/pairs.js'
import { CLOSEST } from '../../../src/motion/clearance/segments.js'
import { ClearanceSweep, FINE } from '../../../src/motion/clearance/sweep.js'
import { randomStream } from '../../../src/random.js'
import { rig as paperRig } from '../watch/rig.js'

const demo = readRigFile('rigs/reservoir-skiff.yaml', {})
const skiff: ThickRig = { ...demo, clearance: demo.clearance! }

/** Arms that hang down from (0, +-0.6, 0.3) m; pitch swings them fore and aft; shafts of 20 mm. */
function paper(parts: readonly Solid[]): ThickRig {
  const clearance: ClearanceSettings = {
    least: 0.05,
    warn: 0.1,
    base: 0.04,
    links: [0.01, 0.01, 0.01, 0.01, 0.01, 0.01],
    paddle: 0.02,
    keepOut: [{ name: 'post', parts }],
    leftOut: [],
  }
  return { ...paperRig(), clearance }
}

describe('a fast crossing', () => {
  const post: Solid = { shape: 'capsule', from: [0, 0.3, -0.2], to: [0, 0.9, -0.2], radius: 0.02 }
  const pose = (pitch: number): Float64Array => Float64Array.of(0, pitch, 0, 0, 0, 0)

  it('is found between two samples that both miss it', () => {
    const sweep = new ClearanceSweep(paper([post]), 0.1, 0.05)
    const post0 = sweep.groups.findIndex(({ arm, to }) => arm === 0 && to === 'post')
    sweep.start(pose(-0.5), 10)
    // 0.5 m below the base: 0.5 sin(0.5) m beside the post, less 20 mm each.
    expect(sweep.now[post0]).toBeCloseTo(0.5 * Math.sin(0.5) - 0.04, 12)
    sweep.move(pose(0.7), 12)
    expect(sweep.now[post0]).toBeLessThan(0)
    const found = sweep.nearestNow(post0)
    expect([found.first, found.second]).toEqual(['port.shaft', 'post'])
    // They overlap as long as the shaft is within 40 mm.
    expect(Math.abs(0.5 * Math.sin(found.q[1]!))).toBeLessThan(0.04)
    expect(sweep.nearest(post0)).toEqual(found)
    // It stays the least of the run, and not of the next motion.
    sweep.move(pose(0.8), 13)
    expect(sweep.now[post0]).toBeGreaterThan(0.1)
    expect(sweep.nearest(post0)).toEqual(found)
    expect(sweep.cut).toBe(0)
  })

  it('and a near miss to 1 mm, with its time, pair and place', () => {
    // Beside the arm's plane: the shaft passes it 0.1 m away when the pitch is 0, at 5/12 of the way.
    const ball: Solid = { shape: 'capsule', from: [0, 0.7, -0.2], to: [0, 0.7, -0.2], radius: 0.03 }
    const sweep = new ClearanceSweep(paper([ball]), 0.1, 0.05)
    const post0 = sweep.groups.findIndex(({ arm, to }) => arm === 0 && to === 'post')
    sweep.start(pose(-0.5), 10)
    expect(sweep.now[post0]).toBeGreaterThan(0.15)
    sweep.move(pose(0.7), 12)
    const { distance, first, second, t, q, at } = sweep.nearestNow(post0)
    expect(distance).toBeGreaterThanOrEqual(0.1 - 0.02 - 0.03 - 1e-12)
    expect(distance).toBeLessThan(0.05 + FINE)
    expect([first, second]).toEqual(['port.shaft', 'post'])
    // Within 1 mm of the least as long as the shaft is no more than sqrt(0.101^2 - 0.1^2) m ahead of the ball or behind it.
    const slack = Math.sqrt(0.101 ** 2 - 0.1 ** 2)
    expect(Math.abs(0.5 * Math.sin(q[1]!))).toBeLessThan(slack)
    expect(Math.abs(t - (10 + (2 * 5) / 12))).toBeLessThan((2 * 2.1 * slack) / 1.2)
    expect(Math.abs(at[0])).toBeLessThan(slack)
    expect(at[1]).toBeCloseTo(0.65, 6)
    expect(at[2]).toBeCloseTo(-0.2, 2)
  })

  it('is not made up where the way is not known', () => {
    const sweep = new ClearanceSweep(paper([post]), 0.1, 0.05)
    sweep.start(pose(-0.5), 10)
    sweep.start(pose(0.7), 12)
    expect(Math.min(...sweep.now)).toBeGreaterThan(0.1)
  })

  it('of a thin plate, too, before the looks are used up for what is only told', () => {
    const plate: Solid = {
      shape: 'box',
      pose: { at: [0, 0.6, -0.4], turn: [0, 0, 0] },
      size: [0.002, 0.4, 0.5],
      radius: 0,
    }
    // Blade and base keep their distance in this arm, which takes many looks to prove to 1 mm.
    const sweep = new ClearanceSweep(paper([plate]), 0.1, 0)
    sweep.start(pose(-0.9), 0)
    sweep.move(pose(0.9), 1)
    const post0 = sweep.groups.findIndex(({ arm, to }) => arm === 0 && to === 'post')
    expect(sweep.cut).toBe(1)
    expect(sweep.now[post0]).toBeLessThan(0)
  })

  it('of an arm by the other, both moving', () => {
    // Both roll inwards; the blades would meet at the middle.
    const sweep = new ClearanceSweep(paper([]), 0.1, 0.05)
    const roll = (a: number): Float64Array => Float64Array.of(-a, 0, 0, a, 0, 0)
    sweep.start(roll(0.2), 0)
    sweep.move(roll(1.4), 1)
    const arms = sweep.groups.findIndex(({ to }) => to === 'starboard')
    // Half of 1.2 m is 0.9 m times the sine of 41.8 degrees: there the tips meet, and beyond that the shafts cross.
    expect(sweep.now[arms]).toBeLessThan(0)
    sweep.start(roll(0.1), 0)
    sweep.move(roll(0.5), 1)
    // The tips' corners, 0.9 m down the shaft and 80 mm aside, are in stripes of a sixth of 0.16 m.
    expect(sweep.now[arms]).toBe(Number.POSITIVE_INFINITY)
  })

  it.each([0, 1])('of thin arms, of which arm %i alone moves, and by little', (moving) => {
    const rig = paper([])
    const thin: ThickRig = {
      ...rig,
      clearance: {
        ...rig.clearance,
        base: 0.001,
        links: rig.clearance.links.map(() => 0.001),
        paddle: 0.001,
      },
      arms: rig.arms.map((arm) => ({ ...arm, paddle: { ...arm.paddle, width: 0.006 } })),
    }
    const sweep = new ClearanceSweep(thin, 0.1, 0.05)
    const arms = sweep.groups.findIndex(({ to }) => to === 'starboard')
    // Both lie inwards, one across the other: 20 mm on this side of it, then 10 mm beyond.
    const across = (pitch: number): Float64Array => {
      const q = Float64Array.of(-1.3, 0, 0, 1.3, 0, 0)
      q[3 * moving + 1] = pitch
      return q
    }
    sweep.start(across(-0.045), 0)
    expect(sweep.now[arms]).toBeGreaterThan(0.015)
    sweep.move(across(0.025), 1)
    expect(sweep.now[arms]).toBeLessThan(0)
  })

  it('a jump that is too long is given up, and counted', () => {
    const sweep = new ClearanceSweep(skiff, 0.1, 0.05)
    const random = randomStream(8, 'jump')
    const far = (): Float64Array => Float64Array.from({ length: 12 }, () => 4000 * (random.uniform() - 0.5))
    sweep.start(far(), 0)
    for (let i = 0; i < 5; i++) sweep.move(far(), 1)
    expect(sweep.cut).toBeGreaterThan(0)
  })
})

describe('many motions of the demo arms', () => {
  /** Distances of all pairs at a pose, the least of each group. */
  function everywhere(rig: ThickRig) {
    const bodies = new Bodies(rig)
    const { groups, pairs } = pairsOf(rig, bodies)
    const out = new Float64Array(CLOSEST)
    return (from: Float64Array, to: Float64Array, share: number): number[] => {
      const least = groups.map(() => Number.POSITIVE_INFINITY)
      rig.arms.forEach((_, arm) => {
        bodies.place(arm, from, to, share)
      })
      for (const { a, b, group } of pairs) {
        bodies.measure(a, b, out)
        least[group] = Math.min(least[group]!, out[0]!)
      }
      return least
    }
  }

  /** A wandering motion, slow and fast, that comes near to everything. */
  function wander(seed: number, count: number): Float64Array[] {
    const random = randomStream(seed, 'wander')
    const q = demo.simulation.joints.map(({ start }) => start)
    const speed = q.map(() => 0)
    return Array.from({ length: count }, (_, k) => {
      const step = k % 20 < 12 ? 0.02 : 0.1
      q.forEach((_, j) => {
        speed[j] = 0.8 * speed[j]! + random.normal()
        q[j] = q[j]! + step * speed[j]! * 0.5
      })
      return Float64Array.from(q)
    })
  }

  it.each([
    ['finer', 0.02],
    ['as the watch has it', 0.05],
  ])('no least distance is missed, %s', (_, coarse) => {
    const at = everywhere(skiff)
    const sweep = new ClearanceSweep(skiff, 0.1, coarse)
    const poses = wander(11 + coarse, 120)
    const leastOfAll = sweep.groups.map(() => Number.POSITIVE_INFINITY)
    let judged = 0
    const FINELY = 100
    sweep.start(poses[0]!, 0)
    at(poses[0]!, poses[0]!, 0).forEach((d, g) => {
      leastOfAll[g] = d
    })
    for (let k = 1; k < poses.length; k++) {
      const [from, to] = [poses[k - 1]!, poses[k]!]
      sweep.move(to, k)
      const least = sweep.groups.map(() => Number.POSITIVE_INFINITY)
      for (let i = 0; i <= FINELY; i++)
        at(from, to, i / FINELY).forEach((d, g) => {
          least[g] = Math.min(least[g]!, d)
        })
      least.forEach((d, g) => {
        leastOfAll[g] = Math.min(leastOfAll[g]!, d)
        // Whatever is nearer than 100 mm is found to 1 mm, and nothing is told that is not there.
        if (d < 0.1 - FINE) {
          judged++
          if (d < 0) expect(sweep.now[g]).toBeLessThan(FINE)
          else expect(sweep.now[g]! - d).toBeLessThan(FINE)
        }
        if (sweep.now[g]! < 0.1) expect(d).toBeLessThan(0.1)
        const told = sweep.nearest(g)!.distance
        if (told >= 0) {
          expect(told - leastOfAll[g]!).toBeLessThan(Math.max(FINE, coarse * told) + 1e-12)
          // Samples are 1/100 apart; the fastest way here is a metre or two.
          expect(told - leastOfAll[g]!).toBeGreaterThan(-0.02)
        } else expect(leastOfAll[g]).toBeLessThan(FINE)
      })
    }
    expect(judged).toBeGreaterThan(50)
    expect(sweep.cut).toBe(0)
    // What it tells of is where it says; another pair of the group may be nearer there, by no more than the tolerance.
    sweep.groups.forEach((_, g) => {
      const { q, distance } = sweep.nearest(g)!
      const there = at(q, q, 0)[g]!
      expect(there).toBeLessThan(distance + 1e-12)
      if (distance >= 0) expect(there).toBeGreaterThan(distance - Math.max(FINE, coarse * distance) - 1e-12)
    })
  })

  it('looks at a pair only when it may have come near', () => {
    // Of a wandering arm most pairs are far from all that is of interest.
    const sweep = new ClearanceSweep(skiff, 0.1, 0.05)
    const measured = Bodies.prototype.measure
    let looks = 0
    Bodies.prototype.measure = function (a, b, out) {
      looks++
      measured.call(this, a, b, out)
    }
    const q = demo.simulation.joints.map(({ start }) => start)
    const swing = (k: number): Float64Array =>
      Float64Array.from(q, (x, j) => (j % 6 === 0 ? x + 0.2 * Math.sin(k / 50) : x))
    sweep.start(swing(0), 0)
    looks = 0
    for (let k = 1; k <= 1000; k++) sweep.move(swing(k), k)
    Bodies.prototype.measure = measured
    expect(looks).toBeLessThan(0.02 * sweep.pairs * 1000)
    expect(looks).toBeGreaterThan(0)
  })
})
