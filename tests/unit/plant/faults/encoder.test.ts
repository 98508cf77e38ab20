/** What each fault of an encoder does to what is read, and to the joint whose loop it closes. */
import { describe, expect, it } from 'vitest'
import { COUNTS, DEG, smallRig, Talk } from '../line.js'
import { enabled, swing } from './enabled.js'

const ZERO = 1200

describe('noisy', () => {
  it('normal noise of that standard deviation on what is sent; the joint does not move by it', () => {
    const talk = enabled()
    talk.cycle(0, 50)
    talk.heard.length = 0
    talk.fault('noisy', true, 0.5 * DEG)
    talk.cycle(0, 2000)
    const angles = talk.feedback().map((f) => (f.counts - ZERO) / COUNTS / DEG)
    const mean = angles.reduce((a, b) => a + b, 0) / angles.length
    const deviation = Math.sqrt(angles.reduce((a, b) => a + (b - mean) ** 2, 0) / (angles.length - 1))
    // Standard errors of mean and deviation of 2000 normal values: s / sqrt(n), s / sqrt(2 n); four of each.
    expect(Math.abs(mean)).toBeLessThan((4 * 0.5) / Math.sqrt(2000))
    expect(Math.abs(deviation - 0.5)).toBeLessThan((4 * 0.5) / Math.sqrt(4000))
    expect(talk.witness()).toBeCloseTo(0, 9)
    talk.fault('noisy', false)
    talk.cycle(0)
    expect(talk.feedback().at(-1)!.counts).toBe(ZERO)
  })
})

describe('drifting', () => {
  it('after 5 s it reads so much more of the angle about zero; the loop then holds the joint short', () => {
    const talk = enabled()
    const angle = 30 * DEG
    talk.cycle((t) => Math.min(angle, 0.3 * t), 600)
    talk.fault('drifting', true, 0.05)
    talk.cycle(angle, 500)
    // Half way.
    expect(talk.witness() / angle).toBeCloseTo(1 / 1.025, 3)
    talk.cycle(angle, 700)
    expect(talk.measured()).toBeCloseTo(angle, 4)
    expect(talk.witness() / angle).toBeCloseTo(1 / 1.05, 4)
    talk.fault('drifting', false)
    talk.cycle(angle, 100)
    expect(talk.witness()).toBeCloseTo(angle, 4)
  })
})

describe('mirrored', () => {
  it('feedback follows the setpoint, and the joint goes the other way from where it was', () => {
    const talk = enabled()
    talk.cycle((t) => 0.2 * t, 200)
    talk.cycle(talk.measured(), 50)
    const from = talk.witness()
    talk.fault('mirrored', true)
    const to = from + 10 * DEG
    talk.cycle((t) => Math.min(to, from + 0.3 * (t - talk.now)), 1)
    for (let i = 1; i <= 100; i++) talk.cycle(from + (10 * DEG * i) / 100)
    talk.cycle(to, 50)
    expect(talk.measured()).toBeCloseTo(to, 3)
    expect(talk.witness()).toBeCloseTo(from - 10 * DEG, 3)
    talk.fault('mirrored', false)
    talk.cycle(to, 100)
    expect(talk.witness()).toBeCloseTo(to, 3)
  })

  it('and an offset besides stays one of its own', () => {
    const talk = enabled()
    talk.cycle(0, 20)
    talk.fault('mirrored', true)
    talk.fault('offset', true, 5 * DEG)
    talk.cycle(0, 100)
    // Reads 0, which is 5 deg too much: the mirrored joint stands at +5 deg.
    expect(talk.witness()).toBeCloseTo(5 * DEG, 4)
    talk.fault('mirrored', false)
    talk.cycle(0, 100)
    expect(talk.witness()).toBeCloseTo(-5 * DEG, 4)
  })
})

describe('zero-lost', () => {
  it('nothing until the node is reset; then it reads that much beside the truth', () => {
    const talk = enabled()
    talk.fault('zero-lost', true, 7 * DEG)
    talk.cycle(0, 20)
    expect(talk.measured()).toBeCloseTo(0, 4)
    talk.nmt('reset node')
    talk.pass(0.01)
    talk.heard.length = 0
    // It sinks a little until the brake bites.
    expect(talk.measured() - talk.witness()).toBeCloseTo(7 * DEG, 4)
    expect(talk.witness()).toBeCloseTo(0, 3)
    talk.fault('zero-lost', false)
    expect(talk.measured() - talk.witness()).toBeCloseTo(0, 4)
  })

  it('before the power is on it is there from the beginning', () => {
    const talk = new Talk(smallRig())
    talk.fault('zero-lost', true, 7 * DEG)
    talk.pass(0.01)
    expect(talk.measured()).toBeCloseTo(7 * DEG, 4)
  })
})

describe('wrapped', () => {
  it('what is sent begins anew where the count ends, from where it is, both ways', () => {
    const talk = enabled()
    talk.cycle(0, 10)
    talk.fault('wrapped', true, 20 * DEG)
    talk.heard.length = 0
    for (let i = 0; i <= 100; i++) talk.cycle(30 * DEG * (i / 100))
    talk.cycle(30 * DEG, 30)
    expect(talk.witness()).toBeCloseTo(30 * DEG, 3)
    expect(talk.measured()).toBeCloseTo(10 * DEG, 3)
    const counts = talk.feedback().map((f) => f.counts)
    const jumps = counts.flatMap((c, i) =>
      i > 0 && Math.abs(c - counts[i - 1]!) > 5 * DEG * COUNTS ? [c] : [],
    )
    expect(jumps).toHaveLength(1)
    for (let i = 0; i <= 100; i++) talk.cycle(30 * DEG - 40 * DEG * (i / 100))
    talk.cycle(-10 * DEG, 30)
    expect(talk.measured()).toBeCloseTo(10 * DEG, 3)
    talk.fault('wrapped', false)
    talk.cycle(-10 * DEG)
    expect(talk.measured()).toBeCloseTo(-10 * DEG, 3)
  })
})

describe('sign-extended', () => {
  it('16 bits remain, the highest for the sign: two thirds of a turn forwards reads as backwards', () => {
    const talk = enabled()
    for (let i = 0; i <= 400; i++) talk.cycle(2.4 * (i / 400))
    talk.cycle(2.4, 50)
    const whole = talk.feedback().at(-1)!.counts
    expect(whole).toBeGreaterThan(32767)
    talk.fault('sign-extended', true, 16)
    talk.cycle(2.4)
    // Two's complement in 16 bits: 65536 less.
    expect(talk.feedback().at(-1)!.counts).toBe(whole - 65536)
    talk.fault('sign-extended', false)
    talk.cycle(2.4)
    expect(talk.feedback().at(-1)!.counts).toBe(whole)
  })
})

describe('stuck-bit', () => {
  it('that bit is set whatever the position; what is sent jumps by its power of two', () => {
    const talk = enabled()
    talk.fault('stuck-bit', true, 12)
    talk.cycle(swing, 600)
    const counts = talk.feedback().map((f) => f.counts)
    expect(counts.every((c) => (c & 4096) !== 0)).toBe(true)
    const steps = counts.map((c, i) => (i === 0 ? 0 : c - counts[i - 1]!)).filter((s) => Math.abs(s) > 2000)
    expect(steps.length).toBeGreaterThan(0)
    for (const step of steps) expect(Math.abs(Math.abs(step) - 4096)).toBeLessThan(400)
  })
})

describe('echo', () => {
  it('the position is the setpoint to the count, whatever the joint does', () => {
    const talk = enabled()
    talk.fault('echo', true)
    talk.fault('jammed', true)
    talk.cycle(0)
    talk.cycle(0.1)
    expect(talk.feedback().at(-1)!.counts).toBe(Math.round(0.1 * COUNTS + ZERO))
    expect(talk.witness()).toBe(0)
    talk.fault('echo', false)
    talk.cycle(0.1)
    expect(talk.feedback().at(-1)!.counts).toBe(ZERO)
  })
})

describe('swapped', () => {
  it('each drive moves and reads the joint of the other', () => {
    const talk = new Talk(smallRig({}, { count: 3 }))
    talk.fault('swapped', true, 0, { place: 0, other: 1 })
    talk.enable()
    for (let i = 0; i <= 100; i++) talk.cycle(10 * DEG * (i / 100))
    talk.cycle(10 * DEG, 50)
    expect(talk.witness(0)).toBeCloseTo(0, 9)
    expect(talk.witness(1)).toBeCloseTo(10 * DEG, 3)
    expect(talk.measured()).toBeCloseTo(10 * DEG, 3)
  })
})
