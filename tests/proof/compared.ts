/** A broken driver beside the sound one: both are told the same, the arms follow the broken one. */
import type { Driver } from '../../src/driver/contract.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import type { Rig } from '../../src/files/rig.js'
import type { Command } from '../../src/files/scenario.js'

/** rad, less is rounding */
const SAME = 1e-9

export class Compared implements Driver {
  /** rad, what the sound driver asks of the joints now */
  readonly sound: Float64Array
  /** The broken driver has asked for something else by now. */
  differs = false
  readonly parkPose: Float64Array
  readonly #broken: Driver
  readonly #reference: ReferenceDriver

  constructor(rig: Rig, broken: Driver) {
    this.#reference = new ReferenceDriver(rig)
    this.#broken = broken
    this.parkPose = broken.parkPose
    this.sound = this.#reference.parkPose.slice()
  }

  get parked(): boolean {
    return this.#broken.parked
  }

  /** The arms are led to another park pose than they should. */
  get parksElsewhere(): boolean {
    return apart(this.parkPose, this.#reference.parkPose)
  }

  begin(): void {
    this.#reference.begin()
    this.#broken.begin()
    this.sound.set(this.#reference.parkPose)
  }

  step(command: Command, out: Float64Array): void {
    this.#reference.step(command, this.sound)
    try {
      this.#broken.step(command, out)
    } catch (error) {
      this.differs = true
      throw error
    }
    if (!this.differs) this.differs = apart(out, this.sound)
  }
}

function apart(a: Float64Array, b: Float64Array): boolean {
  // No number is no distance.
  return a.some((q, j) => !(Math.abs(q - b[j]!) <= SAME))
}
