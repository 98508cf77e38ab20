/** Distances whose values are known by hand; many more against other methods in tests/outside/clearance.test.ts. */
import { describe, expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import type { ClearanceSettings } from '../../../src/files/rig.js'
import { Bodies, type ThickRig } from '../../../src/motion/clearance/bodies.js'
import { betweenSegmentAndBox } from '../../../src/motion/clearance/box.js'
import { pairsOf } from '../../../src/motion/clearance/pairs.js'
import { betweenSegments, CLOSEST, SEGMENT } from '../../../src/motion/clearance/segments.js'
import { poseOf } from '../../../src/motion/pose.js'
import { randomStream } from '../../../src/random.js'
import { rig as paperRig } from '../watch/rig.js'

type Three = readonly [number, number, number]
const out = new Float64Array(CLOSEST)

describe('two segments', () => {
  const between = (a: Three, b: Three, c: Three, d: Three): number[] => {
    // Not at the beginning of their arrays, as in a rig with many bodies.
    betweenSegments(Float64Array.of(9, ...a, ...b), 1, Float64Array.of(9, 9, ...c, ...d), 2, out)
    return [...out]
  }

  it.each<[string, [Three, Three, Three, Three], number, Three, Three]>([
    [
      'crossing at a distance',
      [
        [-1, 0, 0],
        [1, 0, 0],
        [0, -1, 2],
        [0, 1, 2],
      ],
      2,
      [0, 0, 0],
      [0, 0, 2],
    ],
    [
      'an end and an inner point',
      [
        [-1, 0, 0],
        [1, 0, 0],
        [0.5, 1, 0],
        [0.5, 2, 0],
      ],
      1,
      [0.5, 0, 0],
      [0.5, 1, 0],
    ],
    [
      'two ends',
      [
        [0, 0, 0],
        [1, 0, 0],
        [4, 4, 0],
        [9, 4, 0],
      ],
      5,
      [1, 0, 0],
      [4, 4, 0],
    ],
    [
      'on one line, apart',
      [
        [0, 0, 0],
        [1, 0, 0],
        [3, 0, 0],
        [2, 0, 0],
      ],
      1,
      [1, 0, 0],
      [2, 0, 0],
    ],
    [
      'two points',
      [
        [0, 0, 0],
        [0, 0, 0],
        [0, 3, 4],
        [0, 3, 4],
      ],
      5,
      [0, 0, 0],
      [0, 3, 4],
    ],
    [
      'a point and a segment',
      [
        [0, 1, 0],
        [0, 1, 0],
        [-1, 0, 0],
        [3, 0, 0],
      ],
      1,
      [0, 1, 0],
      [0, 0, 0],
    ],
    [
      'a segment and a point',
      [
        [-1, 0, 0],
        [3, 0, 0],
        [0, 1, 0],
        [0, 1, 0],
      ],
      1,
      [0, 0, 0],
      [0, 1, 0],
    ],
  ])('%s', (_, [a, b, c, d], distance, p, q) => {
    expect(between(a, b, c, d)).toEqual([distance, ...p, ...q])
    // The other way round, and with the ends exchanged: the same points.
    expect(between(c, d, a, b)).toEqual([distance, ...q, ...p])
    expect(between(b, a, d, c)).toEqual([distance, ...p, ...q])
  })

  it('parallel beside each other, in either direction and to any length', () => {
    for (const [from, to] of [
      [-3, 5],
      [5, -3],
      [0.2, 0.4],
      [0.9, 7],
    ] as const)
      expect(between([0, 0, 0], [1, 0, 0], [from, 0, 2], [to, 0, 2])[0]).toBe(2)
    expect(between([0, 0, 0], [1, 0, 0], [4, 0, 4], [5, 0, 4])[0]).toBe(5)
  })

  it('keeps its digits where they are nearly parallel', () => {
    // They cross at their middles, by a tenth of a nanometre over a metre.
    const [distance] = between([0, 0, 0], [1, 0, 0], [0, -1e-10, 1e-3], [1, 1e-10, 1e-3])
    expect(Math.abs(distance! - 1e-3)).toBeLessThan(1e-15)
  })
})

describe('a segment and a box', () => {
  // 2 x 4 x 6 m about (10, 0, 0), turned by a quarter about z: 4 along x and 2 along y in the craft frame.
  const box = Float64Array.of(...poseOf({ at: [10, 0, 0], turn: [0, 0, Math.PI / 2] }), 1, 2, 3)
  const between = (a: Three, b: Three): number[] => {
    betweenSegmentAndBox(Float64Array.of(9, ...a, ...b), 1, box, 0, out)
    return [...out]
  }
  const close = (found: number[], wanted: number[]): void => {
    for (const [i, x] of wanted.entries()) expect(found[i]).toBeCloseTo(x, 12)
  }

  it.each<[string, Three, Three, number[]]>([
    ['before a face', [10, 5, 0], [10, 9, 0], [4, 10, 5, 0, 10, 1, 0]],
    ['towards an edge', [5, 5, 0], [4, 6, 0], [5, 5, 5, 0, 8, 1, 0]],
    ['towards a corner', [4, 5, 5], [0, 9, 9], [6, 4, 5, 5, 8, 1, 3]],
    ['an end within', [10, 0, 0], [10, 9, 0], [0, 10, 0, 0, 10, 0, 0]],
    ['a point', [10, 3, 0], [10, 3, 0], [2, 10, 3, 0, 10, 1, 0]],
  ])('%s', (_, a, b, wanted) => {
    close(between(a, b), wanted)
  })

  it('passes by an edge with an inner point', () => {
    // In the plane z = 1 from (8, 4) to (5, 1): the edge (8, 1) is nearest to its middle.
    close(between([8, 4, 1], [5, 1, 1]), [Math.hypot(1.5, 1.5), 6.5, 2.5, 1, 8, 1, 1])
    close(between([5, 1, 1], [8, 4, 1]), [Math.hypot(1.5, 1.5), 6.5, 2.5, 1, 8, 1, 1])
  })

  it('goes right through, from far to far, along each axis', () => {
    for (const [a, b] of [
      [
        [0, 0, 0],
        [20, 0, 0],
      ],
      [
        [10, -9, 2],
        [10, 9, 2],
      ],
      [
        [9, 0, 9],
        [9, 0, -9],
      ],
    ] as [Three, Three][])
      expect(between(a, b)[0]).toBe(0)
  })

  it('runs along a face', () => {
    close(between([0, 3, 0], [20, 3, 0]).slice(0, 1), [2])
  })
})

describe('the bodies of an arm', () => {
  const demo = readRigFile('rigs/reservoir-skiff.yaml', {})
  const thick: ThickRig = { ...demo, clearance: demo.clearance! }
  const bodies = new Bodies(thick)
  const [arm] = bodies.arms

  it('are named by their parts, and the blade is covered', () => {
    expect(arm!.names).toEqual(
      [
        'base',
        'swing',
        'shoulder',
        'elbow',
        'roll',
        'pitch',
        'feather',
        'shaft',
        'blade',
        'blade',
        'blade',
      ].map((part) => `port.${part}`),
    )
    // Straight up: 0.12 + 0.35 + 0.15 + 0.2 + 0.08 + 0.52 m over the base, at (0, 0.5, 0).
    const at = new Float64Array(SEGMENT * arm!.names.length)
    arm!.place(new Float64Array(6), at, 0)
    const ends = (c: number): number[] =>
      [...at.subarray(SEGMENT * c, SEGMENT * (c + 1))].map((x) => Number(x.toFixed(9)))
    const column = (low: number, high: number): number[] => [0, 0.5, low, 0, 0.5, high]
    expect(ends(0)).toEqual(column(0, 0.12))
    expect(ends(1)).toEqual(column(0.12, 0.12))
    expect(ends(2)).toEqual(column(0.12, 0.47))
    expect(ends(3)).toEqual(column(0.47, 0.62))
    expect(ends(6)).toEqual(column(0.9, 0.9))
    // The blade's centre is 0.52 m from the last joint, its inboard end 0.1 m before that.
    expect(ends(7)).toEqual(column(0.9, 1.32))
    expect([8, 9, 10].map((c) => Number(Math.abs(ends(c)[1]! - 0.5).toFixed(6))).sort()).toEqual([
      0, 0.053333, 0.053333,
    ])
    for (const c of [8, 9, 10]) expect([ends(c)[2], ends(c)[5]].sort()).toEqual([1.32, 1.52])
    expect([...arm!.radii].slice(0, 3)).toEqual([0.05, 0.05, 0.045])
    expect(arm!.radii[9]).toBeCloseTo(0.16 / 6, 12)
  })

  it('every corner of the blade lies in one of its capsules', () => {
    const random = randomStream(3, 'blade')
    const at = new Float64Array(SEGMENT * arm!.names.length)
    const point = new Float64Array(SEGMENT)
    const { tool, paddle } = demo.arms[0]!
    const across = [1, 0, 0] // normal x shaft
    for (let i = 0; i < 200; i++) {
      arm!.place(
        Float64Array.from({ length: 6 }, () => 3 * random.uniform() - 1.5),
        at,
        0,
      )
      const [u, v] = i < 4 ? [i & 1, i >> 1] : [random.uniform(), random.uniform()]
      const inBlade = [0, 1, 2].map(
        (k) => tool.shaft[k]! * (u! - 0.5) * paddle.length + across[k]! * (v! - 0.5) * paddle.width,
      )
      const t = arm!.chain.blade
      for (let k = 0; k < 3; k++)
        point[k] = point[3 + k] = t[9 + k]! + inBlade.reduce((sum, x, c) => sum + t[3 * k + c]! * x, 0)
      const nearest = [8, 9, 10].map((c) => {
        betweenSegments(point, 0, at, SEGMENT * c, out)
        return out[0]! - arm!.radii[c]!
      })
      expect(Math.min(...nearest)).toBeLessThan(1e-12)
    }
  })

  it('no point of a capsule goes farther than its bound says', () => {
    const random = randomStream(4, 'reach')
    const size = SEGMENT * arm!.names.length
    const [from, to] = [new Float64Array(size), new Float64Array(size)]
    let closest = 0
    for (let i = 0; i < 5000; i++) {
      const q = Float64Array.from({ length: 6 }, () => 6 * random.uniform() - 3)
      // All joints, or one of them.
      const turn = q.map((_, j) => (i % 7 < 6 && i % 7 !== j ? 0 : 1e-4 * (random.uniform() - 0.5)))
      arm!.place(q, from, 0)
      arm!.place(
        q.map((x, j) => x + turn[j]!),
        to,
        0,
      )
      for (let c = 0; c < arm!.names.length; c++) {
        const bound = turn.reduce((sum, dq, j) => sum + Math.abs(dq) * arm!.reach[6 * c + j]!, 0)
        for (const e of [SEGMENT * c, SEGMENT * c + 3]) {
          const way = Math.hypot(to[e]! - from[e]!, to[e + 1]! - from[e + 1]!, to[e + 2]! - from[e + 2]!)
          expect(way).toBeLessThanOrEqual(bound + 1e-15)
          if (bound > 0) closest = Math.max(closest, way / bound)
        }
      }
    }
    // It is not generous: with one joint turning, an arm stretched out comes near to it.
    expect(closest).toBeGreaterThan(0.95)
  })

  it('are looked at in pairs, but not those that are always near, nor what stands still beside what stands still', () => {
    const { groups, pairs } = pairsOf(thick, bodies)
    expect(groups.map(({ arm, to, otherArm }) => [arm, to, otherArm])).toEqual([
      [0, 'itself', null],
      [0, 'starboard', 1],
      [0, 'hull', null],
      [0, 'gunwale', null],
      [0, 'person', null],
      [1, 'itself', null],
      [1, 'hull', null],
      [1, 'gunwale', null],
      [1, 'person', null],
    ])
    const named = (group: number): string[] => [
      ...new Set(
        pairs
          .filter((p) => p.group === group)
          .map(({ a, b }) => `${bodies.names[a]} ${bodies.names[b]}`.replaceAll('port.', '')),
      ),
    ]
    // Swing and shoulder turn about one point; elbow, 0.15 m, and pitch, 0.08 m, are shorter than radii and warning.
    expect(named(0)).toEqual([
      'base elbow',
      'base roll',
      'base pitch',
      'base feather',
      'base shaft',
      'base blade',
      'swing elbow',
      'swing roll',
      'swing pitch',
      'swing feather',
      'swing shaft',
      'swing blade',
      'shoulder pitch',
      'shoulder feather',
      'shoulder shaft',
      'shoulder blade',
      'elbow pitch',
      'elbow feather',
      'elbow shaft',
      'elbow blade',
      'roll blade',
      'pitch blade',
      'feather blade',
    ])
    expect(named(3)).not.toContain('base gunwale')
    expect(named(3)).not.toContain('swing gunwale')
    expect(named(3)).toContain('shoulder gunwale')
    expect(named(1)).not.toContain('base starboard.swing')
    expect(named(1)).toContain('base starboard.blade')
  })

  it('distances are less both radii, of volumes too', () => {
    const clearance: ClearanceSettings = {
      least: 0.05,
      warn: 0.1,
      base: 0.04,
      links: [0.01, 0.01, 0.01, 0.01, 0.01, 0.01],
      paddle: 0.02,
      keepOut: [
        { name: 'ball', parts: [{ shape: 'capsule', from: [1, 0.6, 0], to: [1, 0.6, 0], radius: 0.2 }] },
        {
          name: 'box',
          parts: [
            { shape: 'box', pose: { at: [-2, 0.6, 0], turn: [0, 0, 0] }, size: [1, 1, 1], radius: 0.05 },
          ],
        },
      ],
      leftOut: [],
    }
    const paper = { ...paperRig(), clearance }
    const all = new Bodies(paper)
    const still = new Float64Array(6)
    for (const a of [0, 1]) all.place(a, still, still, 0)
    const measured = (first: string, second: string): number => {
      all.measure(all.names.indexOf(first), all.names.indexOf(second), out)
      return out[0]!
    }
    // The arms hang straight down from (0, +-0.6, 0.3), the shaft 0.7 m long.
    expect(measured('port.shaft', 'ball')).toBeCloseTo(1 - 0.2 - 0.02, 12)
    expect(measured('port.shaft', 'box')).toBeCloseTo(1.5 - 0.05 - 0.02, 12)
    expect(measured('port.shaft', 'starboard.shaft')).toBeCloseTo(1.2 - 0.04, 12)
    expect(measured('port.roll', 'ball')).toBeCloseTo(Math.hypot(1, 0.3) - 0.2 - 0.01, 12)
  })
})
