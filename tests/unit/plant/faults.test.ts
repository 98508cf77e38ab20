import { describe, expect, it } from 'vitest'
import { OBJECT } from '../../../src/wire/cia402/objects.js'
import { readRequest } from '../../../src/wire/cia402/sdo.js'
import { FOLLOWING_ERROR_BIT } from '../../../src/wire/cia402/state.js'
import { COUNTS, DEG, smallRig, Talk } from './line.js'

const enabled = (overrides: Parameters<Talk['enable']>[0] = [], seed = 1) => {
  const talk = new Talk(smallRig(), seed)
  talk.enable(overrides)
  talk.heard.length = 0
  return talk
}
/** A slow swing, rad. */
const swing = (t: number) => 0.3 * Math.sin(2 * t)

describe('silent', () => {
  it('nothing more comes, not even heartbeats or answers; the drive still obeys; its end is the end', () => {
    const talk = enabled([[OBJECT.producerHeartbeat, 50]])
    talk.fault('silent', true)
    talk.cycle(swing, 20)
    expect(talk.write(OBJECT.mode, 8)).toBe('no answer')
    expect(talk.heard).toEqual([])
    expect(talk.witness()).not.toBeCloseTo(0, 2)
    talk.control('quick stop')
    talk.pass(0.2)
    talk.fault('silent', false)
    expect(talk.state()).toBe('switch on disabled')
  })
})

describe('frozen', () => {
  it('the same position again and again, while the joint follows', () => {
    const talk = enabled()
    talk.cycle(swing, 20)
    talk.fault('frozen', true)
    const from = talk.witness()
    const before = talk.feedback().length
    talk.cycle(swing, 100)
    const counts = new Set(
      talk
        .feedback()
        .slice(before)
        .map((f) => f.counts),
    )
    expect(counts.size).toBe(1)
    expect([...counts][0]).toBeCloseTo(from * COUNTS + 1200, -1)
    expect(Math.abs(talk.witness() - from)).toBeGreaterThan(0.1)
    talk.fault('frozen', false)
    talk.cycle(swing, 2)
    expect(talk.measured()).toBeCloseTo(talk.witness(), 2)
  })
})

describe('jammed', () => {
  it('the joint stands, torque rises to the limit, following error ends it: 8611h, bit 13, fault', () => {
    const talk = enabled()
    talk.cycle(swing, 20)
    talk.fault('jammed', true)
    const stuck = talk.witness()
    talk.cycle(swing, 60)
    expect(Math.max(...talk.feedback().map((f) => Math.abs(f.torque)))).toBe(1500)
    expect(talk.witness()).toBe(stuck)
    talk.cycle(swing, 100)
    expect(talk.emergencies()).toEqual(['8611'])
    expect(talk.state()).toBe('fault')
    expect(talk.feedback().at(-1)!.word & FOLLOWING_ERROR_BIT).not.toBe(0)
    talk.fault('jammed', false)
    talk.control('disable voltage')
    talk.control('fault reset')
    expect(talk.state()).toBe('switch on disabled')
    expect(talk.emergencies()).toEqual(['8611', '0000'])
    talk.idle(1)
    expect(talk.feedback().at(-1)!.word & FOLLOWING_ERROR_BIT).toBe(0)
  })

  it('without a window (6065h = FFFFFFFFh) no fault comes', () => {
    const talk = enabled([[OBJECT.followingWindow, 0xffffffff]])
    talk.fault('jammed', true)
    talk.cycle(0.5, 100)
    expect(talk.emergencies()).toEqual([])
    expect(talk.state()).toBe('operation enabled')
  })

  it('the window is left for the time-out before it counts', () => {
    const talk = enabled()
    talk.fault('jammed', true)
    talk.cycle(0.5, 20)
    expect(talk.emergencies()).toEqual([])
    talk.cycle(0.5, 4)
    expect(talk.emergencies()).toEqual(['8611'])
  })
})

describe('offset', () => {
  it('feedback jumps by the angle, and the loop then moves the joint the other way', () => {
    const talk = enabled()
    talk.cycle(0, 10)
    talk.fault('offset', true, 5 * DEG)
    talk.cycle(0)
    expect(talk.measured()).toBeCloseTo(5 * DEG, 2)
    talk.cycle(0, 100)
    expect(talk.measured()).toBeCloseTo(0, 3)
    expect(talk.witness()).toBeCloseTo(-5 * DEG, 3)
    talk.fault('offset', false)
    talk.cycle(0, 100)
    expect(talk.witness()).toBeCloseTo(0, 3)
  })
})

describe('dropped', () => {
  it('about that share of the feedback is lost, the same for the same seed', () => {
    const lost = (seed: number) => {
      const talk = enabled([], seed)
      talk.fault('dropped', true, 0.3)
      talk.cycle(0, 1000)
      return talk.feedback().map((f) => f.t)
    }
    const first = lost(1)
    // Three standard deviations of a binomial of 1000 at 0.7.
    expect(Math.abs(first.length - 700)).toBeLessThan(3 * Math.sqrt(1000 * 0.3 * 0.7))
    expect(lost(1)).toEqual(first)
    expect(lost(2)).not.toEqual(first)
  })

  it('none once it has ended', () => {
    const talk = enabled()
    talk.fault('dropped', true, 1)
    talk.cycle(0, 10)
    expect(talk.feedback()).toEqual([])
    talk.fault('dropped', false, 1)
    talk.cycle(0, 10)
    expect(talk.feedback()).toHaveLength(10)
  })
})

describe('late', () => {
  it('feedback comes that much later, beyond a period too, and never out of order', () => {
    const talk = enabled()
    talk.fault('late', true, 0.012)
    const begin = talk.now
    talk.cycle(swing, 10)
    const late = talk.feedback()
    expect(late[0]!.t - begin).toBeGreaterThan(0.0045 + 0.012)
    expect(late[0]!.t - begin).toBeLessThan(0.0045 + 0.0123)
    talk.fault('late', false)
    talk.cycle(swing, 10)
    const all = talk.feedback()
    expect(all).toHaveLength(20)
    for (let i = 1; i < all.length; i++) {
      expect(all[i]!.t).toBeGreaterThanOrEqual(all[i - 1]!.t)
      expect(all[i]!.counts).toBeGreaterThanOrEqual(all[i - 1]!.counts)
    }
  })
})

describe('unpowered', () => {
  it('nothing is heard or said and no torque given; then it boots without its set-up, and keeps no setpoint', () => {
    const talk = enabled([[OBJECT.producerHeartbeat, 50]])
    talk.cycle(swing, 100)
    talk.fault('unpowered', true)
    talk.cycle(swing, 20)
    const from = talk.witness()
    talk.heard.length = 0
    talk.cycle(swing, 100)
    expect(talk.write(OBJECT.mode, 8)).toBe('no answer')
    expect(talk.heard).toEqual([])
    expect(talk.witness()).toBeCloseTo(from, 6)
    talk.fault('unpowered', false)
    talk.pass(0.1)
    // CiA 301, 7.3.2.2.1: one boot-up message; no heartbeat, which was never set up anew (1017h = 0).
    expect(talk.heard.map(({ frame }) => [frame.id, [...frame.data]])).toEqual([[0x70b, [0]]])
    expect(talk.read(OBJECT.targetPosition)).toBe(0)
    expect(talk.read(OBJECT.quickStopOption)).toBe(6)
    expect(talk.witness()).toBeCloseTo(from, 6)
  })

  it('an answer that is due when the power goes is never given', () => {
    const talk = enabled()
    talk.heard.length = 0
    talk.send(readRequest(0x0b, OBJECT.mode))
    talk.fault('unpowered', true)
    talk.pass(0.01)
    expect(talk.heard).toEqual([])
  })
})

it('a fault reshuffles no noise: the same seed gives the same positions with and without it', () => {
  const counts = (dropped: boolean) => {
    const talk = new Talk(smallRig({ feedback: { delay: 1e-4, jitter: 5e-5, noise: 2 } }), 7)
    talk.enable()
    if (dropped) talk.fault('dropped', true, 0.5)
    talk.cycle(0, 200)
    return new Map(talk.feedback().map((f) => [f.t, f.counts]))
  }
  const whole = counts(false)
  const part = counts(true)
  expect(part.size).toBeLessThan(whole.size)
  for (const [t, value] of part) expect(whole.get(t)).toBe(value)
})
