/** The takeover in virtual time, on buses that lead nowhere: what it says of a bench process that is slow to go. */
import { expect, test } from 'vitest'
import { type Nanos, VirtualTime } from '../../../../src/clock.js'
import type { GuardianEvent } from '../../../../src/files/guardian-event.js'
import { loadRig } from '../../../../src/files/load.js'
import { Evidence } from '../../../../src/stop/guardian/evidence.js'
import { takeOver } from '../../../../src/stop/guardian/takeover.js'
import { nowhere } from '../../../../src/stop/nowhere.js'
import { guardianFinding } from '../../../../src/verdict/guardian.js'
import { watchSchemas } from '../../../../src/watch/settings.js'
import { DEMO_RIG } from '../../../setup/runs.js'

const MS = 1e6

class Kept extends Evidence {
  readonly events: GuardianEvent[] = []
  override add(event: GuardianEvent): void {
    this.events.push(event)
  }
}

/** @param goneAt when the bench process is gone after it was ended, null: never */
function takenOver(goneAt: Nanos | null, driver: { end: () => void; gone: boolean } | null = null) {
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
  const time = new VirtualTime()
  const evidence = new Kept()
  const looks: Nanos[] = []
  let over = false
  takeOver(
    {
      rig,
      clock: time,
      bench: {
        end: () => {},
        get gone() {
          looks.push(time.now())
          return goneAt !== null && time.now() >= goneAt
        },
      },
      driver,
      takeBuses: () => rig.buses.map(({ name }) => nowhere(name, 'sent')),
      counts: null,
      evidence,
      onStopped: () => {},
      onOver: () => {
        over = true
      },
    },
    'silent',
    0,
  )
  time.runUntil(20e9)
  expect(over).toBe(true)
  const ended = evidence.events.flatMap((e) => (e.kind === 'bench ended' ? [[e.t / MS, e.gone]] : []))
  const end = { kind: 'end', t: time.now(), confirmed: 0, drives: 12, still: null } as const
  const finding = guardianFinding([...evidence.events, end], 0.1)!
  return { ended, looks, says: finding.says, stop: evidence.events.find((e) => e.kind === 'stop')!.t / MS }
}

test('one that goes soon is waited for', () => {
  const { ended, stop, says } = takenOver(5 * MS)
  expect(ended).toEqual([[5, true]])
  expect(stop).toBe(5)
  expect(says).toMatch(/not every joint was seen at rest\.$/)
})

test('one that is slow to go is looked for seldom, so that it has the processor', () => {
  const { ended, looks } = takenOver(200 * MS)
  expect(ended).toEqual([[204, true]])
  expect(looks.filter((t) => t > 20 * MS && t < 204 * MS).length).toBeLessThan(25)
})

test('one that goes only when the stop is under way did not keep it, and it is said when', () => {
  const { ended, stop, says } = takenOver(400 * MS)
  expect(ended[0]).toEqual([expect.any(Number), false])
  expect(stop).toBeGreaterThanOrEqual(250)
  expect(stop).toBeLessThan(260)
  expect(ended[1]).toEqual([expect.any(Number), true])
  expect(says).toMatch(/The bench process was gone only 40\d ms after that, when the stop was under way\.$/)
})

test('one that never goes could not be ended', () => {
  const { ended, says } = takenOver(null)
  expect(ended).toHaveLength(1)
  expect(says).toMatch(/The bench process could not be ended\.$/)
})

test('a driver of the run is ended with it, before the stop', () => {
  const ended: Nanos[] = []
  let gone = false
  const driver = {
    end: () => {
      ended.push(0)
    },
    get gone() {
      gone = ended.length > 0
      return gone
    },
  }
  expect(takenOver(5 * MS, driver).says).not.toContain('driver')
  expect(ended).toEqual([0])
  const stays = { end: () => {}, gone: false }
  expect(takenOver(5 * MS, stays).says).toMatch(/ The process of the driver could not be ended\.$/)
})
