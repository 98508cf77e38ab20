/** Small wrongs that are put around a driver, one upon another if need be. */
import type { Driver } from '../../../src/driver/contract.js'
import type { Rig } from '../../../src/files/rig.js'
import type { Command } from '../../../src/files/scenario.js'
import { portSpeed, starboardSpeed } from '../../../src/motion/side-speeds.js'

/** A driver that is what its inner one is: where a wrong begins. */
export class Around implements Driver {
  readonly parkPose: Float64Array
  protected readonly inner: Driver

  constructor(inner: Driver) {
    this.inner = inner
    this.parkPose = inner.parkPose.slice()
  }

  get parked(): boolean {
    return this.inner.parked
  }

  begin(): void {
    this.inner.begin()
  }

  step(command: Command, out: Float64Array): void {
    this.inner.step(command, out)
  }
}

/** Where a wrong is in its run: periods since the last begin, and how often the driver has begun. */
export interface Place {
  readonly k: number
  readonly starts: number
}

/** It hears another command than was given. */
export class Misheard extends Around {
  readonly #hear: (command: Command, place: Place) => Command
  #k = 0
  #starts = 0

  constructor(inner: Driver, hear: (command: Command, place: Place) => Command) {
    super(inner)
    this.#hear = hear
  }

  override begin(): void {
    this.#k = 0
    this.#starts++
    super.begin()
  }

  override step(command: Command, out: Float64Array): void {
    super.step(this.#hear(command, { k: this.#k++, starts: this.#starts }), out)
  }
}

/** It hands out other setpoints than it has worked out. */
export class Mishandled extends Around {
  readonly #hand: (out: Float64Array, place: Place) => void
  #k = 0
  #starts = 0

  /**
   * @param hand changes setpoints (rad, rig order) in place
   * @param parked the park pose too is handed out so
   */
  constructor(inner: Driver, hand: (out: Float64Array, place: Place) => void, parked = false) {
    super(inner)
    this.#hand = hand
    if (parked) hand(this.parkPose, { k: 0, starts: 0 })
  }

  override begin(): void {
    this.#k = 0
    this.#starts++
    super.begin()
  }

  override step(command: Command, out: Float64Array): void {
    super.step(command, out)
    this.#hand(out, { k: this.#k++, starts: this.#starts })
  }
}

/** A wrong that hears side speeds (m/s) and makes others of them. */
export function bySides(
  rig: Rig,
  change: (port: number, starboard: number) => readonly [port: number, starboard: number],
): (command: Command) => Command {
  const { track } = rig.craft
  return ({ surge, yaw }) => {
    const [port, starboard] = change(portSpeed(surge, yaw, track), starboardSpeed(surge, yaw, track))
    return { surge: (port + starboard) / 2, yaw: (starboard - port) / track }
  }
}

/** Index of a joint by what it is called in its arm; the port arm's unless another is named. */
export function jointOf(rig: Rig, name: string, arm = 0): number {
  const found = rig.arms[arm]!.joints.find((j) => rig.joints[j]!.name.endsWith(`.${name}`))
  if (found === undefined) throw new Error(`no joint ${name} in arm ${rig.arms[arm]!.name}`)
  return found
}

/** The first `count` joints of the rig: one, those of the first arm, or all. */
export function firstJoints(rig: Rig, count: number): number[] {
  return rig.joints.slice(0, count).map((j) => j.index)
}
