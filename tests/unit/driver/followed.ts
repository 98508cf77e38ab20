/** The driver's setpoints played to arms afloat whose joints follow them to the letter: the simulated plant without servos and buses. */
import type { Rig } from '../../../src/files/rig.js'
import type { Command } from '../../../src/files/scenario.js'
import { Afloat } from '../../../src/plant/afloat.js'
import type { CoupledJoint } from '../../../src/plant/mechanism.js'
import { Player } from './play.js'

/** ns and s, of the plant's grid. */
const GRID = 1e6
const STEP = 1e-3

class Followed implements CoupledJoint {
  readonly motion = { position: 0, speed: 0 }
  readonly asleep = false
  readonly ceiling = Number.POSITIVE_INFINITY
  /** N m, of the last step */
  torque = 0
  /** rad: the setpoint before this step, that of it, and the next one */
  #before = 0
  #next = 0
  #after = 0

  begin(position: number): void {
    this.#before = position
    this.#next = position
    this.#after = position
    this.motion.position = position
  }

  /** The next two setpoints (rad), one step apart. */
  lead(next: number, after: number): void {
    this.#next = next
    this.#after = after
    const { motion } = this
    motion.speed = (after - this.#before) / (2 * STEP)
    motion.position = next
  }

  intend(): number {
    return (this.#after - 2 * this.#next + this.#before) / STEP ** 2
  }

  proceed(_: number, torque: number): void {
    this.torque = torque
    this.#before = this.#next
  }

  sleep(): void {}
}

/** What is seen of it, once a step. */
export interface Seen {
  /** s, since the command */
  readonly t: number
  /** N m, by joint of the rig */
  readonly torques: Float64Array
  readonly plant: Afloat
}

/**
 * @param begin m/s, m/s, rad/s: the craft's way at the start
 * @param moored does the craft stay under that way, whatever pulls it?
 */
export function playAfloat(
  rig: Rig,
  command: Command,
  seconds: number,
  { begin, moored }: { readonly begin: readonly [number, number, number]; readonly moored: boolean },
  see: (seen: Seen) => void,
): void {
  const fine = { ...rig, control: { rate: 1 / STEP, period: STEP } }
  const player = new Player(fine)
  const plant = new Afloat(fine)
  const joints = rig.joints.map(({ index }) => {
    const joint = new Followed()
    joint.begin(player.setpoints[index]!)
    plant.join(index, joint)
    return joint
  })
  plant.craft.state.set(begin, 3)
  const torques = new Float64Array(joints.length)
  const next = player.setpoints.slice()
  const steps = Math.round(seconds / STEP)
  for (let k = 1; k <= steps; k++) {
    player.step(command)
    joints.forEach((joint, j) => {
      joint.lead(next[j]!, player.setpoints[j]!)
    })
    next.set(player.setpoints)
    plant.advance(k * GRID)
    if (moored) plant.craft.state.set(begin, 3)
    joints.forEach((joint, j) => {
      torques[j] = joint.torque
    })
    see({ t: k * STEP, torques, plant })
  }
}
