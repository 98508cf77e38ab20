/** What each fault of a drive's messages does to the frames that are seen on the bus. Expected values follow from the fault itself. */
import { describe, expect, it } from 'vitest'
import { OBJECT } from '../../../../src/wire/cia402/objects.js'
import { COUNTS, DEG } from '../line.js'
import { BEATS, beats, enabled, swing } from './enabled.js'

describe('doubled', () => {
  it('that share of the feedback comes twice, byte for byte; the same for the same seed', () => {
    const seen = (seed: number) => {
      const talk = enabled([], { seed })
      talk.fault('doubled', true, 0.3)
      talk.cycle(swing, 1000)
      return talk.feedback()
    }
    const all = seen(1)
    const twice = all.filter((f, i) => i > 0 && f.counts === all[i - 1]!.counts && f.t === all[i - 1]!.t)
    // Three standard deviations of a binomial of 1000 at 0.3.
    expect(Math.abs(twice.length - 300)).toBeLessThan(3 * Math.sqrt(1000 * 0.3 * 0.7))
    expect(all).toHaveLength(1000 + twice.length)
    expect(seen(1)).toEqual(all)
    expect(seen(2)).not.toEqual(all)
  })

  it('none once it has ended', () => {
    const talk = enabled()
    talk.fault('doubled', true, 1)
    talk.cycle(swing, 10)
    expect(talk.feedback()).toHaveLength(20)
    talk.fault('doubled', false)
    talk.cycle(swing, 10)
    expect(talk.feedback()).toHaveLength(30)
  })
})

describe('overtaken', () => {
  it('with all of them hit, each second one comes right before the one that it should follow', () => {
    const talk = enabled()
    const ramp = (t: number) => 0.5 * t
    talk.cycle(ramp, 20)
    talk.heard.length = 0
    talk.fault('overtaken', true, 1)
    talk.cycle(ramp, 20)
    const counts = talk.feedback().map((f) => f.counts)
    expect(counts).toHaveLength(20)
    for (let i = 0; i < 20; i += 2) expect(counts[i]!).toBeGreaterThan(counts[i + 1]!)
    for (let i = 2; i < 20; i += 2) expect(counts[i + 1]!).toBeGreaterThan(counts[i - 2]!)
    talk.fault('overtaken', false)
    talk.cycle(ramp, 10)
    const after = talk
      .feedback()
      .slice(20)
      .map((f) => f.counts)
    expect(after).toEqual([...after].sort((a, b) => a - b))
    expect(after).toHaveLength(10)
  })
})

describe('stale', () => {
  it('frames go on, every one with the bytes of the last, while the joint follows', () => {
    const talk = enabled(BEATS)
    talk.cycle(swing, 20)
    const last = talk.feedback().at(-1)!
    talk.fault('stale', true)
    talk.heard.length = 0
    talk.cycle(swing, 100)
    const seen = talk.feedback()
    expect(seen).toHaveLength(100)
    for (const { word, counts, torque } of seen)
      expect([word, counts, torque]).toEqual([last.word, last.counts, last.torque])
    expect(beats(talk).length).toBeGreaterThan(5)
    expect(Math.abs(talk.witness() * COUNTS + 1200 - last.counts)).toBeGreaterThan(0.05 * COUNTS)
    talk.fault('stale', false)
    talk.cycle(swing)
    expect(talk.measured()).toBeCloseTo(talk.witness(), 2)
  })
})

describe('feedback-lost', () => {
  it('no feedback; heartbeats and answers go on', () => {
    const talk = enabled(BEATS)
    talk.fault('feedback-lost', true)
    talk.cycle(swing, 40)
    expect(talk.feedback()).toEqual([])
    expect(beats(talk)).toEqual([5, 5, 5, 5])
    expect(talk.state()).toBe('operation enabled')
    talk.fault('feedback-lost', false)
    talk.cycle(swing, 3)
    expect(talk.feedback()).toHaveLength(3)
  })
})

describe('heartbeat-lost', () => {
  it('no heartbeat; feedback goes on', () => {
    const talk = enabled(BEATS)
    talk.fault('heartbeat-lost', true)
    talk.cycle(swing, 40)
    expect(beats(talk)).toEqual([])
    expect(talk.feedback()).toHaveLength(40)
    talk.fault('heartbeat-lost', false)
    talk.cycle(swing, 40)
    expect(beats(talk)).toEqual([5, 5, 5, 5])
  })
})

describe('unanswered', () => {
  it('nothing that is asked or written by SDO is answered; all else goes on', () => {
    const talk = enabled(BEATS)
    talk.fault('unanswered', true)
    expect(talk.write(OBJECT.mode, 8)).toBe('no answer')
    talk.cycle(swing, 20)
    expect(talk.feedback()).toHaveLength(20)
    expect(beats(talk).length).toBeGreaterThan(0)
    talk.fault('unanswered', false)
    expect(talk.write(OBJECT.mode, 8)).toBe('done')
  })
})

describe('twin', () => {
  it('a boot-up message, then two of each feedback and heartbeat, the second that angle beside the first', () => {
    const talk = enabled(BEATS)
    talk.cycle(0, 20)
    talk.heard.length = 0
    talk.fault('twin', true, 5 * DEG)
    talk.cycle(0, 40)
    expect(beats(talk)[0]).toBe(0)
    expect(beats(talk).slice(1)).toEqual([5, 5, 5, 5, 5, 5, 5, 5])
    const counts = talk.feedback().map((f) => f.counts)
    expect(counts).toHaveLength(80)
    for (let i = 0; i < 80; i += 2) expect((counts[i + 1]! - counts[i]!) / COUNTS / DEG).toBeCloseTo(5, 2)
    expect(talk.witness()).toBeCloseTo(0, 6)
    talk.fault('twin', false)
    talk.heard.length = 0
    talk.cycle(0, 10)
    expect(talk.feedback()).toHaveLength(10)
  })
})

describe('emergencies', () => {
  it('come at that rate with code 1000h, and the drive does as ever', () => {
    const talk = enabled()
    talk.fault('emergencies', true, 200)
    talk.cycle(swing, 200)
    // One at once, then 200 in a second.
    expect(talk.emergencies()).toHaveLength(201)
    expect(new Set(talk.emergencies())).toEqual(new Set(['1000']))
    expect(talk.state()).toBe('operation enabled')
    talk.fault('emergencies', false)
    talk.heard.length = 0
    talk.cycle(swing, 20)
    expect(talk.emergencies()).toEqual([])
  })
})

describe('brown-out', () => {
  it('nothing for that time; then it boots by itself, disabled, without its set-up', () => {
    const talk = enabled(BEATS)
    talk.cycle(swing, 20)
    talk.heard.length = 0
    const from = talk.now
    talk.fault('brown-out', true, 0.03)
    talk.cycle(swing, 40)
    // Booting takes 2 ms, and 0.1 ms for each number of the node, which is 11.
    const boot = talk.heard.find(({ frame }) => frame.id === 0x70b)!
    expect([...boot.frame.data]).toEqual([0])
    expect(boot.t - from).toBeCloseTo(0.03 + 0.002 + 11 * 0.0001, 6)
    expect(talk.heard).toHaveLength(1)
    expect(talk.state()).toBe('switch on disabled')
    expect(talk.read(OBJECT.quickStopOption)).toBe(6)
  })
})
