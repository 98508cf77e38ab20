/** Hands the faults of joints and arms to the simulated drives that they are at, and changes the places of those that are swapped. */
import type { Scheduler } from '../../clock.js'
import {
  type ArmFaultName,
  FAULTS,
  type Fault,
  type FaultTaker,
  type JointFaultName,
} from '../../files/faults/catalogue.js'
import type { Arm } from '../../files/rig.js'
import { Ongoing } from '../../ongoing.js'
import type { FaultyDrive } from './faulty.js'
import { ARM_BEHAVIOUR, JOINT_BEHAVIOUR } from './joint-faults.js'

export class ArmFaults implements FaultTaker {
  readonly #drives: readonly FaultyDrive[]
  readonly #arms: readonly Pick<Arm, 'side' | 'joints'>[]
  readonly #scheduler: Scheduler
  /** Of each joint. */
  readonly #ongoing: readonly Ongoing[]

  /** @param drives in rig order */
  constructor(
    drives: readonly FaultyDrive[],
    arms: readonly Pick<Arm, 'side' | 'joints'>[],
    scheduler: Scheduler,
  ) {
    this.#drives = drives
    this.#arms = arms
    this.#scheduler = scheduler
    this.#ongoing = drives.map(() => new Ongoing())
  }

  fault({ fault, place, other, amount }: Fault, on: boolean): void {
    if (fault === 'swapped') {
      this.#swap(place, other, on)
      return
    }
    if (fault === 'swapped-sides') {
      this.#swapSides(place, on)
      return
    }
    const t = this.#scheduler.now()
    if (FAULTS[fault].target === 'joint') {
      const behave = JOINT_BEHAVIOUR[fault as Exclude<JointFaultName, 'swapped'>]
      behave(this.#drives[place]!, on, amount, this.#ongoing[place]!, t)
    } else if (FAULTS[fault].target === 'arm') {
      const behave = ARM_BEHAVIOUR[fault as Exclude<ArmFaultName, 'swapped-sides'>]
      for (const j of this.#arms[place]!.joints) behave(this.#drives[j]!, on, amount, this.#ongoing[j]!, t)
    }
  }

  /** Each drive is at the joint of the other, or (false) both are at their own. */
  #swap(a: number, b: number, on: boolean): void {
    const [one, other] = [this.#drives[a]!, this.#drives[b]!]
    one.body = on ? other.own : one.own
    other.body = on ? one.own : other.own
  }

  #swapSides(arm: number, on: boolean): void {
    const own = this.#arms[arm]!
    const opposite = this.#arms.find((a) => a.side !== own.side)
    if (opposite === undefined) return
    own.joints.forEach((j, i) => {
      const facing = opposite.joints[i]
      if (facing !== undefined) this.#swap(j, facing, on)
    })
  }
}
