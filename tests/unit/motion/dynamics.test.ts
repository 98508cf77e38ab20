/** What every mechanism obeys. Numbers from elsewhere: tests/outside/dynamics-*.test.ts. */
import { describe, expect, test } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import type { Train } from '../../../src/motion/body.js'
import { Chain } from '../../../src/motion/chain.js'
import { Dynamics } from '../../../src/motion/dynamics.js'
import { friction } from '../../../src/motion/friction.js'
import { Links } from '../../../src/motion/links.js'
import { randomStream } from '../../../src/random.js'
import { anyBody, type InventedArm, skewArm } from '../../setup/invented-arm.js'

function armOf(file: string): InventedArm {
  const rig = readRigFile(file, {})
  const arm = rig.arms[0]!
  return { base: arm.base, tool: arm.tool, joints: arm.joints.map((i) => rig.joints[i]!) }
}

const ARMS: [string, InventedArm][] = [
  ...['rigs/reservoir-skiff.yaml', 'tests/golden/rigs/four-joints.yaml'].map(
    (file): [string, InventedArm] => [file, armOf(file)],
  ),
  ['a skew arm', skewArm(randomStream(7, 'skew arm'))],
]
const BLADE = { normal: [1, 0, 0], shaft: [0, 0, 1], constrained: [] } as const

describe.each(ARMS)('%s', (name, arm) => {
  const n = arm.joints.length
  const random = randomStream(3, name)
  const trains: Train[] = arm.joints.map(() => ({
    rotor: 0.3 * random.uniform(),
    viscous: random.uniform(),
    coulomb: [random.uniform(), -random.uniform()],
  }))
  const links = new Links(
    arm,
    arm.joints,
    arm.joints.map(() => anyBody(random)),
    trains,
    anyBody(random),
  )
  const dynamics = new Dynamics(links)
  const chain = new Chain({ base: arm.base, tool: { ...arm.tool, ...BLADE } }, arm.joints)
  const any = (size: number, count = n): Float64Array =>
    Float64Array.from({ length: count }, () => size * (2 * random.uniform() - 1))
  const vector = (): Float64Array => new Float64Array(n)
  const energyAt = (q: Float64Array, qd: Float64Array): { kinetic: number; potential: number } => {
    const out = new Float64Array(2)
    dynamics.energy(q, qd, out)
    return { kinetic: out[0]!, potential: out[1]! }
  }
  const nudged = (q: Float64Array, i: number, by: number): Float64Array => {
    const out = q.slice()
    out[i] = out[i]! + by
    return out
  }

  test('a load eases the joints by the transposed Jacobian times it, and by its work on a small move', () => {
    const jacobian = new Float64Array(6 * n)
    const h = 1e-5
    for (let round = 0; round < 20; round++) {
      const [q, qd, qdd, load] = [any(3), any(2), any(5), any(20, 6)]
      const [free, laden, pushed] = [vector(), vector(), vector()]
      // Without its moment a load does its work along the way of the blade's centre.
      const force = load.map((x, row) => (row < 3 ? x : 0))
      dynamics.inverse(q, qd, qdd, null, free)
      dynamics.inverse(q, qd, qdd, load, laden)
      dynamics.inverse(q, qd, qdd, force, pushed)
      chain.forward(q)
      chain.jacobian(jacobian)
      for (let i = 0; i < n; i++) {
        let expected = 0
        for (let row = 0; row < 6; row++) expected += jacobian[row * n + i]! * load[row]!
        expect(free[i]! - laden[i]!).toBeCloseTo(expected, 10)
        chain.forward(nudged(q, i, h))
        const after = chain.blade.slice(9)
        chain.forward(nudged(q, i, -h))
        const work = after.reduce((sum, x, k) => sum + force[k]! * (x - chain.blade[9 + k]!), 0)
        expect(free[i]! - pushed[i]!).toBeCloseTo(work / (2 * h), 6)
      }
    }
  })

  test('holding torques are the slope of the potential energy, for any gravity', () => {
    const h = 1e-5
    for (const gravity of [
      [0, 0, -9.80665],
      [1, -2, 3],
    ] as const) {
      dynamics.gravity = gravity
      for (let round = 0; round < 20; round++) {
        const [q, tau, rest] = [any(3), vector(), vector()]
        dynamics.hold(q, tau)
        for (let i = 0; i < n; i++) {
          const [low, high] = [energyAt(nudged(q, i, -h), rest), energyAt(nudged(q, i, h), rest)]
          expect(tau[i]!).toBeCloseTo((high.potential - low.potential) / (2 * h), 6)
        }
      }
    }
    dynamics.gravity = [0, 0, -9.80665]
  })

  test('the mass matrix is symmetric, positive definite, and gives the kinetic energy of the bodies', () => {
    const m = new Float64Array(n * n)
    for (let round = 0; round < 100; round++) {
      const [q, qd] = [any(3), any(3)]
      dynamics.mass(q, m)
      let twice = 0
      for (let i = 0; i < n; i++) {
        for (let j = 0; j < n; j++) {
          expect(m[i * n + j]).toBe(m[j * n + i])
          twice += qd[i]! * m[i * n + j]! * qd[j]!
        }
      }
      const { kinetic } = energyAt(q, qd)
      expect(Math.abs(twice / 2 / kinetic - 1)).toBeLessThan(1e-12)
      expect(leastPivot(m, n)).toBeGreaterThan(0)
    }
  })

  test('column by column the mass matrix is inverse dynamics without gravity', () => {
    const [m, tau, rest] = [new Float64Array(n * n), vector(), vector()]
    dynamics.gravity = [0, 0, 0]
    const q = any(3)
    dynamics.mass(q, m)
    for (let i = 0; i < n; i++) {
      dynamics.inverse(q, rest, nudged(rest, i, 1), null, tau)
      for (let j = 0; j < n; j++) expect(tau[j]!).toBeCloseTo(m[i * n + j]!, 12)
    }
    dynamics.gravity = [0, 0, -9.80665]
  })

  test('forward dynamics undoes inverse dynamics', () => {
    for (let round = 0; round < 100; round++) {
      const [q, qd, qdd, load] = [any(3), any(3), any(10), any(30, 6)]
      const [tau, out] = [vector(), vector()]
      dynamics.inverse(q, qd, qdd, load, tau)
      dynamics.forward(q, qd, tau, load, out)
      for (let i = 0; i < n; i++) expect(Math.abs(out[i]! - qdd[i]!)).toBeLessThan(1e-9)
    }
  })

  /** 0.5 s by classical Runge-Kutta steps of 0.25 ms; the work that goes in is a state like the others. */
  function move(
    drive: Float64Array,
    load: Float64Array | null,
    rub: boolean,
  ): { gained: number; work: number } {
    const jacobian = new Float64Array(6 * n)
    const size = 2 * n + 1
    let state: Float64Array = Float64Array.of(...any(1), ...any(1), 0)
    const slope = (s: Float64Array): Float64Array => {
      const [q, qd] = [s.subarray(0, n), s.subarray(n, 2 * n)]
      const [lost, qdd] = [vector(), vector()]
      if (rub) friction(trains, qd, lost)
      const tau = drive.map((t, i) => t - lost[i]!)
      dynamics.forward(q, qd, tau, load, qdd)
      chain.forward(q)
      chain.jacobian(jacobian)
      let power = 0
      for (let i = 0; i < n; i++) {
        power += tau[i]! * qd[i]!
        for (let row = 0; row < 6; row++) power += (load?.[row] ?? 0) * jacobian[row * n + i]! * qd[i]!
      }
      return Float64Array.of(...qd, ...qdd, power)
    }
    const ahead = (by: number, k: Float64Array): Float64Array => state.map((x, i) => x + by * k[i]!)
    const total = (): number => {
      const { kinetic, potential } = energyAt(state.subarray(0, n), state.subarray(n, 2 * n))
      return kinetic + potential
    }
    const [start, h] = [total(), 0.25e-3]
    for (let step = 0; step < 2000; step++) {
      const k1 = slope(state)
      const k2 = slope(ahead(h / 2, k1))
      const k3 = slope(ahead(h / 2, k2))
      const k4 = slope(ahead(h, k3))
      const mean = Float64Array.from(
        { length: size },
        (_, i) => (k1[i]! + 2 * k2[i]! + 2 * k3[i]! + k4[i]!) / 6,
      )
      state = ahead(h, mean)
    }
    return { gained: total() - start, work: state[2 * n]! }
  }

  test('left to itself the arm keeps its energy', () => {
    const { gained } = move(vector(), null, false)
    expect(Math.abs(gained)).toBeLessThan(1e-7)
  })

  test('driven and laden it gains what drives and load put in', () => {
    const { gained, work } = move(any(5), any(5, 6), false)
    expect(Math.abs(work)).toBeGreaterThan(0.1)
    expect(Math.abs(gained - work)).toBeLessThan(1e-7)
  })

  test('friction only takes', () => {
    const { gained } = move(vector(), null, true)
    expect(gained).toBeLessThan(-0.01)
  })
})

/** The least pivot of Gaussian elimination: positive for a positive definite matrix only. */
function leastPivot(m: Float64Array, n: number): number {
  const a = m.slice()
  let least = Number.POSITIVE_INFINITY
  for (let k = 0; k < n; k++) {
    least = Math.min(least, a[k * n + k]!)
    for (let i = k + 1; i < n; i++) {
      const share = a[i * n + k]! / a[k * n + k]!
      for (let j = k; j < n; j++) a[i * n + j] = a[i * n + j]! - share * a[k * n + j]!
    }
  }
  return least
}

test('friction acts against the motion, with its own value each way, and has none at standstill', () => {
  const trains: Train[] = Array(3).fill({ rotor: 0, viscous: 2, coulomb: [0.5, -0.3] })
  const out = new Float64Array(3)
  friction(trains, Float64Array.of(1.5, 0, -1.5), out)
  expect([...out]).toEqual([3.5, 0, -3.3])
})

test('a body or a train too few is refused', () => {
  const arm = armOf('rigs/reservoir-skiff.yaml')
  const random = randomStream(1, 'bodies')
  const bodies = arm.joints.map(() => anyBody(random))
  const trains = arm.joints.map(() => ({ rotor: 0 }))
  expect(() => new Links(arm, arm.joints, bodies.slice(1), trains, null)).toThrow(
    '6 joints, 5 bodies and 6 trains',
  )
  expect(() => new Links(arm, arm.joints, bodies, trains.slice(1), null)).toThrow(
    '6 joints, 6 bodies and 5 trains',
  )
})
