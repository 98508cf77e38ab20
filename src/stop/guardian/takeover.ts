/**
 * The guardian stops the arms: the bench process is ended for good first, so that it cannot wake and send, and so is a driver
 * that owns the buses; then the lines are taken over, and the stop runs on them to its end. Everything that it needs is
 * handed in, ready.
 */
import type { Bus } from '../../bus/contract.js'
import type { Nanos, Scheduler } from '../../clock.js'
import { nanos } from '../../clock.js'
import type { Rig } from '../../files/rig.js'
import { Halt, type Halted, type HaltOptions } from '../halt.js'
import type { ProcessGroup } from '../process-group.js'
import type { BenchProcess } from './bench-process.js'
import type { Evidence } from './evidence.js'
import type { TakeoverCause } from './fold.js'

/**
 * Between two looks whether the process is gone. It needs the processor to go, and whoever waits for a time to the millisecond
 * is awake for most of it: on a machine with one processor the guardian would keep it from going, so it soon looks seldom.
 */
const GONE_LOOK: Nanos = 1e6
const GONE_LOOK_LATER: Nanos = 8e6
const SOON: Nanos = 20e6
/** A process that is held up in the kernel may stay for long; the arms cannot wait for it, and it cannot send from there. */
const GONE_WITHIN: Nanos = 250e6
/** Errors of ours in one stop after which it is given up. */
const MOST_DEFECTS = 1000

export interface TakeoverParts {
  readonly rig: Rig
  readonly clock: Scheduler
  readonly bench: Pick<BenchProcess, 'end' | 'gone'>
  /** The driver's, where it owns the buses and is a process of the run's; null: it is none. */
  readonly driver: Pick<ProcessGroup, 'end' | 'gone'> | null
  /** The guardian's own ends, one a bus; called once the bench process is gone. Never throws. */
  readonly takeBuses: () => readonly Bus[]
  /** Rolling counters of the bench process's last finished tick, null: none. */
  readonly counts: HaltOptions['counts'] | null
  readonly evidence: Evidence
  /** All that is to be known of the stop is known; sag is still watched. */
  readonly onStopped: (drives: readonly Halted[], t: Nanos) => void
  readonly onOver: (drives: readonly Halted[], t: Nanos) => void
}

const SAYS: Readonly<Record<TakeoverCause, string>> = {
  silent: 'the bench process finished no tick for too long',
  gone: 'the bench process ended without a good-bye',
  'never ticked': 'the bench process never finished a tick',
  disobedient: 'the bench process was told to stop the arms and did not',
}

export function takeOver(parts: TakeoverParts, cause: TakeoverCause, unheard: Nanos): void {
  const { rig, clock, bench, driver, evidence } = parts
  const began = clock.now()
  bench.end()
  // Its stop does not wait until it is gone: only we send on the stop's identifier.
  driver?.end()
  evidence.add({ kind: 'takeover', t: began, cause, unheard, says: SAYS[cause] })
  const waitForEnd = (): void => {
    const t = clock.now()
    const { gone } = bench
    if (!gone && t - began < GONE_WITHIN) {
      clock.at(t + (t - began < SOON ? GONE_LOOK : GONE_LOOK_LATER), waitForEnd)
      return
    }
    evidence.add({ kind: 'bench ended', t, gone })
    const halt = new Halt(rig, watched(parts, parts.takeBuses()), {
      feed: true,
      counts: parts.counts ?? null,
    })
    const begun = clock.now()
    halt.begin(begun)
    evidence.add({ kind: 'stop', t: begun, category: rig.stop.category })
    run(parts, halt, gone)
  }
  waitForEnd()
}

/** What the buses report belongs to the evidence. */
function watched({ rig, evidence }: TakeoverParts, buses: readonly Bus[]): readonly Bus[] {
  buses.forEach((bus, i) => {
    const place = rig.buses[i]!.name
    bus.onReport(({ says }, t) => evidence.add({ kind: 'bus', t, place, says }))
  })
  return buses
}

/** @param gone nothing was left of the bench process when the stop began; otherwise it is looked for until it is */
function run(parts: TakeoverParts, halt: Halt, gone: boolean): void {
  const { rig, clock, bench, driver, evidence, onStopped, onOver } = parts
  const period = nanos(rig.control.period)
  let left = !gone
  let owned = driver === null
  let told = false
  let defects = 0
  const tick = (): void => {
    const t = clock.now()
    try {
      if (!owned && driver!.gone) {
        owned = true
        evidence.add({ kind: 'driver ended', t, gone: true })
        halt.own()
      }
      halt.tick(t)
      for (const n of halt.notices.splice(0)) {
        const place = 'drive' in n ? n.drive.joint.name : rig.buses[n.bus]!.name
        evidence.add({ kind: 'notice', t, place, says: n.says })
      }
      if (left && bench.gone) {
        left = false
        evidence.add({ kind: 'bench ended', t, gone: true })
      }
      if (!told && halt.stage !== 'stopping') {
        told = true
        onStopped(halt.drives(t), t)
      }
    } catch (error) {
      // One wrong tick must not be the last.
      if (++defects > MOST_DEFECTS) throw error
      evidence.add({ kind: 'bus', t, place: '', says: `the guardian itself failed: ${String(error)}` })
    }
    if (halt.stage === 'over' && !owned) evidence.add({ kind: 'driver ended', t, gone: false })
    if (halt.stage === 'over') onOver(halt.drives(t), t)
    else clock.at(t + period, tick)
  }
  clock.at(clock.now() + period, tick)
}
