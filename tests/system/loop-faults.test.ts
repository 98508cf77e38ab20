/** Faults of the clock in whole runs: what a loop that is held up comes to, and that the clock on the wall changes nothing. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { change, DEMO_RIG, eventsOf, play, scenarioText, temporaryFolder } from '../setup/runs.js'

const out = temporaryFolder()
/** Short, and at rest but for the beginning of a stroke. */
const SHORT = change(
  change(scenarioText('joint-silent'), /duration: "12 s"/, 'duration: "4 s"'),
  /expect:[\s\S]*/,
  'expect: { outcome: finish, parked: true }\n',
)
const playing = (fault: string) => play(out, DEMO_RIG, change(SHORT, /faults:\n.*\n/, `faults: [${fault}]\n`))
type Tick = Extract<BenchEvent, { kind: 'tick' }>
const ticksOf = (folder: string) => eventsOf(folder).filter((e): e is Tick => e.kind === 'tick')

it('a loop that stands still misses ticks, is late, takes what came in only then, and is stopped by the timing watch', async () => {
  const { verdict, folder } = await playing('{ at: "2 s", fault: stall, time: "23 ms" }')
  const begun = eventsOf(folder).find((e) => e.kind === 'fault')!.t
  const after = ticksOf(folder).find((e) => e.t > begun)!
  // Deadlines 5, 10, 15 and 20 ms after the fault pass; that at 25 ms is the first whose tick is not too near to 23 ms.
  expect(after.t - begun).toBe(25e6)
  expect(after.late).toBe(20e6)
  expect(verdict.stop).toMatchObject({ source: 'timing', t: after.t })
  expect(verdict.outcome).not.toBe('pass')
  expect(verdict.sentence).toMatch(/bench at fault/)
  // Nobody took a frame or sent one meanwhile.
  const between = eventsOf(folder).filter((e) => e.t > begun && e.t < begun + 23e6)
  expect(between).toEqual([])
})

it('a loop whose ticks come unevenly late says so, and is stopped when too many in a row are', async () => {
  const { verdict, folder } = await playing('{ at: "2 s", fault: uneven, delay: "4 ms" }')
  const begun = eventsOf(folder).find((e) => e.kind === 'fault')!.t
  const late = ticksOf(folder)
    .filter((e) => e.t > begun)
    .map((e) => e.late)
  expect(Math.max(...late)).toBeGreaterThan(3e6)
  expect(Math.max(...late)).toBeLessThanOrEqual(4e6)
  expect(new Set(late).size).toBeGreaterThan(3)
  expect(verdict.stop?.source).toBe('timing')
})

it('setting the clock on the wall changes provenance alone', async () => {
  const still = await playing('{ at: "2 s", fault: wall-step, time: "0 s" }')
  const set = await playing('{ at: "2 s", fault: wall-step, time: "600 min" }')
  const read = (folder: string, file: string) => readFileSync(join(folder, file))
  for (const file of ['frames.pcapng', 'events.jsonl', 'verdict.json', 'junit.xml'])
    expect(read(set.folder, file).equals(read(still.folder, file))).toBe(true)
  const hours = (folder: string) => {
    const { started, ended } = JSON.parse(String(read(folder, 'provenance.json')))
    return (Date.parse(ended) - Date.parse(started)) / 3600e3
  }
  expect(hours(still.folder)).toBeLessThan(1)
  expect(hours(set.folder)).toBeGreaterThan(9.9)
})
