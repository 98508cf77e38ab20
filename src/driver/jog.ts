/** A driver that moves one joint by a little and back, from wherever the arms are. A person decides when. */

import type { Rig } from '../files/rig.js'
import { JointMove } from '../motion/quintic.js'
import { slowTime } from '../motion/slow-move.js'
import type { Driver } from './contract.js'

export class JogDriver implements Driver {
  readonly parkPose: Float64Array
  done = false
  readonly #rig: Rig
  readonly #pose: Float64Array
  #move: JointMove | null = null
  #time = 0

  constructor(rig: Rig) {
    this.#rig = rig
    this.parkPose = new Float64Array(rig.joints.length)
    this.#pose = new Float64Array(rig.joints.length)
  }

  get parked(): boolean {
    return this.resting && this.#pose.every((q, j) => q === this.parkPose[j])
  }

  /** No move is under way. */
  get resting(): boolean {
    return this.#move === null
  }

  standAt(held: Float64Array): void {
    this.parkPose.set(held)
  }

  begin(): void {
    this.#pose.set(this.parkPose)
    this.#move = null
  }

  /** rad, where the setpoints are */
  at(joint: number): number {
    return this.#pose[joint]!
  }

  /** Begins the move of one joint to `angle` from where it began (rad); slow, as the approach is. */
  moveTo(joint: number, angle: number): void {
    const { joints, link, motion } = this.#rig
    const to = this.#pose.slice()
    // Back at its place it is there to the last bit.
    to[joint] = angle === 0 ? this.parkPose[joint]! : this.parkPose[joint]! + angle
    const share = Math.min(link.approach, motion.speedCap)
    const least = slowTime(this.#rig, this.#pose, to, motion.tipSpeed)
    this.#move = new JointMove(
      this.#pose,
      to,
      joints.map((j) => j.limits),
      share,
      Math.max(least, SHORTEST),
    )
    this.#time = 0
  }

  step(_: unknown, out: Float64Array): void {
    if (this.#move) {
      this.#time += this.#rig.control.period
      this.#move.at(this.#time, this.#pose)
      if (this.#time >= this.#move.duration) this.#move = null
    }
    out.set(this.#pose)
  }
}

/** s: an eye must be able to follow. */
const SHORTEST = 2
