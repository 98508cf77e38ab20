import { describe, expect, test } from 'vitest'
import { strokePeaks } from '../../../src/driver/peaks.js'
import { checkReach } from '../../../src/driver/reach.js'
import type { Rig } from '../../../src/files/rig.js'
import { DEMO, withStroke } from './play.js'

const DEG = Math.PI / 180

describe('reach', () => {
  test('the demo rig reaches its whole stroke, with joint ranges and singularity well clear', () => {
    for (const report of checkReach(DEMO)) {
      expect(report.failures).toEqual([])
      expect(report.reachable).toBe(true)
      expect(report.margin!.value).toBeGreaterThan(10 * DEG)
      expect(report.singularity!.value).toBeGreaterThan(5 * DEMO.driver.singularity)
    }
  })

  test('a stroke too long is reported with phases and reasons', () => {
    const [port] = checkReach(withStroke(DEMO, { length: 1.7 }))
    expect(port!.reachable).toBe(false)
    const motions = new Set(port!.failures.map((f) => f.motion))
    expect(motions.has('ahead')).toBe(true)
    for (const { phase, reason } of port!.failures) {
      expect(phase).toBeGreaterThanOrEqual(0)
      expect(phase).toBeLessThan(1)
      expect(reason).toMatch(/short of it|outside its range|singularity measure/)
    }
  })

  test('neighbouring phases that fail alike are told as one range, with the worst of it in its own unit', () => {
    const [port] = checkReach(withStroke(DEMO, { length: 1.1 }))
    const ranges = port!.failures.filter((f) => f.motion === 'ahead' && /short of it/.test(f.reason))
    expect(ranges).toHaveLength(2)
    for (const { phase, to, reason } of ranges) {
      expect(to - phase).toBeGreaterThan(0.05)
      const [, size, unit] = /stays (\S+) (m|deg) short/.exec(reason)!
      // The stroke is 0.5 m longer than the demo's, and a quarter of that is missing at each end at most.
      if (unit === 'm') expect(Number(size)).toBeLessThan(0.25)
      else expect(Number(size)).toBeLessThan(90)
    }
    // Astern the same places fail.
    const far = checkReach(withStroke(DEMO, { length: 1.7 }))[0]!.failures
    for (const f of far.filter((f) => f.motion === 'astern'))
      expect((f.to - f.phase + 1) % 1).toBeLessThan(0.5)
  })

  test('a park place out of reach is reported, not thrown', () => {
    const [port] = checkReach(withStroke(DEMO, { middle: 3 }))
    expect(port).toMatchObject({ reachable: false, margin: null, singularity: null })
    expect(port!.failures[0]!.reason).toMatch(/park place/)
  })

  test('a narrowed range shows as the margin of that joint', () => {
    const joints = DEMO.joints.map((j) =>
      j.name === 'port.feather' ? { ...j, limits: { ...j.limits, upper: 51 * DEG } } : j,
    )
    const [port, starboard] = checkReach({ ...DEMO, joints })
    expect(port!.margin!.joint).toBe('port.feather')
    expect(port!.margin!.value).toBeLessThan(DEG)
    expect(starboard!.margin!.joint).not.toBe('starboard.feather')
  })
})

describe('an arm with joints to spare', () => {
  /** The demo rig's port arm with some turns of the blade left free, and its ranges 100 deg wider and shifted (deg). */
  function loose(free: readonly string[], shifts: readonly number[]): Rig {
    const arm = DEMO.arms[0]!
    const constrained = arm.tool.constrained.filter((axis) => !free.includes(axis))
    const joints = DEMO.joints.slice(0, 6).map((joint, i) => {
      const lower = joint.limits.lower + (shifts[i]! - 100) * DEG
      const upper = joint.limits.upper + (shifts[i]! + 100) * DEG
      return { ...joint, limits: { ...joint.limits, lower, upper } }
    })
    return { ...DEMO, joints, arms: [{ ...arm, tool: { ...arm.tool, constrained } }] }
  }

  test('a joint that leaps from one way of holding the blade to another is named, although each pose is reached', () => {
    const [port] = checkReach(loose(['pitch'], [44, -87, 15, -66, 60, 85]))
    expect(port!.reachable).toBe(false)
    for (const { reason } of port!.failures) expect(reason).toMatch(/^joint port\.\w+ jumps by \d+ deg/)
    expect(port!.failures.map((f) => f.motion)).toContain('astern')
  })

  test('joints that do not come back to where they were parked are named', () => {
    const [port] = checkReach(loose(['feather', 'pitch'], [81, 70, 5, -55, 41, 76]))
    expect(port!.reachable).toBe(false)
    expect(port!.failures.map((f) => f.reason).join()).toMatch(
      /joint port\.\w+ comes back to the park place \d/,
    )
  })

  test('a spare turn that settles at each pose is no jump, however the stroke is made', () => {
    expect(checkReach(loose([], [0, 0, 0, 0, 0, 0]))[0]!.failures).toEqual([])
    expect(checkReach(loose(['lean'], [0, 0, 0, 0, 0, 0]))[0]!.failures).toEqual([])
  })
})

describe('peaks', () => {
  test.each([0.45, -0.45])(
    'at %d m/s every joint of the demo rig stays under 80 %% of its limits, and moves',
    (speed) => {
      for (const peak of strokePeaks(DEMO, speed)) {
        expect(peak.speedShare, peak.joint).toBeLessThan(0.8)
        expect(peak.accelerationShare, peak.joint).toBeLessThan(0.8)
        expect(peak.speed, peak.joint).toBeGreaterThan(5 * DEG)
      }
    },
  )

  test('port and starboard mirror each other; twice the side speed about doubles the peaks of a fast stroke', () => {
    const peaks = strokePeaks(DEMO, 0.4)
    const faster = strokePeaks(DEMO, 0.8)
    for (let i = 0; i < 6; i++) {
      expect(peaks[i]!.speed).toBeCloseTo(peaks[i + 6]!.speed, 6)
      expect(faster[i]!.speed / peaks[i]!.speed).toBeGreaterThan(1.85)
      expect(faster[i]!.speed / peaks[i]!.speed).toBeLessThan(2.01)
    }
  })
})
