/**
 * What `npm run test:kill` does hundreds of times, once each: the bench process of a real run is killed, frozen, made to loop or
 * to fill its lines, with the arms of a stand-in in another process that run on until they are stopped. The guardian ends it
 * and stops them; whether they rest, without power, is the arms' own word. And the other way round: a bench process whose guardian is
 * gone stops the arms itself. Times are not asserted.
 */
import { afterAll, beforeAll, describe, expect, it, type TestContext, vi } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { needs } from '../setup/needs.js'
import { KillArms } from './guardian/kill-arms.mjs'
import { KillRun, trialInTime } from './guardian/trial.mjs'

// On a machine with ten other things to do a start alone takes half a minute.
vi.setConfig({ testTimeout: 300_000, hookTimeout: 300_000 })

/** s of the scenario: at full speed. */
const AT = 1
/** Such a machine keeps the guardian waiting as well. */
const GUARDIAN = { guardian: '500 ms' }

function sharedArms(bus: string): () => KillArms {
  let arms: KillArms | null = null
  beforeAll(async () => {
    arms = await KillArms.start(bus, GUARDIAN)
  })
  afterAll(() => arms?.end())
  return () => arms!
}

async function stoppedByGuardian(arms: KillArms, manner: string): Promise<void> {
  const { wrong, moving, verdict } = await trialInTime(arms, manner, AT)
  expect({ wrong, moving }, verdict).toEqual({ wrong: [], moving: 12 })
}

describe('over TCP', () => {
  const arms = sharedArms('tcp')

  it.for([
    ['that is killed', 'kill'],
    ['that is frozen', 'freeze'],
    ['that loops at its priority', 'loop'],
    ['that is killed in the middle of a line', 'half'],
    ['that has filled its transmit queues', 'full'],
  ] as const)('a bench process %s is ended, and the arms are stopped', ([, manner]) =>
    stoppedByGuardian(arms(), manner),
  )

  it.for([
    ['killed', 'SIGKILL', /^the guardian was lost: /],
    ['frozen', 'SIGSTOP', /^the guardian was lost: it no longer answers$/],
  ] as const)('a bench process whose guardian is %s stops the arms', async ([, signal, says], test) => {
    const run = await inMidStroke(arms(), test)
    process.kill(run.guardian, signal)
    try {
      await run.command.exit()
      await arms().stopped()
      const stops = (run.lines('events.jsonl') as BenchEvent[]).filter((e) => e.kind === 'stop')
      expect(stops).toEqual([
        expect.objectContaining({ source: 'guardian', says: expect.stringMatching(says) }),
      ])
      expect(run.command.ended).toBe(3)
      expect(run.verdict).toMatchObject({ outcome: 'incomplete', ended: 'operator' })
    } finally {
      if (signal === 'SIGSTOP') process.kill(run.guardian, 'SIGKILL')
    }
  })
})

describe.skipIf(!needs('socat'))('over serial lines', () => {
  const arms = sharedArms('pty')

  it.for([
    ['killed in the middle of a line', 'half'],
    ['that has filled its transmit queues', 'full'],
  ] as const)('a bench process %s is ended, and the arms are stopped', ([, manner]) =>
    stoppedByGuardian(arms(), manner),
  )
})

async function inMidStroke(arms: KillArms, test: TestContext): Promise<KillRun> {
  const run = new KillRun(arms, 'kill')
  test.onTestFinished(() => run.end())
  await run.inMidStroke(AT)
  return run
}
