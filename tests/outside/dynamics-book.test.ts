/**
 * Dynamics against the worked examples of a textbook.
 *
 * Source: K. M. Lynch and F. C. Park, "Modern Robotics: Mechanics, Planning, and Control" (2017), chapter 8; inputs and outputs
 * (8 decimals) as the docstrings of its companion library have them.
 *
 * The book gives screw axes in the space frame and link frames at the centres of mass. The first screw's angular part
 * (1, 0, 1) is no unit vector: its joint turns by the root of 2 times the book's variable, and the book's torque is so many times
 * ours. Our joint frames stand on the axes and are turned as the space frame is.
 */
import { expect, test } from 'vitest'
import type { Vector3 } from '../../src/files/rig.js'
import { type Body, placed } from '../../src/motion/body.js'
import { Chain } from '../../src/motion/chain.js'
import { Dynamics } from '../../src/motion/dynamics.js'
import { Links } from '../../src/motion/links.js'
import { identity, multiply, poseOf } from '../../src/motion/pose.js'

/** Angular part, linear part. */
const SCREWS: [Vector3, Vector3][] = [
  [
    [1, 0, 1],
    [0, 1, 0],
  ],
  [
    [0, 1, 0],
    [-0.089, 0, 0],
  ],
  [
    [0, 1, 0],
    [-0.089, 0, 0.425],
  ],
]
/** Each link frame in the one before; the last is the end-effector. The second turns z onto x. */
const FRAMES = [
  { at: [0, 0, 0.089159], turn: [0, 0, 0] },
  { at: [0.28, 0.13585, 0], turn: [0, Math.PI / 2, 0] },
  { at: [0, -0.1197, 0.395], turn: [0, 0, 0] },
  { at: [0, 0, 0.14225], turn: [0, 0, 0] },
] as const
/** Principal moments about x, y, z; mass. */
const INERTIAS = [
  [0.010267, 0.010267, 0.00666, 3.7],
  [0.22689, 0.22689, 0.0151074, 8.393],
  [0.0494433, 0.0494433, 0.004095, 2.275],
] as const

const scale = SCREWS.map(([turn]) => Math.hypot(...turn))
const axes = SCREWS.map(([turn], i) => turn.map((x) => x / scale[i]!) as unknown as Vector3)
/** w x v / |w|^2: the point of the axis that is nearest to the origin. */
const points = SCREWS.map(([w, v]): Vector3 => {
  const square = w[0] ** 2 + w[1] ** 2 + w[2] ** 2
  return [
    (w[1] * v[2] - w[2] * v[1]) / square,
    (w[2] * v[0] - w[0] * v[2]) / square,
    (w[0] * v[1] - w[1] * v[0]) / square,
  ]
})
const less = (a: ArrayLike<number>, b: Vector3): Vector3 => [a[0]! - b[0], a[1]! - b[1], a[2]! - b[2]]
/** Each link frame, and the end-effector's, in the space frame at position zero. */
const home: Float64Array[] = []
for (const frame of FRAMES) {
  const pose = new Float64Array(12)
  multiply(home.at(-1) ?? identity(), poseOf(frame), pose)
  home.push(pose)
}
const joints = axes.map((axis, i) => {
  const at = i === 0 ? points[0]! : less(points[i]!, points[i - 1]!)
  return { origin: { at, turn: [0, 0, 0] as const }, axis }
})
const bodies = INERTIAS.map(([xx, yy, zz, mass], i): Body => {
  const pose = home[i]!.slice()
  pose.set(less(pose.subarray(9), points[i]!), 9)
  return placed({ mass, centre: [0, 0, 0], inertia: [xx, yy, zz, 0, 0, 0] }, pose)
})
const tool = { at: less(home[3]!.subarray(9), points[2]!), turn: FRAMES[1].turn }
const arm = { base: { at: [0, 0, 0], turn: [0, 0, 0] }, tool: { pose: tool } } as const
const trains = axes.map(() => ({ rotor: 0 }))
const dynamics = new Dynamics(new Links(arm, joints, bodies, trains, null))
const blade = { normal: [1, 0, 0] as const, shaft: [0, 0, 1] as const, constrained: [] }
const chain = new Chain({ base: arm.base, tool: { pose: tool, ...blade } }, joints)

const FREE_FALL: Vector3 = [0, 0, -9.8]
/** The book's joint variables in ours, and its speeds and accelerations likewise. */
const ours = (book: readonly number[]): Float64Array => Float64Array.from(book, (x, i) => x * scale[i]!)
const Q = ours([0.1, 0.1, 0.1])
const QD = ours([0.1, 0.2, 0.3])
const QDD = ours([2, 1.5, 1])
const NONE = new Float64Array(3)

/** The end-effector exerts a moment (1, 1, 1) and a force (1, 1, 1) in its own frame; the load is what answers them. */
function load(): Float64Array {
  chain.forward(Q)
  const sums = [0, 3, 6].map((r) => -(chain.blade[r]! + chain.blade[r + 1]! + chain.blade[r + 2]!))
  return Float64Array.of(...sums, ...sums)
}

function expectPrinted(values: readonly number[], printed: readonly number[]): void {
  printed.forEach(
    (x, i) => void expect(Math.abs(values[i]! - x), `${values[i]} for ${x}`).toBeLessThan(5.01e-9),
  )
}

function torques(qd: Float64Array, qdd: Float64Array, push: Float64Array | null, gravity: Vector3): number[] {
  const tau = new Float64Array(3)
  dynamics.gravity = gravity
  dynamics.inverse(Q, qd, qdd, push, tau)
  return [...tau].map((t, i) => t * scale[i]!)
}

test('the whole of inverse dynamics', () => {
  expectPrinted(torques(QD, QDD, load(), FREE_FALL), [74.69616155, -33.06766016, -3.23057314])
})

test('gravity', () => {
  expectPrinted(torques(NONE, NONE, null, FREE_FALL), [28.40331262, -37.64094817, -5.4415892])
})

test('Coriolis and centripetal torques', () => {
  expectPrinted(torques(QD, NONE, null, [0, 0, 0]), [0.26453118, -0.05505157, -0.00689132])
})

test('what the force at the end-effector takes', () => {
  expectPrinted(torques(NONE, NONE, load(), [0, 0, 0]), [1.40954608, 1.85771497, 1.392409])
})

test('the mass matrix (9 digits)', () => {
  const m = new Float64Array(9)
  dynamics.mass(Q, m)
  const book = [...m].map((x, i) => x * scale[Math.floor(i / 3)]! * scale[i % 3]!)
  const printed = [22.543338, -0.307146754, -0.00718426391, 1.96850717, 0.432157368, 0.191630858]
  ;[0, 1, 2, 4, 5, 8].forEach((at, i) => {
    expect(Math.abs(book[at]! / printed[i]! - 1)).toBeLessThan(5e-9)
    expect(book[3 * (at % 3) + Math.floor(at / 3)]).toBe(book[at])
  })
})

test('forward dynamics', () => {
  const qdd = new Float64Array(3)
  // Power is the same in both variables.
  const tau = Float64Array.from([0.5, 0.6, 0.7], (t, i) => t / scale[i]!)
  dynamics.gravity = FREE_FALL
  dynamics.forward(Q, QD, tau, load(), qdd)
  expectPrinted(
    [...qdd].map((x, i) => x / scale[i]!),
    [-0.97392907, 25.58466784, -32.91499212],
  )
})
