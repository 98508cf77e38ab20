/**
 * The first seconds of the run played in virtual time, with nothing recorded: so that the loop's code is compiled and its
 * memory there before the first real tick. Otherwise the first ticks take tens of milliseconds.
 */
import { getHeapCodeStatistics, setFlagsFromString } from 'node:v8'
import { runInNewContext } from 'node:vm'
import { nanos, VirtualTime, wall } from '../../clock.js'
import { type Rig, withoutDriver } from '../../files/rig.js'
import type { Scenario } from '../../files/scenario.js'
import type { WatchSettings } from '../../watch/settings.js'
import { assemble } from '../assemble.js'
import { simulatedArms } from '../simulated.js'
import { RecordStream } from './record-stream.js'

/** s of the run */
const PLAYED = 6
const ALL = { frames: Infinity, events: Infinity }
/** ms of wall time at most */
const WITHIN = 2000

export function warmUp(played: Rig<WatchSettings>, scenario: Scenario, seed: number): void {
  // A driver of the team's own is in no memory of ours.
  const rig = withoutDriver(played)
  const time = new VirtualTime()
  const recording = new RecordStream(rig.buses, () => {}, Infinity)
  const arms = simulatedArms(rig, time, seed, scenario.plant)
  const { bench } = assemble({
    rig,
    scenario,
    seed,
    clock: time,
    ...arms,
    recording,
  })
  const from = wall.ms()
  const ticks = PLAYED / rig.control.period
  for (let k = 0; k < ticks && !bench.ended && wall.ms() - from < WITHIN; k++) {
    time.runUntil(nanos(k * rig.control.period))
    bench.tick()
    recording.flush()
    recording.written(ALL)
  }
}

/**
 * What there is has become old, and its garbage is gone: neither is left for the first seconds of a run, where it takes 10 ms at
 * a time. To be called when all is assembled and nothing moves yet; takes 50 ms.
 */
export function settle(): void {
  // V8 lets itself be told only by programs that are made after this.
  setFlagsFromString('--expose-gc')
  const collect = runInNewContext('gc') as () => void
  collect()
  // V8 goes through its pages when they are next needed, and through all of them at once before it counts what is in them.
  getHeapCodeStatistics()
}
