/**
 * Forward kinematics against a published arm.
 *
 * Source: P. I. Corke and B. Armstrong-Helouvry, "A search for consensus among model parameters reported for the
 * PUMA 560 robot", ICRA 1994, pp. 1608-1613: standard Denavit-Hartenberg table, and the pose (4 decimals) that goes
 * with q = [0, pi/4, pi, 0, pi/4, 0].
 */
import { expect, test } from 'vitest'
import type { Pose, Vector3 } from '../../src/files/rig.js'
import { Chain } from '../../src/motion/chain.js'

const HALF = Math.PI / 2
const TABLE = [
  { d: 0, a: 0, alpha: HALF },
  { d: 0, a: 0.4318, alpha: 0 },
  { d: 0.15005, a: 0.0203, alpha: -HALF },
  { d: 0.4318, a: 0, alpha: HALF },
  { d: 0, a: 0, alpha: -HALF },
  { d: 0, a: 0, alpha: 0 },
]
const NOWHERE: Pose = { at: [0, 0, 0], turn: [0, 0, 0] }
/** What follows joint j in standard form, Tz(d) Tx(a) Rx(alpha), is where joint j + 1 stands. */
const AFTER = TABLE.map(({ d, a, alpha }): Pose => ({ at: [a, 0, d], turn: [alpha, 0, 0] }))
const Z: Vector3 = [0, 0, 1]

test('the published pose', () => {
  const joints = TABLE.map((_, i) => ({ origin: i === 0 ? NOWHERE : AFTER[i - 1]!, axis: Z }))
  const tool = { pose: AFTER[5]!, normal: [1, 0, 0] as const, shaft: Z, constrained: [] }
  const chain = new Chain({ base: NOWHERE, tool }, joints)
  chain.forward(Float64Array.of(0, Math.PI / 4, Math.PI, 0, Math.PI / 4, 0))
  const published = [0, 0, 1, 0, 1, 0, -1, 0, 0, 0.5963, -0.15005, -0.014354]
  published.forEach((x, i) => void expect(Math.abs(chain.blade[i]! - x)).toBeLessThanOrEqual(5e-5))
})
