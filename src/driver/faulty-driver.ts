/** A driver whose commands or setpoints go astray on the way, as a scenario asks for it. */
import type { DrystrokeError } from '../errors.js'
import { FAULTS, type Fault, type FaultTaker } from '../files/faults/catalogue.js'
import type { Command } from '../files/scenario.js'
import type { Driver, DriverHost } from './contract.js'

export class FaultyDriver implements Driver, FaultTaker {
  readonly #driver: Driver
  /** s */
  readonly #period: number
  #commandsLost = false
  #command: Command | null = null
  readonly #commands = new Late<Command>()
  #stale = false
  readonly #given: Float64Array
  readonly #setpoints = new Late<Float64Array>()
  #noNumber = false

  /** Where none of the faults is the driver's there is none: what can go astray costs time. @param period s */
  static where(faults: readonly Fault[], driver: Driver, period: number): FaultyDriver | null {
    const astray = faults.some(({ fault }) => FAULTS[fault].target === 'driver')
    return astray ? new FaultyDriver(driver, period) : null
  }

  constructor(driver: Driver, period: number) {
    this.#driver = driver
    this.#period = period
    this.#given = Float64Array.from(driver.parkPose)
  }

  get parkPose(): Float64Array {
    return this.#driver.parkPose
  }

  get parked(): boolean {
    return this.#driver.parked
  }

  get done(): boolean {
    return this.#driver.done ?? false
  }

  get trouble(): DrystrokeError | null {
    return this.#driver.trouble ?? null
  }

  attach(host: DriverHost): void {
    this.#driver.attach?.(host)
  }

  meetAnew(): void {
    this.#driver.meetAnew?.()
  }

  begin(): void {
    this.#driver.begin()
    this.#given.set(this.#driver.parkPose)
    this.#command = null
    this.#commands.clear()
    this.#setpoints.clear()
  }

  step(command: Command, out: Float64Array): void {
    if (!this.#commandsLost || this.#command === null) this.#command = command
    this.#driver.step(this.#commands.pass(this.#command), out)
    this.#astray(out)
  }

  stepAlone(out: Float64Array): void {
    if (this.#driver.stepAlone) this.#driver.stepAlone(out)
    else this.#driver.step({ surge: 0, yaw: 0 }, out)
    this.#astray(out)
  }

  #astray(out: Float64Array): void {
    if (this.#setpoints.on) out.set(this.#setpoints.pass(out.slice()))
    if (this.#stale) out.set(this.#given)
    else this.#given.set(out)
    if (this.#noNumber) out[0] = Number.NaN
  }

  fault({ fault, amount }: Fault, on: boolean): void {
    const periods = on ? Math.round(amount / this.#period) : 0
    if (fault === 'commands-lost') this.#commandsLost = on
    else if (fault === 'commands-late') this.#commands.by(periods)
    else if (fault === 'setpoints-stale') this.#stale = on
    else if (fault === 'setpoints-late') this.#setpoints.by(periods)
    else if (fault === 'no-number') this.#noNumber = on
  }
}

/** What is put in comes out so many turns later; until then the first goes on coming out. */
class Late<T> {
  #turns = 0
  #waiting: T[] = []

  get on(): boolean {
    return this.#turns > 0
  }

  by(turns: number): void {
    this.#turns = turns
    this.#waiting = []
  }

  clear(): void {
    this.#waiting = []
  }

  pass(value: T): T {
    if (this.#turns === 0) return value
    this.#waiting.push(value)
    return this.#waiting.length > this.#turns ? this.#waiting.shift()! : this.#waiting[0]!
  }
}
