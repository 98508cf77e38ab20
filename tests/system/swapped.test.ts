/** A drive that is another one than the one that a person confirmed: refused before anything is enabled. */
import { expect, it } from 'vitest'
import { Bench } from '../../src/bench/bench.js'
import { JOG_SCENARIO } from '../../src/bench/jog-scenario.js'
import { JogDriver } from '../../src/driver/jog.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadScenario } from '../../src/files/load.js'
import { Workbench } from '../setup/bench.js'

function starts(drives: (string | null)[] | null): BenchEvent[] {
  const table = new Workbench()
  const events: BenchEvent[] = []
  const bench = new Bench({
    ...{ rig: table.rig, seed: 1, clock: table.time, plant: table.plant, drives },
    scenario: loadScenario(JOG_SCENARIO, 'jog', table.rig),
    buses: table.mocks.map((mock) => mock.attach('bench', { queue: 32 })),
    driver: new JogDriver(table.rig),
    log: { frame: () => {}, event: (e) => events.push(e) },
  })
  table.run(bench, () => bench.stage === 'play')
  return events
}

const identities = (events: BenchEvent[]): string[] =>
  events.flatMap((e) => (e.kind === 'identity' ? [e.drive] : []))

it('the drives that were confirmed are let through; each says who it is once', () => {
  const told = identities(starts(null))
  expect(told).toHaveLength(12)
  // 1018h:1-4 expedited; 100Ah in segments, for it is longer than four bytes (CiA 301, 7.2.4.3).
  expect(told[0]).toBe('vendor 0h, product 192h, revision 1h, serial Bh, firmware "simulated 1.0"')
  // Both arms have the same node ids, and so the same serial numbers.
  expect(new Set(told).size).toBe(6)
  expect(starts(told).some((e) => e.kind === 'stage' && e.stage === 'play')).toBe(true)
})

it.each([
  ['a swapped drive', 'serial Dh', 'serial 77h'],
  ['other firmware', 'simulated 1.0', 'simulated 0.9'],
])('%s is refused before anything is enabled', (_, from, to) => {
  const told = identities(starts(null))
  const events = starts(told.map((drive) => drive.replace(from, to)))
  expect(events.find((e) => e.kind === 'refusal')).toMatchObject({
    says: expect.stringMatching(
      /is not the drive with the firmware that a person has confirmed.*drystroke jog/,
    ),
  })
  const stages = events.flatMap((e) => (e.kind === 'stage' ? [e.stage] : []))
  expect(stages).not.toContain('seed')
  expect(stages).not.toContain('enable')
})
