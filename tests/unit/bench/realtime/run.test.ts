/** A real-time run as a whole, in virtual time: who guards it, what stops it, and how it ends when things of ours fail. */
import { existsSync } from 'node:fs'
import { describe, expect, it, vi } from 'vitest'
import { Bench } from '../../../../src/bench/bench.js'
import type { Outside } from '../../../../src/bench/realtime/outside.js'
import { MOST_DEFECTS } from '../../../../src/bench/virtual.js'
import { DrystrokeError } from '../../../../src/errors.js'
import { writeReports } from '../../../../src/report/write.js'
import { confirmed } from '../../../../src/stop/halt.js'
import { judgeRecording } from '../../../../src/verdict/judge-recording.js'
import { isControl, isSetpoint } from '../../../setup/bench.js'
import { LIVE_RIG, LiveRun } from '../../../setup/live-run.js'
import { change, DEMO_RIG, FRAMES_RIG, temporaryFolder } from '../../../setup/runs.js'

const outDir = temporaryFolder()
const ENABLE = 0x0f
const QUICK_STOP = 0x02

/** Until the arms move. */
async function moving(options: Partial<ConstructorParameters<typeof LiveRun>[0]> = {}): Promise<LiveRun> {
  const live = new LiveRun({ outDir, ...options })
  await live.begin()
  await live.until(() => live.stage === 'play')
  live.table.sent.length = 0
  return live
}

const stopOf = (live: LiveRun) => live.events.find((e) => e.kind === 'stop')

/** From the quick stop on no setpoint went out, and both buses had it. */
function expectStopped({ table: { sent } }: LiveRun): void {
  const at = sent.findIndex((s) => isControl(s, QUICK_STOP))
  expect(at).toBeGreaterThanOrEqual(0)
  expect(
    sent
      .slice(at)
      .filter((s) => isControl(s, QUICK_STOP))
      .map((s) => s.bus),
  ).toEqual(expect.arrayContaining([0, 1]))
  expect(sent.slice(at).some(isSetpoint)).toBe(false)
}

describe('the guardian of a run', () => {
  it('is started before anything is sent, hears of each tick, and has its good-bye at the end, when the arms are at rest', async () => {
    const live = new LiveRun({ outDir })
    await live.begin()
    expect(live.guardian.started).toBe(1)
    expect(live.table.sent).toEqual([])
    await live.until(() => live.stage === 'play')
    expect(live.guardian.goodByes).toBe(0)
    live.run.onStop({ source: 'key', says: 'a test' })
    await live.until(() => live.ended)
    live.close()
    const ticks = live.events.flatMap((e) => (e.kind === 'tick' ? [e.k] : []))
    expect(live.guardian.goodByes).toBe(1)
    // Ticks count from 0, and the last, which ends the run, has no record of its own.
    expect(live.guardian.beats).toBe(ticks.at(-1)! + 2)
  })

  it('is told with each beat how far the stop frames have counted, where they do', async () => {
    const rigText = [
      [/address: mock/, 'address: "slcan:tcp:127.0.0.1:7001"'],
      [/address: mock/, 'address: "slcan:tcp:127.0.0.1:7002"'],
      [
        'stop: { id: "0x001 + 16 x node", bytes: 0 }',
        'stop: { id: "0x001 + 16 x node", bytes: 1, signals: [{ is: counter, byte: 0, length: 4 }] }',
      ],
    ].reduce((text, [from, to]) => change(text, from!, to as string), FRAMES_RIG)
    const live = await moving({ rigText, outDir: temporaryFolder() })
    live.table.sent.length = 0
    const before = live.counts![1]!
    expect(before.map(([id]) => id)).toEqual([0x11, 0x21, 0x31, 0x41, 0x51, 0x61])
    live.run.onStop({ source: 'key', says: 'a test' })
    await live.wait(0.1)
    const { sent: all } = live.table
    const sent = before.map(([id, n]) => [id, n + all.filter((s) => s.bus === 1 && s.frame.id === id).length])
    expect(sent[0]![1]).toBeGreaterThan(before[0]![1])
    expect(live.counts![1]).toEqual(sent)
    await live.until(() => live.ended)
    live.close()
  })

  it('that cannot be started: the run is refused, and nothing was sent', async () => {
    const refused = new DrystrokeError('guardian', 'The guardian could not be started: it ended (status 1)')
    const live = new LiveRun({ outDir, outside: { startGuardian: () => Promise.reject(refused) } })
    await live.run.prepare()
    await expect(live.run.begin(live.folder, () => {})).rejects.toBe(refused)
    expect(refused.exitStatus).toBe(2)
    await live.wait(1)
    expect(live.table.sent).toEqual([])
    live.keeper.close(true)
    expect(existsSync(live.folder)).toBe(false)
  })

  it('that is lost stops the run', async () => {
    const live = await moving()
    live.guarding!.onLost('the guardian was lost: it ended (SIGKILL)')
    await live.until(() => live.ended)
    live.close()
    expectStopped(live)
    expect(stopOf(live)).toMatchObject({
      source: 'guardian',
      says: 'the guardian was lost: it ended (SIGKILL)',
    })
  })

  it('hears nothing more of a bench whose ticks throw, and no good-bye when that gives up', async () => {
    const live = await moving()
    const { beats } = live.guardian
    let ticks = 0
    const tick = vi.spyOn(Bench.prototype, 'tick').mockImplementation(() => {
      ticks++
      throw new Error('a defect in every tick')
    })
    try {
      await live.wait((MOST_DEFECTS + 100) * live.table.rig.control.period)
    } finally {
      tick.mockRestore()
    }
    expect(ticks).toBe(MOST_DEFECTS + 1)
    expect(live.guardian).toMatchObject({ beats, goodByes: 0 })
    expect(live.ended).toBe(false)
    live.close()
  })
})

describe('a defect of ours', () => {
  it('before the run begins: nothing is enabled, the run ends and gives the error', async () => {
    const live = new LiveRun({ outDir })
    const defect = new Error('while buses were opened')
    await live.run.prepare()
    live.run.onDefect(defect)
    await live.run.begin(live.folder, () => {
      live.ended = true
    })
    await live.until(() => live.ended)
    live.close()
    expect(live.table.sent.some((s) => isControl(s, ENABLE) || isSetpoint(s))).toBe(false)
    expect(stopOf(live)).toMatchObject({
      source: 'bench',
      says: 'the bench itself failed: while buses were opened',
    })
    expect(live.run.failure).toEqual({ error: defect })
  })

  it('in mid-run stops the arms, and the guardian has its good-bye', async () => {
    const live = await moving()
    live.run.onDefect(new Error('a test'))
    await live.until(() => live.ended)
    live.close()
    expectStopped(live)
    expect(live.guardian.goodByes).toBe(1)
    expect(live.run.failure).toEqual({ error: new Error('a test') })
  })
})

describe('a stop', () => {
  it('that was asked for before the guardian listened is found by its mark: nothing is enabled', async () => {
    const live = new LiveRun({ outDir, outside: { markedSince: () => true } })
    await live.play()
    expect(live.table.sent.some((s) => isControl(s, ENABLE) || isSetpoint(s))).toBe(false)
    expect(stopOf(live)).toMatchObject({ source: 'command' })
  })

  it.each([
    ['before the run knows of its guardian', null],
    ['before the first tick', 0],
    ['while drives are calmed', 0.03],
    ['while drives are set up', 0.15],
  ])(
    'that another terminal asks for %s has drives confirm that were never enabled: they are asked',
    async (_, after) => {
      const live = new LiveRun({ outDir })
      live.askedEarly = after === null
      await live.begin()
      if (after !== null) {
        await live.wait(after)
        expect(live.stage ?? 'setup').toBe('setup')
        live.guarding!.onStopAsked()
      }
      await live.until(() => live.ended)
      live.close()
      expect(live.guardian).toMatchObject({ obeyed: 1, reports: 1, goodByes: 1 })
      expect(live.told.map((d) => [d.state, confirmed(d)])).toEqual(
        Array(12).fill(['switch on disabled', true]),
      )
      expect(live.table.sent.some((s) => isControl(s, ENABLE) || isSetpoint(s))).toBe(false)
    },
  )

  it('that another terminal asks for is reported on when the drives have confirmed it', async () => {
    const live = await moving()
    live.guarding!.onStopAsked()
    await live.until(() => live.ended)
    live.close()
    expectStopped(live)
    expect(live.guardian.reports).toBe(1)
  })
})

describe('a recording that cannot be written any more', () => {
  const full = new DrystrokeError('file-access', '/somewhere/frames.pcapng cannot be written: ENOSPC')

  async function fillDisk(): Promise<LiveRun> {
    const live = await moving()
    vi.spyOn(live.files, 'append').mockImplementation(() => {
      throw full
    })
    return live
  }

  it('stops the arms first; what and where it was is thrown when they are at rest, and what is there is no pass', async () => {
    const live = await fillDisk()
    await live.until(() => live.ended)
    expectStopped(live)
    expect(live.guardian.goodByes).toBe(1)
    // The bench process waits for nothing any more.
    live.keeper.tell()
    expect(live.run.allWritten).toBe(true)
    expect(() => live.close()).toThrow(full)
    const { verdict } = judgeRecording(live.folder).judgement
    expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'cut short' })
  })

  it('and whose writer then dies ends where it could not go on, and is judged so', async () => {
    const live = await fillDisk()
    await live.wait(0.5)
    live.orphan()
    await live.until(() => live.ended)
    live.close()
    expectStopped(live)
    const judged = judgeRecording(live.folder)
    expect(judged.judgement.verdict).toMatchObject({ outcome: 'incomplete', ended: 'cut short' })
    writeReports(live.folder, judged)
  })
})

describe('a rig with simulated arms on one bus and others on another', () => {
  const mixed = change(LIVE_RIG, 'address: "slcan:tcp:127.0.0.1:7002"', 'address: mock')

  it('is refused with the names of both, and how to mend it, before anything is opened', () => {
    const openBus = vi.fn<Outside['openBus']>()
    const refusal = (): DrystrokeError => {
      try {
        new LiveRun({ outDir, rigText: mixed, outside: { openBus } })
      } catch (error) {
        return error as DrystrokeError
      }
      throw new Error('it was not refused')
    }
    expect(refusal()).toMatchObject({ code: 'usage', exitStatus: 2 })
    expect(refusal().message).toBe(
      'The rig reservoir-skiff has starboard-can on the mock bus and port-can elsewhere; expected all buses simulated, ' +
        'or none. Say --bus mock, or give each bus its address with --bus NAME=ADDRESS.',
    )
    expect(openBus).not.toHaveBeenCalled()
  })

  it.each([
    ['mock everywhere', DEMO_RIG],
    ['adapters everywhere', LIVE_RIG],
  ])('is not what %s is', (_, rigText) => {
    expect(() => new LiveRun({ outDir, rigText })).not.toThrow()
  })
})
