import { describe, expect, test } from 'vitest'
import { strokePeaks } from '../../../src/driver/peaks.js'
import { checkReach } from '../../../src/driver/reach.js'
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
