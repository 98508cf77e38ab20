/**
 * Counts control periods on a bus without SYNC whose arms send feedback by themselves, so that feedback can be paired with
 * setpoints as on a bus with SYNC. A period begins with the first setpoint of a cycle; while no setpoints flow it is counted
 * by time. Feedback is counted from one frame to the next (numbering.ts), as long as it stays within a period of that count:
 * clocks of arms drift, and then one is lost or doubled now and again.
 *
 * By time: frames may be late by what else a line and a machine have to do, but hardly early. So a joint's beat is taken from its
 * punctual frames, and one belongs to the beat that it comes after, three quarters of a period late at most.
 */
import type { Nanos } from '../../clock.js'
import { Numbering } from './numbering.js'

/** Setpoints that come after more periods than this follow a pause. */
const PAUSE = 3.5
/** Part of a period that a frame may come before its beat. */
const EARLY = 0.25
/** Part of a frame's lateness by which the beat moves on: clocks of arms may be slow. An early frame moves it at once. */
const FOLLOW = 1 / 64
/** Periods that feedback may be off the setpoints' count, either way. */
const DRIFT = 1

interface Sender {
  readonly numbering: Numbering
  /** When the frame of the last index was due. */
  due: Nanos
}

export class Cycles {
  readonly #period: Nanos
  #index = -1
  #began: Nanos = 0
  readonly #senders: readonly Sender[]

  /** @param period s @param joints on the bus */
  constructor(period: number, joints: number) {
    this.#period = period * 1e9
    this.#senders = Array.from({ length: joints }, () => ({ numbering: new Numbering(), due: 0 }))
  }

  /** A cycle begins. @returns its index */
  begin(t: Nanos): number {
    const gap = (t - this.#began) / this.#period
    this.#index += this.#index >= 0 && gap > PAUSE ? Math.round(gap) : 1
    this.#began = t
    return this.#index
  }

  /** Index of the running cycle, -1 before the first. */
  get index(): number {
    return this.#index
  }

  /**
   * Feedback of the n-th joint on the bus.
   * @param count what its counter says; NaN: it has none
   * @param modulus numbers that the counter has
   * @returns the index of the cycle that it belongs to, -1 before the first
   */
  feedback(n: number, t: Nanos, count = Number.NaN, modulus = 1): number {
    if (this.#index < 0) return -1
    const sender = this.#senders[n]!
    const { numbering } = sender
    const now = this.#index + Math.floor((t - this.#began) / this.#period)
    const passed = Math.max(0, Math.floor((t - sender.due) / this.#period + EARLY))
    const before = numbering.index
    const index = numbering.next(now, passed, count, modulus, DRIFT)
    const due = sender.due + (index - before) * this.#period
    const late = t - due
    const anew = before < 0 || (Number.isNaN(count) && late > this.#period)
    sender.due = anew || late < 0 ? t : due + FOLLOW * late
    return index
  }
}
