import { expect, test } from 'vitest'
import { poseOf } from '../../../../src/motion/pose.js'
import { BladeForce, FLAT_PLATE } from '../../../../src/motion/water/blade-force.js'
import { randomStream } from '../../../../src/random.js'

const WATER = { density: 1000 }
const SHAPE = { normal: [0, 1, 0], shaft: [0, 0, 1], length: 0.2, width: 0.16 } as const
const STILL = new Float64Array(3)

function wrenchOf(blade: BladeForce, pose: Float64Array, twist: number[], craft = STILL, current = STILL) {
  const wrench = new Float64Array(6)
  blade.at(pose, Float64Array.from(twist), craft, current, wrench)
  return wrench
}

/** A pose near the surface of the skiff's water, and a motion. */
function seeded(name: string) {
  const random = randomStream(11, name)
  const spread = (size: number) => size * (2 * random.uniform() - 1)
  return {
    pose: () =>
      poseOf({ at: [spread(0.5), spread(1), -0.3 + spread(0.1)], turn: [spread(3), spread(3), spread(3)] }),
    twist: () => [spread(1), spread(1), spread(1), spread(3), spread(3), spread(3)],
    spread,
  }
}

test('the water takes energy from a blade and never gives any', () => {
  const blade = new BladeForce(SHAPE, FLAT_PLATE, WATER, 0.3)
  const { pose, twist } = seeded('energy')
  let taken = 0
  for (let i = 0; i < 2000; i++) {
    const motion = twist()
    const wrench = wrenchOf(blade, pose(), motion)
    const power = motion.reduce((sum, v, k) => sum + v * wrench[k]!, 0)
    expect(power).toBeLessThanOrEqual(0)
    taken -= power
  }
  expect(taken).toBeGreaterThan(1000)
})

test('a blade above the water feels none, one that rests in the water neither, one that drifts with it neither', () => {
  const blade = new BladeForce(SHAPE, FLAT_PLATE, WATER, 0.3)
  const dry = poseOf({ at: [0.2, 1, -0.1], turn: [0.3, 0.2, 0.1] })
  expect([...wrenchOf(blade, dry, [1, 1, 1, 1, 1, 1])]).toEqual([0, 0, 0, 0, 0, 0])
  expect(blade.wet.area).toBe(0)
  expect(blade.addedMass).toBe(0)
  expect([...blade.wet.centre]).toEqual([...dry.subarray(9)])
  const wet = poseOf({ at: [0.2, 1, -0.35], turn: [0.3, 0.2, 0.1] })
  expect([...wrenchOf(blade, wet, [0, 0, 0, 0, 0, 0])]).toEqual([0, 0, 0, 0, 0, 0])
  expect(blade.wet.area).toBeGreaterThan(0)
  const drift = wrenchOf(
    blade,
    wet,
    [0, 0, 0, 0, 0, 0],
    Float64Array.of(0.4, -0.2, 0),
    Float64Array.of(0.4, -0.2),
  )
  expect([...drift]).toEqual([0, 0, 0, 0, 0, 0])
})

test('exactly at the surface: whole below, none above, half when it is upright or on edge, none when it is flat', () => {
  const blade = new BladeForce(SHAPE, FLAT_PLATE, WATER, 0)
  const area = (turn: [number, number, number], z = 0) => {
    blade.wet.at(poseOf({ at: [0, 0, z], turn }))
    return blade.wet.area
  }
  expect(area([0, 0, 0])).toBeCloseTo(0.016, 15)
  expect(area([Math.PI, 0, 0])).toBeCloseTo(0.016, 15)
  expect(area([0, Math.PI / 2, 0])).toBeCloseTo(0.016, 15)
  expect(area([0, 0, 0], -0.1)).toBeCloseTo(0.032, 15)
  expect(area([0, 0, 0], 0.1)).toBeCloseTo(0, 15)
  // Shaft and width both level, to the last bit.
  const flat = Float64Array.of(1, 0, 0, 0, 0, -1, 0, 1, 0, 0, 0, 0)
  blade.wet.at(flat)
  expect(blade.wet.area).toBe(0)
  flat[11] = -1e-9
  blade.wet.at(flat)
  expect(blade.wet.area).toBeCloseTo(0.032, 15)
})

test('what is wet and what is dry together are the blade, and areas change without a step', () => {
  const blade = new BladeForce(SHAPE, FLAT_PLATE, WATER, 0.3)
  const { pose, spread } = seeded('complement')
  const mirrored = new Float64Array(12)
  for (let i = 0; i < 500; i++) {
    const at = pose()
    blade.wet.at(at)
    const wet = blade.wet.area
    // Upside down about the surface: what was above it is below.
    for (let k = 0; k < 9; k++) mirrored[k] = k < 6 ? at[k]! : -at[k]!
    mirrored.set([at[9]!, at[10]!, -0.6 - at[11]!], 9)
    blade.wet.at(mirrored)
    expect(wet + blade.wet.area).toBeCloseTo(0.032, 14)
    at[11]! += 1e-7 * spread(1)
    blade.wet.at(at)
    // Straight down at most: the longest line in the blade times the step.
    if (Math.abs(blade.wet.normal[2]!) < 0.99) expect(Math.abs(blade.wet.area - wet)).toBeLessThan(3e-7)
  }
})

test('only the velocity through the water counts: craft ahead or water astern, craft turning or blade swinging about it', () => {
  const blade = new BladeForce(SHAPE, FLAT_PLATE, WATER, 0.3)
  const at = poseOf({ at: [0.3, 1, -0.32], turn: [0.2, 0.1, 0.4] })
  const byBlade = wrenchOf(blade, at, [0.7, -0.2, 0, 0, 0, 0])
  const byCraft = wrenchOf(blade, at, [0, 0, 0, 0, 0, 0], Float64Array.of(0.7, -0.2, 0))
  const byCurrent = wrenchOf(blade, at, [0, 0, 0, 0, 0, 0], STILL, Float64Array.of(-0.7, 0.2))
  expect([...byCraft]).toEqual([...byBlade])
  expect([...byCurrent]).toEqual([...byBlade])
  // Yaw rate r about the origin moves a place at (0.3, 1) by (-r, 0.3 r), and turns the blade.
  const byYaw = wrenchOf(blade, at, [0, 0, 0, 0, 0, 0], Float64Array.of(0, 0, 0.8))
  const bySwing = wrenchOf(blade, at, [-0.8, 0.24, 0, 0, 0, 0.8])
  byYaw.forEach((x, i) => {
    expect(x).toBeCloseTo(bySwing[i]!, 12)
  })
})

test('the mirrored blade under the mirrored motion has the mirrored wrench', () => {
  const port = new BladeForce(SHAPE, FLAT_PLATE, WATER, 0.3)
  const starboard = new BladeForce({ ...SHAPE, normal: [0, -1, 0] }, FLAT_PLATE, WATER, 0.3)
  const { pose, twist } = seeded('mirror')
  for (let i = 0; i < 100; i++) {
    const at = pose()
    const motion = twist()
    // y -> -y in the craft frame and in the blade's own: rows and columns 1 change sign.
    const other = at.map((x, k) =>
      k < 9 ? ((Math.floor(k / 3) === 1) !== (k % 3 === 1) ? -x : x) : k === 10 ? -x : x,
    )
    const back = [1, -1, 1, -1, 1, -1]
    const there = wrenchOf(port, at, motion)
    const here = wrenchOf(
      starboard,
      other,
      motion.map((x, k) => x * back[k]!),
    )
    here.forEach((x, k) => {
      expect(x).toBeCloseTo(there[k]! * back[k]!, 10)
    })
  }
})

test('added mass of the whole plate is rho pi/4 w^2 l, and resists along the normal alone', () => {
  const blade = new BladeForce(SHAPE, FLAT_PLATE, WATER, 0)
  blade.wet.at(poseOf({ at: [0, 1, -0.5], turn: [0, 0, 0] }))
  const plate = 1000 * (Math.PI / 4) * 0.16 ** 2 * 0.2
  expect(blade.addedMass).toBeCloseTo(plate, 12)
  const out = new Float64Array(6)
  blade.addInertia(Float64Array.of(3, 2, 5, 0, 0, 0), out)
  expect(out[1]).toBeCloseTo(-2 * plate, 12)
  for (const i of [0, 2, 3, 4, 5]) expect(out[i]).toBeCloseTo(0, 12)
  out.fill(0)
  // About the shaft rho pi/128 w^4 l; about the third axis as a rod of that mass, l^2/12.
  blade.addInertia(Float64Array.of(0, 0, 0, 1, 1, 1), out)
  expect(out[5]).toBeCloseTo(-1000 * (Math.PI / 128) * 0.16 ** 4 * 0.2, 12)
  expect(out[3]).toBeCloseTo((-plate * 0.2 ** 2) / 12, 12)
  expect(out[4]).toBeCloseTo(0, 12)
})

test('the matrix of the added mass is symmetric and never gives energy away, in every pose', () => {
  const blade = new BladeForce(SHAPE, { ...FLAT_PLATE, added: 0.6 }, WATER, 0.3)
  const { pose, twist } = seeded('added mass')
  for (let i = 0; i < 200; i++) {
    blade.wet.at(pose())
    const [a, b] = [twist(), twist()].map((x) => Float64Array.from(x)) as [Float64Array, Float64Array]
    const [fa, fb] = [new Float64Array(6), new Float64Array(6)]
    blade.addInertia(a, fa)
    blade.addInertia(b, fb)
    const dot = (x: Float64Array, y: Float64Array) => x.reduce((sum, v, k) => sum + v * y[k]!, 0)
    expect(dot(a, fb)).toBeCloseTo(dot(b, fa), 12)
    expect(dot(a, fa)).toBeLessThanOrEqual(0)
  }
})

test.each([
  [{ ...SHAPE, length: 0 }, FLAT_PLATE, 'paddle.length is 0 m; expected more than zero'],
  [{ ...SHAPE, width: Number.NaN }, FLAT_PLATE, 'paddle.width is NaN m'],
  [
    { ...SHAPE, shaft: [0, 1, 0] as const },
    FLAT_PLATE,
    'blade.normal and blade.shaft are no unit vectors at right angles',
  ],
  [{ ...SHAPE, shaft: [0, 0, 2] as const }, FLAT_PLATE, 'blade.normal and blade.shaft'],
  [SHAPE, { ...FLAT_PLATE, lift: -1 }, 'blade.lift is -1; expected zero or more'],
  [SHAPE, { ...FLAT_PLATE, drag: Number.POSITIVE_INFINITY }, 'blade.drag is Infinity'],
  [SHAPE, { ...FLAT_PLATE, added: -0.1 }, 'blade.added is -0.1'],
])('%j %j: %s', (shape, flow, message) => {
  expect(() => new BladeForce(shape, flow, WATER, 0.3)).toThrow(message)
})
