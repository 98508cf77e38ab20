/** What a bench is made of. */
import type { Bus } from '../bus/contract.js'
import type { Clock } from '../clock.js'
import type { Driver } from '../driver/contract.js'
import type { FaultTaker } from '../files/faults/catalogue.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import type { Plant } from '../plant/contract.js'
import type { BusOwner } from './bus-owner.js'
import type { RunLog } from './run-log.js'

export interface BenchParts {
  readonly rig: Rig
  readonly scenario: Scenario
  readonly seed: number
  readonly clock: Clock
  readonly buses: readonly Bus[]
  readonly driver: Driver
  /** A driver that owns the buses leads the arms, and `driver` is not asked; left out: the harness owns them. */
  readonly owner?: BusOwner | null
  /** The simulated arms, or null: real ones. */
  readonly plant: Plant | null
  /** Who does the faults of simulated arms in another process; null or left out: there are none. */
  readonly standIn?: FaultTaker | null
  /** The rig's emergency-stop box is read: arms are enabled only while it is closed. Left out: simulated arms, which need none. */
  readonly boxed?: boolean
  /** How mock buses are made to fail; left out: real ones. */
  readonly busFaults?: FaultTaker
  /** How the way between harness and driver is made to fail; left out: it cannot be. */
  readonly driverFaults?: FaultTaker
  /** How the time of the loop is made to fail; left out: it cannot be. */
  readonly clockFaults?: FaultTaker
  readonly log: RunLog
  /** Of each joint, the drive that was confirmed (`showDrive`), null: any; left out: any everywhere. */
  readonly drives?: readonly (string | null)[] | null
  /** The approach runs only while `hold` says that a person holds it; left out: it runs. */
  readonly holdToRun?: boolean
}
