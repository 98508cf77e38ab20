/** Bench, judge and log of one run, joined: the same for virtual and for real time. */
import type { Bus } from '../bus/contract.js'
import type { Clock } from '../clock.js'
import type { Driver } from '../driver/contract.js'
import { FaultyDriver } from '../driver/faulty-driver.js'
import { ReferenceDriver } from '../driver/reference.js'
import { DrystrokeError } from '../errors.js'
import type { Finding } from '../files/event.js'
import type { FaultTaker } from '../files/faults/catalogue.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import type { Plant } from '../plant/contract.js'
import type { RecordingWriter } from '../record/write.js'
import { Judge } from '../verdict/judge.js'
import type { WatchSettings } from '../watch/settings.js'
import { Bench } from './bench.js'
import type { BusOwner } from './bus-owner.js'
import { type JudgedLog, runLog } from './log.js'

export interface RunParts {
  readonly rig: Rig<WatchSettings>
  readonly scenario: Scenario
  readonly seed: number
  readonly clock: Clock
  readonly buses: readonly Bus[]
  /** The simulated arms, or null: real ones. */
  readonly plant: Plant | null
  /** How mock buses are made to fail; left out: real ones. */
  readonly busFaults?: FaultTaker
  /** How the time of the loop is made to fail; left out: it cannot be. */
  readonly clockFaults?: FaultTaker
  /** Other simulated arms, in another process. */
  readonly standIn?: FaultTaker | null
  /** The emergency-stop box is read. */
  readonly boxed?: boolean
  /** Left out: the reference driver. */
  readonly driver?: Driver | undefined
  /** Left out: the harness owns the buses. */
  readonly owner?: BusOwner | null
  readonly holdToRun?: boolean
  /** Of each joint, the drive that was confirmed (`showDrive`), null: any; left out: any everywhere. */
  readonly drives?: readonly (string | null)[] | null
  readonly recording: Pick<RecordingWriter, 'frame' | 'event' | 'flush'>
}

export interface AssembledRun {
  readonly bench: Bench
  readonly judge: Judge
  readonly log: JudgedLog
}

/** @throws whatever kept the first event from being recorded: nothing has moved then, and nothing is going to */
export function assemble({ recording, ...parts }: RunParts): AssembledRun {
  const { link } = parts.rig.driver
  const owned = parts.rig.buses.some(({ owner }) => owner === 'driver')
  if (owned ? !parts.owner : link !== null && !parts.driver)
    throw new DrystrokeError(
      'usage',
      `The rig's driver is of kind ${link?.kind}${owned ? ' and owns the buses' : ''}, which cannot be played here; expected driver.kind: reference`,
    )
  const findings: Finding[] = []
  const judge = new Judge(parts.rig, parts.scenario, { onFinding: (f) => findings.push(f) })
  // The log is there before the bench, whose first event goes to it.
  let bench: Bench | undefined
  const log = runLog(recording, judge, findings, {
    onFinding: (f) => bench?.onFinding(f),
    onFailure: (error) => bench?.onDefect(error),
  })
  const driver = parts.driver ?? new ReferenceDriver(parts.rig)
  const faulty = FaultyDriver.where(parts.scenario.faults, driver, parts.rig.control.period)
  bench = new Bench({
    ...parts,
    driver: faulty ?? driver,
    ...(faulty ? { driverFaults: faulty } : {}),
    log,
  })
  throwFailure(log)
  return { bench, judge, log }
}

export function throwFailure({ failure }: JudgedLog): void {
  if (failure) throw failure.error
}
