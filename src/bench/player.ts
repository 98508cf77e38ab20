/** Plays a scenario: which command is in force at a time, and what is due. Scenario time in seconds; no clock inside. */
import type { Command, OperatorAction, Scenario, TimedFault } from '../files/scenario.js'

/** A fault that begins or ends. */
export interface FaultEdge {
  readonly fault: TimedFault
  readonly begins: boolean
}

type Script = Pick<Scenario, 'commands' | 'faults' | 'operator' | 'duration'>

export class Player {
  readonly #scenario: Script
  readonly #edges: readonly (FaultEdge & { at: number })[]
  #nextEdge = 0
  #nextAction = 0
  #voidBefore = 0

  constructor(scenario: Script) {
    this.#scenario = scenario
    this.#edges = scenario.faults
      .flatMap((fault) => [
        { fault, begins: true, at: fault.at },
        { fault, begins: false, at: Math.max(0, fault.at) + fault.lasts },
      ])
      .filter((edge) => edge.at < Number.POSITIVE_INFINITY)
      .sort((a, b) => a.at - b.at)
  }

  /** Commands given before `s` are void: nothing that was asked for before a stop comes back after a new start. */
  forget(s: number): void {
    this.#voidBefore = s
  }

  /** Surge and yaw rate at `s`: each command is reached linearly over its `over` from what was in force when it began. */
  command(s: number): Command {
    const { commands } = this.#scenario
    let surge = 0
    let yaw = 0
    for (let i = 0; i < commands.length; i++) {
      const c = commands[i]!
      if (c.at > s) break
      if (c.at < this.#voidBefore) continue
      const until = Math.min(s, commands[i + 1]?.at ?? s)
      const share = c.over > 0 ? Math.min(1, (until - c.at) / c.over) : 1
      surge += share * (c.surge - surge)
      yaw += share * (c.yaw - yaw)
    }
    return { surge, yaw }
  }

  /** Commands have ceased: none reaches the driver at `s`. */
  withheld(s: number): boolean {
    return this.#scenario.commands[this.entry(s)]?.ceases === true
  }

  /** Place in the scenario of the last command given at or before `s`, -1 before the first. */
  entry(s: number): number {
    return this.#scenario.commands.findLastIndex((c) => c.at <= s)
  }

  /** Faults that begin or end at or before `s` and were not given yet; `s` -Infinity: those that are there from the start. */
  faults(s: number): readonly FaultEdge[] {
    const first = this.#nextEdge
    while (this.#nextEdge < this.#edges.length && this.#edges[this.#nextEdge]!.at <= s) this.#nextEdge++
    return first === this.#nextEdge ? NONE : this.#edges.slice(first, this.#nextEdge)
  }

  /** Operator actions due at or before `s` and not given yet. */
  actions(s: number): readonly OperatorAction[] {
    const first = this.#nextAction
    const { operator } = this.#scenario
    while (this.#nextAction < operator.length && operator[this.#nextAction]!.at <= s) this.#nextAction++
    return first === this.#nextAction ? NONE : operator.slice(first, this.#nextAction)
  }

  over(s: number): boolean {
    return s >= this.#scenario.duration
  }
}

const NONE: readonly never[] = []
