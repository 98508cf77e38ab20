/** The approach: slow enough for everything that can hit a person, on the declared way, held to run. */
import { describe, expect, test } from 'vitest'
import { Approach, type ApproachRig } from '../../../src/bench/approach.js'
import { readRigFile } from '../../../src/files/load.js'
import type { Arm, Pose, Rig, Vector3 } from '../../../src/files/rig.js'
import { randomStream } from '../../../src/random.js'

const DEMO = readRigFile('rigs/reservoir-skiff.yaml', {})
const SEVEN = readRigFile('tests/golden/rigs/seven-joints.yaml', {})

// Forward kinematics a second way: points turned by Rodrigues' formula, joint by joint from the tip to the base.
type Point = [number, number, number]

function turn([x, y, z]: readonly number[], [a, b, c]: Vector3, angle: number): Point {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)]
  const dot = (1 - cos) * (a * x! + b * y! + c * z!)
  return [
    x! * cos + (b * z! - c * y!) * sin + a * dot,
    y! * cos + (c * x! - a * z!) * sin + b * dot,
    z! * cos + (a * y! - b * x!) * sin + c * dot,
  ]
}

/** A point of a frame, in its parent: roll about x, then pitch about y, then yaw about z, then the shift. */
function outOf({ at, turn: [roll, pitch, yaw] }: Pose, p: readonly number[]): Point {
  const q = turn(turn(turn(p, [1, 0, 0], roll), [0, 1, 0], pitch), [0, 0, 1], yaw)
  return [q[0] + at[0], q[1] + at[1], q[2] + at[2]]
}

/** m, craft frame: the ends of all links and points all over the blade, its edges among them. */
function pointsOf(rig: ApproachRig, arm: Arm, q: Float64Array): Point[] {
  const joints = arm.joints.map((i) => rig.joints[i]!)
  const inCraft = (p: readonly number[], last: number): Point => {
    let point = p
    for (let i = last; i >= 0; i--)
      point = outOf(joints[i]!.origin, turn(point, joints[i]!.axis, q[joints[i]!.index]!))
    return outOf(arm.base, point)
  }
  const { normal: n, shaft: s } = arm.tool
  const across = [n[1] * s[2] - n[2] * s[1], n[2] * s[0] - n[0] * s[2], n[0] * s[1] - n[1] * s[0]]
  // What is fixed to the last link goes where its origin and the ends of its three axes go.
  const last = joints.length - 1
  const o = inCraft([0, 0, 0], last)
  const [x, y, z] = [inCraft([1, 0, 0], last), inCraft([0, 1, 0], last), inCraft([0, 0, 1], last)]
  const carried = ([a, b, c]: Point): Point => {
    const at = (i: 0 | 1 | 2): number => o[i] + a * (x[i] - o[i]) + b * (y[i] - o[i]) + c * (z[i] - o[i])
    return [at(0), at(1), at(2)]
  }
  const blade = [-1, -0.5, 0, 0.5, 1].flatMap((a) =>
    [-1, 0, 1].map((b) =>
      outOf(
        arm.tool.pose,
        [0, 1, 2].map((i) => (a * s[i]! * arm.paddle.length + b * across[i]! * arm.paddle.width) / 2),
      ),
    ),
  )
  return [...joints.map((_, i) => inCraft([0, 0, 0], i)), ...blade.map(carried), o]
}

/** m/s, the fastest of all points between two poses a period apart. */
function fastest(rig: ApproachRig, a: Float64Array, b: Float64Array): number {
  let most = 0
  for (const arm of (rig as Rig).arms) {
    const before = pointsOf(rig, arm, a)
    pointsOf(rig, arm, b).forEach((p, i) => {
      const d = Math.hypot(...p.map((x, k) => x - before[i]![k]!))
      most = Math.max(most, d / rig.control.period)
    })
  }
  return most
}

interface Walked {
  readonly speed: number
  /** Greatest shares of the joints' limits. */
  readonly speedShare: number
  readonly accelerationShare: number
  readonly seconds: number
}

/** Runs it to its end. @param held by the second, @param see each pose */
function walk(
  rig: ApproachRig,
  approach: Approach,
  from: Float64Array,
  held: (s: number) => boolean = () => true,
  see: (q: Float64Array, s: number) => void = () => {},
): Walked {
  const { period } = rig.control
  let [before, last] = [from, from]
  let [speed, speedShare, accelerationShare] = [0, 0, 0]
  const out = new Float64Array(from.length)
  for (let k = 0; ; k++) {
    const there = approach.step(out, held(k * period))
    see(out, k * period)
    // Every fourth period: the speed hardly changes in between.
    if (k % 4 === 0) speed = Math.max(speed, fastest(rig, last, out))
    for (const { index: j, limits } of rig.joints) {
      if (!(out[j]! >= limits.lower && out[j]! <= limits.upper)) throw new Error('outside the limits')
      speedShare = Math.max(speedShare, Math.abs(out[j]! - last[j]!) / period / limits.speed)
      const change = Math.abs(out[j]! - 2 * last[j]! + before[j]!) / period ** 2
      accelerationShare = Math.max(accelerationShare, change / limits.acceleration)
    }
    ;[before, last] = [last, out.slice()]
    if (there) return { speed, speedShare, accelerationShare, seconds: (k + 1) * period }
    if (k > 60_000) throw new Error('the approach does not end')
  }
}

function randomPose(rig: ApproachRig, random: { uniform(): number }): Float64Array {
  return Float64Array.from(rig.joints, ({ limits }) => {
    const share = random.uniform()
    return limits.lower + share * (limits.upper - limits.lower)
  })
}

describe.each([
  ['six joints', DEMO],
  ['seven joints', SEVEN],
] as const)('%s', (_, rig) => {
  test.each([0.25, 0.05])('no end of a link and no edge of a blade is faster than %d m/s', (tipSpeed) => {
    const random = randomStream(5, 'approaches')
    const slow = { ...rig, motion: { ...rig.motion, tipSpeed }, link: { approach: 1 } }
    for (let i = 0; i < (tipSpeed < 0.1 ? 1 : 3); i++) {
      const [from, to] = [randomPose(rig, random), randomPose(rig, random)]
      const { speed, speedShare } = walk(slow, new Approach(slow, [from, to]), from)
      expect(speed).toBeLessThanOrEqual(tipSpeed)
      // Nor is it needlessly slow: the bound between the places of the grid costs a few per cent.
      expect(speed).toBeGreaterThan(0.9 * tipSpeed)
      expect(speedShare).toBeLessThan(1)
    }
  })

  test.each([
    { approach: 0.03, speedCap: 1, share: 0.03 },
    { approach: 0.15, speedCap: 0.02, share: 0.02 },
  ])('approach $approach and speed cap $speedCap hold too', ({ approach, speedCap, share }) => {
    const slow = { ...rig, motion: { ...rig.motion, tipSpeed: 0.25, speedCap }, link: { approach } }
    const from = randomPose(rig, randomStream(6, 'from'))
    const to = randomPose(rig, randomStream(6, 'to'))
    const { speed, speedShare, accelerationShare } = walk(slow, new Approach(slow, [from, to]), from)
    expect(speed).toBeLessThanOrEqual(0.25)
    expect(speedShare).toBeLessThanOrEqual(share * (1 + 1e-9))
    expect(accelerationShare).toBeLessThanOrEqual(share * (1 + 1e-6))
  })
})

test('it goes through the via-points in their order, rests at each, and between them no joint turns back', () => {
  const random = randomStream(7, 'via')
  const poses = Array.from({ length: 4 }, () => randomPose(DEMO, random))
  const approach = new Approach(DEMO, poses)
  while (!approach.plan(Infinity));
  let next = 1
  let last = poses[0]!
  let back = false
  const { seconds } = walk(DEMO, approach, poses[0]!, undefined, (q) => {
    const [from, to] = [poses[next - 1]!, poses[next]!]
    back ||= DEMO.joints.some(({ index: j }) => (q[j]! - last[j]!) * (to[j]! - from[j]!) < -1e-15)
    last = q.slice()
    if (q.every((x, j) => x === to[j])) next = Math.min(next + 1, poses.length - 1)
  })
  expect(back).toBe(false)
  expect(last).toEqual(poses[3])
  expect(next).toBe(3)
  expect(seconds).toBeCloseTo(approach.duration, 1)
})

test('while its time is worked out, a little in each period, the arms stand where they are', () => {
  const random = randomStream(10, 'poses')
  const [from, to] = [randomPose(DEMO, random), randomPose(DEMO, random)]
  const [bit, whole] = [new Approach(DEMO, [from, to]), new Approach(DEMO, [from, to])]
  whole.plan(Infinity)
  expect(bit.plan(1)).toBe(false)
  const out = new Float64Array(from.length)
  let periods = 0
  while (!bit.plan(0)) {
    bit.step(out)
    periods++
    if (!bit.plan(0)) expect(out).toEqual(from)
  }
  expect(periods).toBeGreaterThan(5)
  expect(bit.duration).toBe(whole.duration)
})

test('a pose that is there already takes one period', () => {
  const pose = randomPose(DEMO, randomStream(8, 'there'))
  expect(walk(DEMO, new Approach(DEMO, [pose, pose]), pose).seconds).toBe(DEMO.control.period)
})

describe('held to run', () => {
  const from = randomPose(DEMO, randomStream(9, 'from'))
  const to = randomPose(DEMO, randomStream(9, 'to'))

  test('let go of in mid-move it comes to rest on its path, inside limits, and goes on when held again', () => {
    const approach = new Approach(DEMO, [from, to])
    let paused = 0
    let bent = 0
    let rested: Float64Array | null = null
    const walked = walk(
      DEMO,
      approach,
      from,
      (s) => s < 2 || s > 5,
      (q, s) => {
        // Straight in joint space: every joint has gone the same share of its way.
        const shares = q.map((x, j) => (x - from[j]!) / (to[j]! - from[j]!))
        for (const share of shares) bent = Math.max(bent, Math.abs(share - shares[0]!))
        if (!approach.paused) return
        paused++
        if (s < 5) {
          rested ??= q.slice()
          expect(q).toEqual(rested)
        }
      },
    )
    expect(bent).toBeLessThan(5e-10)
    expect(paused * DEMO.control.period).toBeGreaterThan(2)
    expect(walked.seconds).toBeGreaterThan(approach.duration + 2.5)
    expect(walked.speed).toBeLessThanOrEqual(0.25)
    expect(walked.accelerationShare).toBeLessThan(0.6)
  })

  test('never held, nothing moves', () => {
    const approach = new Approach(DEMO, [from, to], false)
    const out = new Float64Array(from.length)
    for (let k = 0; k < 1000; k++) expect(approach.step(out, false)).toBe(false)
    expect(out).toEqual(from)
  })
})
