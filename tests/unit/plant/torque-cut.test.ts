/** Motors that cannot give what is asked: by what holds of any answer that is right. */
import { describe, expect, it } from 'vitest'
import { TorqueCut } from '../../../src/plant/torque-cut.js'
import { randomStream } from '../../../src/random.js'

const random = randomStream(11, 'torque cut')
const N = 6

/** A A^T + a little: a mass matrix that couples everything. */
function anyMass(): Float64Array {
  const a = Array.from({ length: N * N }, () => 2 * random.uniform() - 1)
  return Float64Array.from({ length: N * N }, (_, k) => {
    const [i, j] = [Math.floor(k / N), k % N]
    let sum = i === j ? 0.1 : 0
    for (let m = 0; m < N; m++) sum += a[i * N + m]! * a[j * N + m]!
    return sum
  })
}

describe('a cut', () => {
  it('leaves who can bear it at the motion that was asked, and lets the others give their most: 500 arms', () => {
    const cut = new TorqueCut(N)
    const change = new Float64Array(N)
    let several = 0
    let joined = 0
    for (let k = 0; k < 500; k++) {
      const mass = anyMass()
      const most = Float64Array.from({ length: N }, () => 1 + 4 * random.uniform())
      const asked = Float64Array.from({ length: N }, () => 6 * (2 * random.uniform() - 1))
      const torques = asked.slice()
      cut.solve(mass, most, torques, change)
      const beyond = asked.filter((x, i) => Math.abs(x) > most[i]!).length
      const held = change.filter((x) => x !== 0).length
      if (held > 1) several++
      if (held > beyond) joined++
      for (let i = 0; i < N; i++) {
        // The equation of motion holds with what is given.
        let given = asked[i]!
        for (let j = 0; j < N; j++) given += mass[i * N + j]! * change[j]!
        expect(torques[i]).toBeCloseTo(given, 9)
        if (change[i] === 0) expect(Math.abs(torques[i]!)).toBeLessThanOrEqual(most[i]! + 1e-12)
        else expect(Math.abs(torques[i]!)).toBeCloseTo(most[i]!, 7)
      }
    }
    // Both kinds of cases were there.
    expect(several).toBeGreaterThan(100)
    expect(joined).toBeGreaterThan(20)
  })

  it('changes nothing where every motor bears it, and never one that may give anything', () => {
    const cut = new TorqueCut(2)
    const change = new Float64Array(2)
    const torques = Float64Array.of(3, -900)
    cut.solve(Float64Array.of(2, 1, 1, 3), Float64Array.of(4, Number.POSITIVE_INFINITY), torques, change)
    expect([...change]).toEqual([0, 0])
    expect([...torques]).toEqual([3, -900])
  })

  it('of one joint is torque over inertia', () => {
    const cut = new TorqueCut(1)
    const change = new Float64Array(1)
    const torques = Float64Array.of(-10)
    cut.solve(Float64Array.of(0.5), Float64Array.of(4), torques, change)
    expect(change[0]).toBeCloseTo(12, 12)
    expect(torques[0]).toBeCloseTo(-4, 12)
  })
})
