/** Each driver that owns the buses does there what its entry says, beat by beat: without arms, harness or bus. */
import { describe, expect, it } from 'vitest'
import type { DriverBeside } from '../setup/driver-beside.js'
import { LEVELS } from './driver-entry.js'
import { OWNER_ENTRIES } from './drivers/owners.js'
import { severityOf } from './jobs.js'
import { proofRig } from './rigs.js'
import { FAULT_AT } from './scripts.js'

const RIG = proofRig(new URL('../..', import.meta.url).pathname, 'owned')
const { period } = RIG.control
/** s in which it is told to follow, and to stop after that */
const [PLAYED, STOPPED] = [8, 4]

interface Beaten {
  /** s since the fault was due, or since the stop; by which its entry goes */
  readonly at: number
  readonly wrong: boolean
  readonly faults: Record<string, unknown>
  readonly frozen: boolean
  readonly said: readonly (readonly [bus: number, id: number, bytes: readonly number[]])[]
}

/** All its beats. */
function beaten(name: string, level: (typeof LEVELS)[number] = 'nominal'): Beaten[] {
  const entry = OWNER_ENTRIES.find((e) => e.name === name)!
  let said: [number, number, readonly number[]][] = []
  const driver = {
    faults: {} as Record<string, unknown>,
    ...{ frozen: false, now: 0 },
    say: (bus: number, id: number, bytes: readonly number[]) => said.push([bus, id, bytes]),
  }
  const wrong = entry.wrong(RIG, severityOf(entry, RIG, level))
  const stops = entry.script === 'stopped'
  return Array.from({ length: Math.round((PLAYED + STOPPED) / period) }, (_, k) => {
    const s = k * period
    driver.now = s * 1e9
    said = []
    const beat = s < PLAYED ? { played: s, stopped: null } : { played: null, stopped: s - PLAYED }
    const is = wrong(driver as unknown as DriverBeside, beat)
    const at = s - (stops ? PLAYED : FAULT_AT)
    return { at, wrong: is, faults: { ...driver.faults }, frozen: driver.frozen, said }
  }).filter(({ at }) => stops || at < PLAYED - FAULT_AT)
}

/** s for which something is so */
const lasts = (beats: readonly Beaten[], is: (b: Beaten) => unknown): number =>
  beats.filter(is).length * period

it('each name is there once', () => {
  expect(new Set(OWNER_ENTRIES.map((e) => e.name)).size).toBe(OWNER_ENTRIES.length)
})

describe.each(OWNER_ENTRIES)('$name', (entry) => {
  it('has three severities that differ, each with a bound', () => {
    const severities = entry.severities(RIG)
    expect(new Set(severities).size).toBe(3)
    for (const severity of severities) {
      const bound = entry.detectWithin(RIG, severity)
      expect(bound).toBeGreaterThan(0)
      expect(Number.isFinite(bound)).toBe(true)
    }
  })

  it.each(LEVELS)('%s: is sound until it is due, and wrong from then on', (level) => {
    for (const { at, wrong, faults, frozen, said } of beaten(entry.name, level)) {
      const due = at > -period / 2
      expect(wrong).toBe(due)
      if (!due) expect([Object.values(faults).some(Boolean), frozen, said]).toEqual([false, false, []])
    }
  })
})

describe('what they do wrong', () => {
  it.each([
    ['sends on after a stop', 'ignoresStop', 0.5],
    ['enables again after a stop', 'enablesAgain', 3],
    ['enables again, elsewhere', 'enablesAgain', 3],
    ['SYNC ceases', 'noSync', 0.1],
  ])('%s: for as long as its severity says', (name, fault, s) => {
    const is = ({ faults }: Beaten): unknown => faults[fault]
    expect(Math.abs(lasts(beaten(name), is) - s)).toBeLessThan(1.5 * period)
    const ever = beaten(name, 'large')
    expect(lasts(ever, is)).toBeCloseTo(
      lasts(ever, ({ wrong }) => wrong),
      9,
    )
  })

  it('stands still: for as long as its severity says', () => {
    expect(Math.abs(lasts(beaten('stands still'), ({ frozen }) => frozen) - 0.1)).toBeLessThan(1.5 * period)
  })

  it.each(['identifier of the stop, after it', 'identifier of the stop, in motion'])(
    '%s: ten frames, one a period, on the identifier of the stop PDO',
    (name) => {
      const frames = beaten(name).flatMap(({ said }) => (said.length === 0 ? [] : [said]))
      expect(frames).toEqual(Array(10).fill([[0, 0x181, [0x0f, 0]]]))
    },
  )

  it.each([
    ['sets up how drives stop, in motion', [0x2b, 0x5a, 0x60, 0, 1, 0, 0, 0]],
    ['sets drives up in motion', [0x2b, 0x72, 0x60, 0, 0xe8, 3, 0, 0]],
  ])('%s: one write to each drive of an arm', (name, bytes) => {
    const { joints } = RIG.arms[0]!
    expect(beaten(name).flatMap(({ said }) => said)).toEqual(
      joints.map((j) => [RIG.joints[j]!.wire.bus, 0x600 + RIG.joints[j]!.wire.node, bytes]),
    )
  })
})
