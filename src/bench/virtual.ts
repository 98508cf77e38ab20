/** A run on the mock bus in virtual time: as fast as the machine can, the same bytes every time. */
import { MockBus } from '../bus/mock.js'
import { MockFaults } from '../bus/mock-faults.js'
import { nanos, VirtualTime, wall } from '../clock.js'
import { ReferenceDriver } from '../driver/reference.js'
import type { Finding } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { createPlant } from '../plant/plant.js'
import type { RecordingWriter } from '../record/write.js'
import { Judge, type Judgement } from '../verdict/judge.js'
import type { WatchSettings } from '../watch/settings.js'
import { Bench } from './bench.js'
import { type JudgedLog, runLog } from './log.js'

/** ms of wall time after which the loop lets signals, and whoever shows progress, have their turn. */
const YIELD_AFTER = 20

/** ms of wall time: a recording killed at any moment is readable up to so long before. */
const FLUSH_AFTER = 500

/** Errors of ours in one run after which even its stop is given up. */
const MOST_DEFECTS = 1000

/** Something outside the run that can end it. */
export interface Interrupt {
  /** Name of the signal that came, or null. */
  readonly signal: string | null
}

export interface VirtualRun {
  readonly rig: Rig<WatchSettings>
  readonly scenario: Scenario
  readonly seed: number
  readonly recording: RecordingWriter
  readonly interrupt?: Interrupt
  /** Called at every yield with scenario time (s) or null before it begins, and the stage. */
  readonly onProgress?: (scenarioTime: number | null, stage: string) => void
}

/** Plays the scenario to its end; the recording is complete but for verdict and reports when this resolves. */
export async function runVirtual(run: VirtualRun): Promise<Judgement> {
  const { rig, scenario, seed, recording } = run
  const time = new VirtualTime()
  const findings: Finding[] = []
  const judge = new Judge(rig, scenario, { onFinding: (f) => findings.push(f) })
  const mocks = rig.buses.map(({ name, bitrate }) => new MockBus(time, { name, bitrate }))
  const plant = createPlant(
    rig,
    time,
    (bus, name) => mocks[bus]!.attach(name, { order: 'by identifier' }),
    seed,
  )
  // The log is there before the bench, whose first event goes to it.
  let bench: Bench | undefined
  const log = runLog(recording, judge, findings, {
    onFinding: (f) => bench?.onFinding(f),
    onFailure: (error) => bench?.onDefect(error),
  })
  const buses = rig.buses.map(({ queue }, i) => mocks[i]!.attach('bench', { order: 'handed over', queue }))
  bench = new Bench({
    rig,
    scenario,
    seed,
    clock: time,
    buses,
    driver: new ReferenceDriver(rig),
    plant,
    busFaults: new MockFaults(mocks, buses, seed),
    log,
  })
  // Its first event could not be kept: nothing has moved, and nothing is going to.
  throwFailure(log)
  const defects: unknown[] = []
  let yieldedAt = wall.ms()
  let flushedAt = yieldedAt
  for (let k = 0; !bench.ended; k++) {
    try {
      time.runUntil(nanos(k * rig.control.period))
      bench.tick()
    } catch (error) {
      // The arms come to rest first; then the error goes its way.
      if (defects.length === MOST_DEFECTS) throw error
      defects.push(error)
      bench.onDefect(error)
    }
    if (wall.ms() - yieldedAt < YIELD_AFTER) continue
    await new Promise((resolve) => setImmediate(resolve))
    if (run.interrupt?.signal) bench.onSignal(run.interrupt.signal)
    run.onProgress?.(bench.scenarioTime, bench.stage ?? '')
    yieldedAt = wall.ms()
    if (yieldedAt - flushedAt < FLUSH_AFTER) continue
    flushedAt = yieldedAt
    log.flush()
  }
  if (defects.length > 0) throw defects[0]
  throwFailure(log)
  return judge.close()
}

function throwFailure({ failure }: JudgedLog): void {
  if (failure) throw failure.error
}
