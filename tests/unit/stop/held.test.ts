/** A held stop by itself: three joints whose drives follow at once, and whose feedback a test may change. 10 ms a period. */
import { describe, expect, it } from 'vitest'
import type { Rig } from '../../../src/files/rig.js'
import type { JointLink } from '../../../src/link/link.js'
import { HeldStop } from '../../../src/stop/held.js'

const PERIOD = 0.01
const HOLD = 0.1
const TIMEOUT = 1

function arms(at: readonly number[], speeds: readonly number[], limits = { lower: -10, upper: 10 }) {
  const joints = at.map((_, index) => ({
    index,
    name: `joint ${index}`,
    limits: { ...limits, acceleration: 2 },
  }))
  const rig = {
    joints,
    control: { period: PERIOD },
    stop: { still: { speed: 0.01, hold: HOLD }, timeout: TIMEOUT },
  } as unknown as Rig
  const drives = joints.map((joint) => ({ joint, follows: true, position: at[joint.index]!, feedbackAt: 0 }))
  const link = {
    drives,
    held: (out: Float64Array) => out.set(at),
    speeds: (out: Float64Array) => out.set(speeds),
  } as unknown as JointLink
  const stop = new HeldStop(rig, link)
  let t = 0
  /** One period: setpoints, which the joints reach by the next one. */
  const step = (follow = true) => {
    t += PERIOD * 1e9
    const out = new Float64Array(at.length)
    const givenUp = stop.step(t, out)
    drives.forEach((drive, j) => {
      if (follow) drive.position = out[j]!
      drive.feedbackAt = t
    })
    return { out: [...out], givenUp, t: t / 1e9 }
  }
  const begin = () => stop.begin(t)
  return { stop, drives, step, begin, now: () => t / 1e9 }
}

describe('a held stop', () => {
  it('slows all joints in the same time, the one that needs longest inside its acceleration limit, and holds them', () => {
    const { step, begin } = arms([0, 1, 2], [1, -0.5, 0])
    begin()
    const rows = Array.from({ length: 150 }, () => step().out)
    const of = (j: number) => rows.map((row) => row[j]!)
    const speedOf = (q: readonly number[]) => q.slice(1).map((x, i) => (x - q[i]!) / PERIOD)
    const swift = speedOf(of(0))
    // 1.5 x 1 rad/s / (0.8 x 2 rad/s2): rest after 0.9375 s, and half a mean speed on the way.
    expect(of(0).at(-1)).toBeCloseTo(0.9375 / 2, 9)
    expect(of(1).at(-1)).toBeCloseTo(1 - 0.9375 / 4, 9)
    expect(new Set(of(2))).toEqual(new Set([2]))
    expect(swift.findLastIndex((v) => v !== 0)).toBe(Math.floor(0.9375 / PERIOD) - 1)
    const hardest = Math.max(...swift.slice(1).map((v, i) => Math.abs(v - swift[i]!) / PERIOD))
    expect(hardest).toBeLessThanOrEqual(0.8 * 2)
    expect(hardest).toBeGreaterThan(0.79 * 2)
  })

  it('takes no longer for a second stop than its own speeds ask for', () => {
    const speeds = [1]
    const { step, begin, stop } = arms([0], speeds)
    begin()
    for (let i = 0; i < 120; i++) step()
    stop.end()
    speeds[0] = 0.1
    begin()
    const rows = Array.from({ length: 20 }, () => step().out[0]!)
    expect(rows[10]).toBeCloseTo(0.09375 / 2 / 10, 9)
  })

  it('is still once every joint has been at one place for the hold, and not before, the second time too', () => {
    const { stop, step, begin } = arms([0, 0], [0, 0])
    for (const _ of ['first', 'second']) {
      begin()
      expect(stop.still).toBe(false)
      let steps = 0
      while (!stop.still) {
        step()
        steps++
      }
      expect(steps * PERIOD).toBeGreaterThanOrEqual(HOLD)
      expect(steps * PERIOD).toBeLessThanOrEqual(HOLD + 3 * PERIOD)
      for (let i = 0; i < 20; i++) step()
      stop.end()
      expect(stop.on).toBe(false)
    }
  })

  it.each([
    ['above', [0.5], { lower: -10, upper: 0.46 }],
    ['below', [-0.5], { lower: -0.46, upper: 10 }],
  ])('gives up at once where a joint would come to rest outside, %s', (_, [way], limits) => {
    // 1 rad/s comes to rest 0.469 rad on.
    const { step, begin } = arms([0], [2 * way!], limits)
    begin()
    expect(step().givenUp).toMatchObject({ place: 'joint 0', says: expect.stringMatching(/outside/) })
  })

  it.each([
    ['above', [0.5], { lower: -10, upper: 0.47 }],
    ['below', [-0.5], { lower: -0.47, upper: 10 }],
  ])('holds where it comes to rest just inside, %s', (_, [way], limits) => {
    const { step, begin } = arms([0], [2 * way!], limits)
    begin()
    for (let i = 0; i < 150; i++) expect(step().givenUp).toBeNull()
  })

  it('gives up at the time-out, not before, and names the joint that is not still', () => {
    const { drives, step, begin } = arms([0, 0], [0, 0])
    begin()
    for (;;) {
      drives[1]!.position += 0.01
      const { givenUp, t } = step(false)
      if (givenUp) {
        expect(givenUp.place).toBe('joint 1')
        expect(t).toBeCloseTo(TIMEOUT, 9)
        return
      }
      expect(t).toBeLessThan(TIMEOUT)
    }
  })

  it('gives up as soon as a drive no longer follows', () => {
    const { drives, step, begin } = arms([0, 0], [0, 0])
    begin()
    expect(step().givenUp).toBeNull()
    drives[1]!.follows = false
    expect(step().givenUp).toMatchObject({ place: 'joint 1' })
  })
})
