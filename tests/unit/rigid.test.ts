/** Folding: transforms there and back, and parallel axes against a body that is known as a whole. */
import { describe, expect, test } from 'vitest'
import { randomStream } from '../../src/random.js'
import {
  type Body,
  bodyIn,
  composed,
  joined,
  type Pose,
  poseOf,
  type Transform,
  transformOf,
  type Vector3,
} from '../../src/rigid.js'

const random = randomStream(7, 'transforms')
const angle = () => Math.PI * (2 * random.uniform() - 1)
const close = (actual: readonly number[], wanted: readonly number[], digits = 14) => {
  expect(actual).toHaveLength(wanted.length)
  for (const [i, x] of wanted.entries()) expect(actual[i]).toBeCloseTo(x, digits)
}

/** Of a solid cuboid of edges a, b, c (m) about its centre: m (b2 + c2) / 12 and so on. Common knowledge of mechanics. */
function cuboid(mass: number, [a, b, c]: Vector3, centre: Vector3): Body {
  const moment = (p: number, q: number) => (mass * (p * p + q * q)) / 12
  return { mass, centre, inertia: [moment(b, c), moment(a, c), moment(a, b), 0, 0, 0] }
}

describe('roll, pitch and yaw', () => {
  test.each([
    ['anywhere', () => angle() / 2],
    ['at a pitch of a quarter turn', () => Math.PI / 2],
    ['at a pitch of a quarter turn down', () => -Math.PI / 2],
    ['next to a quarter turn', () => Math.PI / 2 - 1e-9 * random.uniform()],
    ['near a quarter turn', () => Math.PI / 2 + 1e-5 * (random.uniform() - 0.5)],
  ])('%s give the matrix that they were taken from', (_, pitch) => {
    for (let i = 0; i < 200; i++) {
      const { turn } = transformOf({ at: [0, 0, 0], turn: [angle(), pitch(), angle()] })
      // Turned away and back: entries that would be zero have the rounding that products leave in them.
      const away = transformOf({ at: [0, 0, 0], turn: [angle(), angle() / 2, angle()] })
      const [a, b, c, d, e, f, g, h, k] = away.turn
      const back: Transform = { at: [0, 0, 0], turn: [a, d, g, b, e, h, c, f, k] }
      const rounded = composed(back, composed(away, { turn, at: [0, 0, 0] }))
      close(transformOf(poseOf(rounded)).turn, turn, 14)
    }
  })

  test('of no turn at all are no turn at all', () => {
    const { turn } = poseOf(transformOf({ at: [0, 0, 0], turn: [0, 0, 0] }))
    expect(turn.map((x) => Object.is(x, 0))).toEqual([true, true, true])
  })
})

test('one transform after another: a quarter about z, then a metre along what was x', () => {
  const quarter: Pose = { at: [0, 0, 0.5], turn: [0, 0, Math.PI / 2] }
  close(composed(transformOf(quarter), transformOf({ at: [1, 0, 0], turn: [0, 0, 0] })).at, [0, 1, 0.5])
})

describe('bodies', () => {
  test('that were one cuboid are one again', () => {
    const whole = cuboid(6, [0.1, 0.2, 0.6], [0.3, 0, 0.1])
    // Cut across its longest edge at a third.
    const parts = [cuboid(2, [0.1, 0.2, 0.2], [0.3, 0, -0.1]), cuboid(4, [0.1, 0.2, 0.4], [0.3, 0, 0.2])]
    const again = joined(parts)
    expect(again.mass).toBe(6)
    close(again.centre, whole.centre, 15)
    close(again.inertia, whole.inertia, 15)
  })

  test('off in two directions have a product of inertia: two points of 1 kg at (1, 1, 0) and (-1, -1, 0) m', () => {
    const speck = (x: number): Body => ({ mass: 1, centre: [x, x, 0], inertia: [1e-6, 1e-6, 1e-6, 0, 0, 0] })
    // About the origin: xx = sum of y2 = 2, yy = 2, zz = 4; xy = minus the sum of x y = -2.
    close(joined([speck(1), speck(-1)]).inertia, [2, 2, 4, -2, 0, 0], 5)
  })

  test('turn with their frame: an eighth about z makes a product of unequal moments', () => {
    const frame = transformOf({ at: [0, 0, 1], turn: [0, 0, Math.PI / 4] })
    const body = bodyIn(frame, { mass: 2, centre: [1, 0, 0], inertia: [3, 5, 7, 0, 0, 0] })
    close(body.centre, [Math.SQRT1_2, Math.SQRT1_2, 1])
    // R I R^T with c = s = 1/sqrt 2: xx = yy = (3 + 5) / 2, xy = (3 - 5) / 2.
    close(body.inertia, [4, 4, 7, -1, 0, 0])
  })

  test('weigh the same wherever they are looked at from: joined and then moved, or moved and then joined', () => {
    const some = (): Body => ({
      mass: 1 + random.uniform(),
      centre: [random.uniform(), random.uniform(), random.uniform()],
      inertia: [2 + random.uniform(), 2 + random.uniform(), 2 + random.uniform(), 0.1, 0.2, 0.3],
    })
    const parts = [some(), some(), some()]
    const frame = transformOf({ at: [0.3, -0.2, 0.5], turn: [angle(), angle() / 2, angle()] })
    const one = bodyIn(frame, joined(parts))
    const other = joined(parts.map((part) => bodyIn(frame, part)))
    close(one.centre, other.centre)
    close(one.inertia, other.inertia, 13)
  })
})
