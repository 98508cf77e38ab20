/**
 * What goes wrong with one simulated drive's messages. Faults of the joint itself (jammed) and of its encoder
 * (frozen, offset) act there, a loss of power in the node; this file holds those of the line, and hands the others on.
 *
 * Not modelled: damaged frames, faults of the bus, intermittent faults other than lost feedback, several
 * causes of one kind at a time (the newest counts, and its end ends them all).
 */
import { type Nanos, nanos } from '../clock.js'
import type { RandomStream } from '../random.js'
import type { PlantFault } from './contract.js'
import type { Encoder } from './encoder.js'
import type { JointMotion } from './joint.js'

export class LineFaults {
  /** The node sends nothing at all; it still hears. */
  silent = false
  /** ns that feedback comes late */
  late: Nanos = 0
  /** 0..1 of feedback frames that get lost */
  dropped = 0
  readonly #random: RandomStream

  constructor(random: RandomStream) {
    this.#random = random
  }

  /** Is this feedback frame lost? Draws a number only while the fault lasts. */
  loses(): boolean {
    return this.dropped > 0 && this.#random.uniform() < this.dropped
  }
}

/** Begins or ends a fault at `t` where it acts. */
export function applyFault(
  { fault, angle, share, delay }: PlantFault,
  on: boolean,
  t: Nanos,
  line: LineFaults,
  joint: JointMotion,
  encoder: Encoder,
  node: { power(on: boolean): void },
): void {
  switch (fault) {
    case 'silent':
      line.silent = on
      break
    case 'late':
      line.late = on ? nanos(delay) : 0
      break
    case 'dropped':
      line.dropped = on ? share : 0
      break
    case 'jammed':
      joint.jam(t, on)
      break
    case 'offset':
      joint.shiftEncoder(t, on ? angle : 0)
      break
    case 'unpowered':
      node.power(!on)
      break
    case 'frozen':
      encoder.freeze(on ? joint.measured(t) : null)
      break
  }
}
