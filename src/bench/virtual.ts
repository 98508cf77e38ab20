/** A run on the mock bus in virtual time: as fast as the machine can, the same bytes every time. */
import { VirtualTime, wall } from '../clock.js'
import type { Driver } from '../driver/contract.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import type { RecordingWriter } from '../record/write.js'
import type { Judgement } from '../verdict/judge.js'
import type { WatchSettings } from '../watch/settings.js'
import { assemble, throwFailure } from './assemble.js'
import type { Interrupt } from './interrupt.js'
import { simulatedArms } from './simulated.js'
import { VirtualLoop } from './virtual-loop.js'

/** ms of wall time after which the loop lets signals, and whoever shows progress, have their turn. */
const YIELD_AFTER = 20

/** ms of wall time: a recording killed at any moment is readable up to so long before. */
const FLUSH_AFTER = 500

/** Errors of ours in one run after which even its stop is given up. */
export const MOST_DEFECTS = 1000

export interface VirtualRun {
  readonly rig: Rig<WatchSettings>
  readonly scenario: Scenario
  readonly seed: number
  readonly recording: Pick<RecordingWriter, 'frame' | 'event' | 'flush'>
  readonly interrupt?: Interrupt
  /** Left out: the reference driver. */
  readonly driver?: Driver | undefined
  /** Called at every yield with scenario time (s) or null before it begins, and the stage. */
  readonly onProgress?: (scenarioTime: number | null, stage: string) => void
}

/** Plays the scenario to its end; the recording is complete but for verdict and reports when this resolves. */
export async function runVirtual(run: VirtualRun): Promise<Judgement> {
  const { rig, scenario, seed, recording, driver } = run
  const time = new VirtualTime()
  const arms = simulatedArms(rig, time, seed, scenario.plant)
  const loop = new VirtualLoop(time, rig.control.period, seed, arms.buses)
  const { bench, judge, log } = assemble({
    ...{ rig, scenario, seed, clock: time, recording, clockFaults: loop.faults },
    ...arms,
    driver,
  })
  const defects: unknown[] = []
  let yieldedAt = wall.ms()
  let flushedAt = yieldedAt
  while (!bench.ended) {
    try {
      loop.turn((late, missed) => bench.tick(late, missed))
    } catch (error) {
      // The arms come to rest first; then the error goes its way.
      if (defects.length === MOST_DEFECTS) throw error
      defects.push(error)
      bench.onDefect(error)
    }
    const answer = driver?.settle?.()
    if (answer) await answer
    if (wall.ms() - yieldedAt < YIELD_AFTER) continue
    await new Promise((resolve) => setImmediate(resolve))
    if (run.interrupt?.stop) bench.onStop(run.interrupt.stop)
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
