import { describe, expect, it } from 'vitest'
import { greatestSideSpeed, USABLE } from '../../../src/driver/fastest.js'
import { strokePeaks } from '../../../src/driver/peaks.js'
import { loadRig } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'
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

  it('does not depend on the speed cap', () => {
    const capped = change(DEMO_RIG, /speed-cap: "100 %"/, 'speed-cap: "30 %"')
    expect(greatestSideSpeed(rigOf(capped))).toBe(greatestSideSpeed(rigOf(DEMO_RIG)))
  })
})
