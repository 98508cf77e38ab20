import { describe, expect, it } from 'vitest'
import { greatestSideSpeed, USABLE } from '../../../src/driver/fastest.js'
import { strokePeaks } from '../../../src/driver/peaks.js'
import { loadRig } from '../../../src/files/load.js'
import type { Rig } from '../../../src/files/rig.js'
import { type WatchSettings, watchSchemas } from '../../../src/watch/settings.js'
import { change, DEMO_RIG } from '../../setup/runs.js'

const rigOf = (text: string) => loadRig(text, 'rig.yaml', watchSchemas)
const most = (text: string, speed: number): number =>
  Math.max(...strokePeaks(rigOf(text), speed).flatMap((p) => [p.speedShare, p.accelerationShare]))

describe('greatest side speed', () => {
  it('is where a joint needs just what is usable of its limits, and the demo rig states no more and little less', () => {
    const greatest = greatestSideSpeed(rigOf(DEMO_RIG))
    expect(most(DEMO_RIG, greatest)).toBeLessThanOrEqual(USABLE)
    expect(most(DEMO_RIG, greatest + 0.004)).toBeGreaterThan(USABLE)
    const { fastest } = rigOf(DEMO_RIG).stroke
    expect(fastest).toBeLessThanOrEqual(greatest)
    expect(fastest).toBeGreaterThan(0.97 * greatest)
  })

  /** The demo rig with every limit of a kind multiplied. */
  const scaled = (kind: 'speed' | 'acceleration', factor: number): Rig<WatchSettings> => {
    const rig = rigOf(DEMO_RIG)
    const joints = rig.joints.map((j) => ({ ...j, limits: { ...j.limits, [kind]: factor * j.limits[kind] } }))
    return { ...rig, joints }
  }

  it.each(['speed', 'acceleration'] as const)(
    'heeds each kind of limit: where %s is what lacks, it decides',
    (kind) => {
      const weak = scaled(kind, 0.3)
      const greatest = greatestSideSpeed(weak)
      const share = (speed: number): number =>
        Math.max(...strokePeaks(weak, speed).map((p) => p[`${kind}Share`]))
      expect(greatest).toBeLessThan(0.97 * greatestSideSpeed(rigOf(DEMO_RIG)))
      expect(share(greatest)).toBeLessThanOrEqual(USABLE)
      expect(share(greatest + 0.004)).toBeGreaterThan(USABLE)
    },
  )

  it('is 3 m/s, as a command may be, for joints that could do more', () => {
    const [speed, acceleration] = [scaled('speed', 100), scaled('acceleration', 1000)]
    const joints = speed.joints.map((j, i) => ({
      ...j,
      limits: { ...j.limits, acceleration: acceleration.joints[i]!.limits.acceleration },
    }))
    expect(greatestSideSpeed({ ...speed, joints })).toBe(3)
  })

  it('is told to 2 mm/s, rounded down', () => {
    const greatest = greatestSideSpeed(rigOf(DEMO_RIG))
    expect(greatest / 0.002).toBeCloseTo(Math.round(greatest / 0.002), 9)
    expect(most(DEMO_RIG, greatest + 0.002)).toBeGreaterThan(USABLE)
  })

  it('does not depend on the speed cap', () => {
    const capped = change(DEMO_RIG, /speed-cap: "100 %"/, 'speed-cap: "30 %"')
    expect(greatestSideSpeed(rigOf(capped))).toBe(greatestSideSpeed(rigOf(DEMO_RIG)))
  })
})
