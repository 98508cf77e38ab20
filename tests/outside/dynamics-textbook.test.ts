/**
 * Dynamics against a published arm.
 *
 * Source of the parameters: P. I. Corke and B. Armstrong-Helouvry, "A search for consensus among model parameters reported for
 * the PUMA 560 robot", ICRA 1994, pp. 1608-1613; of the results (4 decimals): an open robotics toolbox that carries them.
 *
 * In standard Denavit-Hartenberg form link j's frame comes after its transform Rz(q) Tz(d) Tx(a) Rx(alpha): at the far
 * end of the link. Our joint frame comes after Rz(q) alone. A link's body so stands in our joint frame at (a, 0, d), turned by
 * alpha about x; `placed` moves it there.
 */
import { expect, test } from 'vitest'
import type { Pose, Vector3 } from '../../src/files/rig.js'
import { type Body, placed, type Train } from '../../src/motion/body.js'
import { Chain } from '../../src/motion/chain.js'
import { Dynamics } from '../../src/motion/dynamics.js'
import { friction } from '../../src/motion/friction.js'
import { Links } from '../../src/motion/links.js'
import { poseOf } from '../../src/motion/pose.js'

const HALF = Math.PI / 2
/** DH; mass, centre and inertia (about the centre, principal) in the frame after the transform; motor side of the drive train. */
// biome-ignore format: a table
const TABLE = [
  { d: 0, a: 0, alpha: HALF, m: 0, r: [0, 0, 0], i: [0, .35, 0], jm: 200e-6, g: -62.6111, b: 1.48e-3, tc: [.395, -.435] },
  { d: 0, a: .4318, alpha: 0, m: 17.4, r: [-.3638, .006, .2275], i: [.13, .524, .539], jm: 200e-6, g: 107.815, b: .817e-3, tc: [.126, -.071] },
  { d: .15005, a: .0203, alpha: -HALF, m: 4.8, r: [-.0203, -.0141, .070], i: [.066, .086, .0125], jm: 200e-6, g: -53.7063, b: 1.38e-3, tc: [.132, -.105] },
  { d: .4318, a: 0, alpha: HALF, m: .82, r: [0, .019, 0], i: [1.8e-3, 1.3e-3, 1.8e-3], jm: 33e-6, g: 76.0364, b: 71.2e-6, tc: [11.2e-3, -16.9e-3] },
  { d: 0, a: 0, alpha: -HALF, m: .34, r: [0, 0, 0], i: [.3e-3, .4e-3, .3e-3], jm: 33e-6, g: 71.923, b: 82.6e-6, tc: [9.26e-3, -14.5e-3] },
  { d: 0, a: 0, alpha: 0, m: .09, r: [0, 0, .032], i: [.15e-3, .15e-3, .04e-3], jm: 33e-6, g: 76.686, b: 36.7e-6, tc: [3.96e-3, -10.5e-3] },
] as const
const NOWHERE: Pose = { at: [0, 0, 0], turn: [0, 0, 0] }
const AFTER = TABLE.map(({ d, a, alpha }): Pose => ({ at: [a, 0, d], turn: [alpha, 0, 0] }))
const joints = TABLE.map((_, i) => ({
  origin: i === 0 ? NOWHERE : AFTER[i - 1]!,
  axis: [0, 0, 1] as Vector3,
}))
const bodies = TABLE.map(({ m, r, i: [xx, yy, zz] }, j): Body => {
  return placed({ mass: m, centre: r, inertia: [xx, yy, zz, 0, 0, 0] }, poseOf(AFTER[j]!))
})
/** From the motor's side to the joint's: G^2 Jm, G^2 B, |G| Tc. */
const trains = TABLE.map(({ jm, g, b, tc: [forwards, backwards] }): Train => {
  return { rotor: g * g * jm, viscous: g * g * b, coulomb: [Math.abs(g) * forwards, Math.abs(g) * backwards] }
})
const arm = { base: NOWHERE, tool: { pose: AFTER[5]! } }
const dynamics = new Dynamics(new Links(arm, joints, bodies, trains, null))
dynamics.gravity = [0, 0, -9.81]

const STATE = Float64Array.of(0, Math.PI / 4, Math.PI, 0, Math.PI / 4, 0)
const ZERO = new Float64Array(6)
const ONE = new Float64Array(6).fill(1)

/** Within half a unit of the last digit printed. */
function expectPrinted(ours: Float64Array, printed: readonly string[]): void {
  expect(ours).toHaveLength(printed.length)
  printed.forEach((text, i) => {
    const digits = text.split('.')[1]?.length ?? 0
    expect(Math.abs(ours[i]! - Number(text)), `${ours[i]} for ${text}`).toBeLessThanOrEqual(
      0.5001 * 10 ** -digits,
    )
  })
}

/** What drives must give, friction in. */
function needed(qd: Float64Array, qdd: Float64Array, load: Float64Array | null = null): Float64Array {
  const [tau, rub] = [new Float64Array(6), new Float64Array(6)]
  dynamics.inverse(STATE, qd, qdd, load, tau)
  friction(trains, qd, rub)
  return tau.map((t, i) => t + rub[i]!)
}

test.each([
  [
    [0, HALF / 2, Math.PI, 0, HALF / 2, 0],
    ['0.0000', '31.6399', '6.0351', '0.0000', '0.0283', '0.0000'],
  ],
  [
    [0, HALF / 2, -Math.PI, 1, HALF / 2, 0],
    ['0.0000', '31.6334', '6.0286', '-0.0119', '0.0218', '0.0000'],
  ],
  [
    [0, HALF, -Math.PI, 1, HALF, 0],
    ['0.0000', '7.7198', '8.7439', '-0.0238', '0.0000', '0.0000'],
  ],
])('gravity torques at %j', (q, printed) => {
  const tau = new Float64Array(6)
  dynamics.hold(Float64Array.from(q), tau)
  expectPrinted(tau, printed)
})

test.each([
  ['from rest', ZERO, ONE, ['3.35311', '36.0025', '7.42596', '0.190043', '0.203441', '0.194133']],
  ['moving', ONE, ONE, ['32.4952', '60.867', '17.7436', '1.45452', '1.29911', '0.713781']],
  ['at constant speed', ONE, ZERO, ['29.1421', '56.5044', '16.3528', '1.26448', '1.12392', '0.519648']],
])('inverse dynamics %s', (_, qd, qdd, printed) => {
  expectPrinted(needed(qd, qdd), printed)
})

test('a wrench that the tip exerts, given in its own frame', () => {
  const chain = new Chain(
    { base: NOWHERE, tool: { ...arm.tool, normal: [1, 0, 0], shaft: [0, 0, 1], constrained: [] } },
    joints,
  )
  chain.forward(STATE)
  const rows = [0, 3, 6].map((r) => chain.blade.subarray(r, r + 3))
  const outOfTip = rows.map(([x, y, z]) => x! * 1 + y! * 2 + z! * 3)
  // The world pushes back.
  const load = Float64Array.from([...outOfTip, ...outOfTip], (x) => -x)
  expectPrinted(needed(ZERO, ZERO, load), ['0.642756', '29.0866', '4.70321', '2.82843', '-1.97175', '3'])
})

test('the mass matrix, rotors in', () => {
  const m = new Float64Array(36)
  dynamics.mass(STATE, m)
  expectPrinted(
    Float64Array.from([0, 7, 14, 21, 28, 35, 1, 2, 8], (i) => m[i]!),
    ['3.6594', '4.4137', '0.9378', '0.1925', '0.1713', '0.1941', '-0.4044', '0.1006', '0.3509'],
  )
})

test('forward dynamics, friction in', () => {
  const qd = Float64Array.of(0.1, 0.2, 0.8, 0.2, 0.5, 1)
  const drives = Float64Array.of(1, 3.2, 1.8, 0.1, 0.7, 4.6)
  const [rub, qdd] = [new Float64Array(6), new Float64Array(6)]
  friction(trains, qd, rub)
  const tau = drives.map((t, i) => t - rub[i]!)
  dynamics.forward(STATE, qd, tau, null, qdd)
  expectPrinted(qdd, ['-7.4102', '-9.8432', '-10.9694', '-4.4314', '-0.9881', '21.0228'])
})
