/**
 * What our NMT commands have told the joints' nodes. A node that was taken out of `operational` sends no feedback; one
 * that was started must stay operational until it is told otherwise (CiA 301, 7.3.2.2).
 */
import type { Rig } from '../files/rig.js'
import type { NmtCommand } from '../wire/observation.js'

export class Operational {
  readonly #rig: Rig
  /** 1 = taken out of operational by NMT and not started again. */
  readonly #off: Uint8Array
  /** 1 = started by NMT and not told otherwise since. */
  readonly #started: Uint8Array

  constructor(rig: Rig) {
    this.#rig = rig
    this.#off = new Uint8Array(rig.joints.length)
    this.#started = new Uint8Array(rig.joints.length)
  }

  /** Notes an NMT command; returns the joints that it is for. */
  nmt(bus: number, node: number, command: NmtCommand | 'unknown'): number[] {
    if (command === 'unknown') return []
    const joints = this.#rig.joints.filter((j) => j.wire.bus === bus && (node === 0 || j.wire.node === node))
    for (const { index } of joints) {
      this.#started[index] = command === 'start' ? 1 : 0
      this.#off[index] = 1 - this.#started[index]
    }
    return joints.map((j) => j.index)
  }

  isOff(joint: number): boolean {
    return this.#off[joint] === 1
  }

  isStarted(joint: number): boolean {
    return this.#started[joint] === 1
  }
}

/** Indices of the joints on each bus. */
export function jointsByBus(rig: Rig): number[][] {
  return rig.buses.map((bus) => rig.joints.filter((j) => j.wire.bus === bus.index).map((j) => j.index))
}
