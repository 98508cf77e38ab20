/** The scenario as it is played: its time, which begins when the arms stand at the start of the stroke, and the command in force. */
import type { Nanos } from '../clock.js'
import type { Command, Scenario } from '../files/scenario.js'
import type { Course } from './course.js'
import { type FaultEdge, Player } from './player.js'

const AT_REST: Command = { surge: 0, yaw: 0 }

export class Script {
  readonly #course: Course
  readonly #player: Player
  #zero: Nanos | null = null
  #command: Command = AT_REST
  #withheld = false
  #refusedEntry = -1

  constructor(scenario: Scenario, course: Course) {
    this.#course = course
    this.#player = new Player(scenario)
  }

  /** s since scenario zero, or null before it. */
  get time(): number | null {
    return this.#zero === null ? null : (this.#course.now - this.#zero) / 1e9
  }

  get command(): Command {
    return this.#command
  }

  /** No command reaches the driver, whatever is in force. */
  get withheld(): boolean {
    return this.#withheld
  }

  get over(): boolean {
    return this.#player.over(this.time!)
  }

  /** The arms stand at the start of the stroke: for the first time, or after a new start, which brings no old command back. */
  begin(t: Nanos): void {
    if (this.#zero === null) this.#zero = t
    else this.#player.forget(this.time!)
    this.#command = AT_REST
  }

  faults(s: number): readonly FaultEdge[] {
    return this.#player.faults(s)
  }

  actions(s: number): ReturnType<Player['actions']> {
    return this.#player.actions(s)
  }

  /** The command that is due at `s` is in force, or refused. */
  heed(s: number, mayMove: boolean): void {
    this.#withhold(!this.#player.over(s) && this.#player.withheld(s))
    const due = this.#player.over(s) ? AT_REST : this.#player.command(s)
    if (due.surge === this.#command.surge && due.yaw === this.#command.yaw) return
    this.#command = due
    if (mayMove) this.#course.event({ kind: 'command', t: this.#course.now, ...due })
    else if (this.#player.entry(s) !== this.#refusedEntry) {
      // Once for each command, not for each step of its ramp.
      this.#refusedEntry = this.#player.entry(s)
      this.#course.event({ kind: 'refused', t: this.#course.now, what: 'command' })
    }
  }

  #withhold(begins: boolean): void {
    if (begins === this.#withheld) return
    this.#withheld = begins
    this.#course.event({ kind: 'withheld', t: this.#course.now, begins })
  }
}
