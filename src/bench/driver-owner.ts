/** The driver under test of a rig, where it owns the buses, as the bench has it. */
import type { DriverUnderTest } from '../driver/link/under-test.js'
import type { DrystrokeError } from '../errors.js'
import type { Command } from '../files/scenario.js'
import { ProcessGroup } from '../stop/process-group.js'
import type { BusOwner, OwnerOrder } from './bus-owner.js'

export class DriverOwner implements BusOwner {
  readonly #driver: DriverUnderTest
  /** null: its process is none of ours. */
  readonly #group: ProcessGroup | null

  constructor(driver: DriverUnderTest) {
    this.#driver = driver
    this.#group = driver.pid === null ? null : new ProcessGroup(driver.pid)
  }

  get heeds(): boolean {
    return this.#driver.heeds
  }

  get ours(): boolean {
    return this.#group !== null
  }

  get gone(): boolean {
    return this.#group?.gone ?? false
  }

  get trouble(): DrystrokeError | null {
    return this.#driver.trouble
  }

  meetAnew(): void {
    this.#driver.meetAnew()
  }

  tell(order: OwnerOrder, command: Command | null): void {
    this.#driver.lead(order, command)
  }

  silence(): void {
    this.#group?.end()
  }
}
