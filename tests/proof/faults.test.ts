/** The list of faults itself: what anybody who plays it takes for granted. */
import { expect, it } from 'vitest'
import { loadRig } from '../../src/files/load.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { DEMO_RIG } from '../setup/runs.js'
import { FAULT_ENTRIES } from './faults.js'

const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)

it('has each name once', () => {
  const names = FAULT_ENTRIES.map((e) => e.name)
  expect(new Set(names).size).toBe(names.length)
})

it.each(FAULT_ENTRIES)(
  '$name: three severities, each with a bound and with faults that begin in time',
  (entry) => {
    const severities = entry.severities(rig)
    expect(severities).toHaveLength(3)
    for (const severity of severities) {
      expect(Number.isFinite(severity)).toBe(true)
      const within = entry.detectWithin(rig, severity)
      expect(within).toBeGreaterThan(0)
      expect(within).toBeLessThanOrEqual(60)
      const faults = entry.faults(rig, severity, 6)
      expect(faults.length).toBeGreaterThan(0)
      expect(faults.some((f) => f.fault === (entry.about ?? entry.name))).toBe(true)
      for (const fault of faults) expect(fault.at).toBeLessThan(20)
    }
  },
)
