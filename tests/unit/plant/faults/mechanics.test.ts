/** What each fault of bearings, gears and brakes does to the true position and to what the encoder sees of it. */
import { describe, expect, it } from 'vitest'
import { OBJECT } from '../../../../src/wire/cia402/objects.js'
import type { Talk } from '../line.js'
import { COUNTS, DEG } from '../line.js'
import { enabled } from './enabled.js'

/** To an angle in `periods`, and some rest there. */
function go(talk: Talk, to: number, periods = 100): void {
  const from = talk.measured()
  for (let i = 1; i <= periods; i++) talk.cycle(from + (to - from) * (i / periods))
  talk.cycle(to, 60)
}

/** Power away by category 0, and a look after a while. */
function letGo(talk: Talk): void {
  talk.control('disable voltage')
  talk.pass(0.5)
}

describe('slipping', () => {
  it('the encoder goes the whole way, the joint what is left of it; what is lost stays lost', () => {
    const talk = enabled()
    go(talk, 0)
    talk.fault('slipping', true, 0.2)
    go(talk, 20 * DEG)
    expect(talk.measured()).toBeCloseTo(20 * DEG, 3)
    expect(talk.witness()).toBeCloseTo(16 * DEG, 3)
    talk.fault('slipping', false)
    go(talk, 0)
    expect(talk.measured()).toBeCloseTo(0, 3)
    expect(talk.witness()).toBeCloseTo(-4 * DEG, 3)
  })
})

describe('backlash', () => {
  it('the joint, which the encoder sees, stays behind by half the play either way, so that they differ by all of it', () => {
    const talk = enabled()
    go(talk, 0)
    talk.fault('backlash', true, 2 * DEG)
    // Slowly: the joint keeps the place that an overshoot of its motor brings it to.
    for (let i = 1; i <= 600; i++) talk.cycle(20 * DEG * (i / 600))
    talk.cycle(20 * DEG, 60)
    expect(talk.measured()).toBeCloseTo(19 * DEG, 3)
    expect(talk.witness()).toBeCloseTo(19 * DEG, 3)
    for (let i = 1; i <= 600; i++) talk.cycle(20 * DEG - 10 * DEG * (i / 600))
    talk.cycle(10 * DEG, 60)
    expect(talk.measured()).toBeCloseTo(11 * DEG, 3)
    // Within the play nothing moves.
    for (let i = 1; i <= 300; i++) talk.cycle(10 * DEG + 1.8 * DEG * (i / 300))
    talk.cycle(11.8 * DEG, 60)
    expect(talk.witness()).toBeCloseTo(11 * DEG, 3)
    talk.fault('backlash', false)
    talk.cycle(11.8 * DEG, 10)
    expect(talk.witness()).toBeCloseTo(11.8 * DEG, 3)
  })
})

describe('trembling', () => {
  it('a sine of 17 Hz and that amplitude on truth and feedback alike', () => {
    const talk = enabled()
    go(talk, 0)
    talk.fault('trembling', true, 0.5 * DEG)
    const truth: number[] = []
    for (let i = 0; i < 200; i++) {
      talk.cycle(0)
      truth.push(talk.witness() / DEG)
    }
    // 200 samples a second hit the crest of 17 Hz to within cos(17 pi / 200).
    const crest = 0.5 * Math.cos((17 * Math.PI) / 200)
    for (const most of [Math.max(...truth), -Math.min(...truth)]) {
      expect(most).toBeGreaterThan(crest - 0.001)
      expect(most).toBeLessThan(0.501)
    }
    const fed = talk.feedback().map((f) => (f.counts - 1200) / COUNTS / DEG)
    expect(Math.max(...fed)).toBeGreaterThan(crest - 0.01)
    // Two zeros a period.
    const zeros = truth.filter((x, i) => i > 0 && x * truth[i - 1]! < 0).length
    expect(Math.abs(zeros - 34)).toBeLessThanOrEqual(1)
    talk.heard.length = 0
    talk.fault('trembling', false)
    talk.cycle(0, 5)
    expect(talk.witness()).toBeCloseTo(0, 6)
  })
})

describe('stiff', () => {
  it('the drive reports that much more torque against the motion, and has that much less to give', () => {
    const torque = (share: number) => {
      const talk = enabled()
      go(talk, 0)
      if (share > 0) talk.fault('stiff', true, share)
      for (let i = 1; i <= 100; i++) talk.cycle(20 * DEG * (i / 100))
      return talk.feedback().at(-1)!.torque
    }
    // 20 % of 30 N m, in thousandths of the rated 20 N m.
    expect(torque(0.2) - torque(0)).toBeCloseTo(300, -1)
  })

  it('with too little left the joint falls behind a hard setpoint', () => {
    const behind = (share: number) => {
      const talk = enabled([[OBJECT.followingWindow, 0xffffffff]])
      go(talk, 0)
      if (share > 0) talk.fault('stiff', true, share)
      talk.cycle(40 * DEG, 12)
      return 40 * DEG - talk.witness()
    }
    // a t^2 / 2 in 60 ms at 3000 deg/s2: 5.4 deg, and a tenth of it.
    expect(behind(0.9) - behind(0)).toBeGreaterThan(3 * DEG)
  })
})

describe('brakeless', () => {
  it('without power the joint sinks, where its brake would have held it', () => {
    const sunk = (on: boolean) => {
      const talk = enabled()
      go(talk, 0)
      talk.fault('brakeless', on)
      letGo(talk)
      return talk.witness()
    }
    expect(sunk(false)).toBeGreaterThan(-0.1 * DEG)
    // v' = -1 - 2 v from rest: x(0.5 s) = -(t/2 - (1 - exp(-2 t))/4), rad.
    expect(sunk(true)).toBeCloseTo(-(0.25 - (1 - Math.exp(-1)) / 4), 2)
  })
})

describe('kicking', () => {
  it('by that angle within 100 ms of the loss of power, then held again', () => {
    const talk = enabled()
    go(talk, 10 * DEG)
    talk.fault('kicking', true, 3 * DEG)
    const from = talk.witness()
    talk.control('disable voltage')
    talk.pass(0.05)
    expect(talk.witness() - from).toBeCloseTo(1.5 * DEG, 2)
    talk.pass(0.45)
    expect(talk.witness() - from).toBeCloseTo(3 * DEG, 3)
    talk.pass(1)
    expect(talk.witness() - from).toBeCloseTo(3 * DEG, 3)
  })

  it('not while it has power', () => {
    const talk = enabled()
    go(talk, 10 * DEG)
    talk.fault('kicking', true, 3 * DEG)
    talk.cycle(10 * DEG, 50)
    expect(talk.witness()).toBeCloseTo(10 * DEG, 4)
  })
})

describe('pushed', () => {
  it('moves at that speed without power, however long it has stood; with power it does not', () => {
    const talk = enabled()
    go(talk, 0)
    talk.fault('pushed', true, 4 * DEG)
    talk.cycle(0, 50)
    expect(talk.witness()).toBeCloseTo(0, 4)
    letGo(talk)
    const from = talk.witness()
    talk.pass(1)
    expect(talk.witness() - from).toBeCloseTo(4 * DEG, 3)
    talk.fault('pushed', false)
    talk.pass(0.01)
    const rests = talk.witness()
    talk.pass(1)
    expect(talk.witness()).toBeCloseTo(rests, 6)
  })

  it('also a joint that is asleep already', () => {
    const talk = enabled()
    go(talk, 0)
    letGo(talk)
    const from = talk.witness()
    talk.fault('pushed', true, -4 * DEG)
    talk.pass(1)
    expect(talk.witness() - from).toBeCloseTo(-4 * DEG, 2)
  })
})
