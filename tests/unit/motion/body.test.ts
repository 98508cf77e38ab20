import { describe, expect, test } from 'vitest'
import { whyUnphysical } from '../../../src/files/body.js'
import type { Vector3 } from '../../../src/files/rig.js'
import { type Body, placed } from '../../../src/motion/body.js'
import { poseOf } from '../../../src/motion/pose.js'
import { randomStream } from '../../../src/random.js'
import { joined } from '../../../src/rigid.js'
import { anyPoints, anyVector, bodyOf, type MassPoint } from '../../setup/invented-arm.js'

function expectSame(a: Body, b: Body): void {
  expect(a.mass).toBeCloseTo(b.mass, 12)
  for (let i = 0; i < 3; i++) expect(a.centre[i]!).toBeCloseTo(b.centre[i]!, 12)
  for (let i = 0; i < 6; i++) expect(a.inertia[i]!).toBeCloseTo(b.inertia[i]!, 12)
}

describe('a body that cannot exist', () => {
  const cube: Body = { mass: 2, centre: [0.1, 0, 0], inertia: [1, 1, 1, 0, 0, 0] }
  const turned = (moments: Vector3): Body =>
    placed({ ...cube, inertia: [...moments, 0, 0, 0] }, poseOf({ at: [0, 0, 0], turn: [0.3, 0.7, -2] }))

  test.each<[string, Body, RegExp | null]>([
    ['a cube', cube, null],
    ['five points', bodyOf(anyPoints(randomStream(1, 'points'))), null],
    // A thin plate: the largest moment is the sum of the others, to rounding.
    ['a thin plate, askew', turned([0.1, 0.2, 0.3]), null],
    ['a slender rod, askew', turned([1e-5, 0.2, 0.2]), null],
    ['no mass', { ...cube, mass: 0 }, /mass is 0 kg/],
    ['negative mass', { ...cube, mass: -1 }, /mass is -1 kg/],
    ['mass that is no number', { ...cube, mass: Number.NaN }, /not finite/],
    ['an infinite centre', { ...cube, centre: [0, Number.POSITIVE_INFINITY, 0] }, /not finite/],
    ['a product that is no number', { ...cube, inertia: [1, 1, 1, 0, Number.NaN, 0] }, /not finite/],
    ['no inertia', { ...cube, inertia: [0, 0, 0, 0, 0, 0] }, /all three are positive/],
    [
      'a negative moment',
      { ...cube, inertia: [1, -1, 1, 0, 0, 0] },
      /-1, 1, 1 kg m2; all three are positive/,
    ],
    ['products too large', { ...cube, inertia: [1, 1, 1, 1.2, 0, 0] }, /-0.2, 1, 2.2 kg m2; all three/],
    ['a line, askew', turned([0, 1, 1]), /all three are positive/],
    ['moments 1, 1, 3', { ...cube, inertia: [1, 3, 1, 0, 0, 0] }, /1, 1, 3 kg m2; the largest cannot exceed/],
    ['moments 1, 1, 2.01, askew', turned([1, 2.01, 1]), /1, 1, 2.01 kg m2; the largest cannot exceed/],
  ])('%s', (_, body, why) => {
    if (why === null) expect(whyUnphysical(body)).toBeNull()
    else expect(whyUnphysical(body)).toMatch(why)
  })
})

test('a body moved is the body of its points moved, and two joined are that of all points', () => {
  const random = randomStream(2, 'points')
  for (let round = 0; round < 20; round++) {
    const pose = poseOf({ at: anyVector(random, 1), turn: anyVector(random, 3) })
    const [a, b] = [anyPoints(random), anyPoints(random)]
    const moved = a.map(({ mass, at }): MassPoint => {
      const [x, y, z] = [0, 1, 2].map(
        (i) => pose[9 + i]! + at.reduce((sum, t, k) => sum + pose[3 * i + k]! * t, 0),
      )
      return { mass, at: [x!, y!, z!] }
    })
    expectSame(placed(bodyOf(a), pose), bodyOf(moved))
    expectSame(joined([bodyOf(a), bodyOf(b)]), bodyOf([...a, ...b]))
  }
})
