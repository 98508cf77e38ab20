/**
 * Does an arm's driver set off faster than the rig's ramp? The blade of its setpoints, by forward kinematics, along the craft: from the park
 * place to the steady speed it goes no faster than the rig's stroke makes it at the side speed that a driver which keeps the rig's
 * acceleration and jerk can have come to. On the recovery a blade goes faster than its side: the stroke's shape says how much.
 *
 * Speeds are means over MEAN periods: what rounded setpoints add is small there.
 */
import type { Arm, Rig } from '../files/rig.js'
import { strokeShape } from '../motion/blade.js'
import { cadence, recoveryRate } from '../motion/cadence.js'
import { Chain } from '../motion/chain.js'
import { SideDemand } from './side-demand.js'

const MEAN = 10
/** m/s: slower is rest */
const AT_REST = 0.005
/** Phases of the recovery that are looked at for its greatest speed. */
const PLACES = 100

export class SetpointRamp {
  /** m/s, of the last tick: of the blade along the craft, and what the rig's ramp gives it at most; both 0 where nothing is judged */
  speed = 0
  most = 0
  readonly #demand: SideDemand
  readonly #chain: Chain
  readonly #q: Float64Array
  readonly #x = new Float64Array(MEAN)
  readonly #period: number
  readonly #cadence: ReturnType<typeof cadence>
  /** m per unit of phase, greatest on the recovery */
  readonly #steepest: number
  #ticks = 0
  /** m/s, of the last tick */
  #now = 0
  #setsOff = false

  constructor(rig: Rig, arm: Arm) {
    const { stroke, driver, arms, control } = rig
    const shape = strokeShape(
      stroke,
      arms.map(({ paddle }) => paddle),
    )
    let steepest = 0
    for (let i = 0; i <= PLACES; i++) {
      shape.at(((1 + i / PLACES) / 2) % 1)
      steepest = Math.max(steepest, Math.abs(shape.x.slope))
    }
    this.#steepest = steepest
    this.#cadence = cadence(shape.kappa, stroke.recovery, driver.acceleration)
    this.#demand = new SideDemand(rig, arm.side)
    this.#chain = new Chain(
      arm,
      arm.joints.map((j) => rig.joints[j]!),
    )
    this.#q = new Float64Array(arm.joints.length)
    this.#period = control.period
  }

  /** At rest: the driver begins from its park pose. */
  reset(): void {
    this.#demand.rest()
    this.#ticks = 0
    this.#now = 0
    this.#setsOff = false
    this.speed = this.most = 0
  }

  command(surge: number, yaw: number): void {
    const { wanted } = this.#demand
    this.#demand.command(surge, yaw)
    // Who moves already does not set off.
    if (wanted === 0) this.#setsOff = this.#now < AT_REST
    if (!this.#demand.fromPark) this.#setsOff = false
  }

  /** A setpoint of the arm. @param place of its joint @param position rad */
  put(place: number, position: number): void {
    this.#q[place] = position
  }

  /** One control period, the setpoints of which have been told. */
  tick(): void {
    const demand = this.#demand
    demand.sync()
    if (demand.steady > 0) this.#setsOff = false
    this.#chain.forward(this.#q)
    const slot = this.#ticks++ % MEAN
    const x = this.#chain.blade[9]!
    const before = this.#x[slot]!
    this.#x[slot] = x
    this.#now = this.#ticks <= MEAN ? 0 : Math.abs(x - before) / (MEAN * this.#period)
    if (!this.#setsOff || this.#ticks <= MEAN) {
      this.speed = this.most = 0
      return
    }
    this.speed = this.#now
    const full = Math.abs(demand.possible) / demand.reach
    this.most = Math.max(full, this.#steepest * recoveryRate(full, this.#cadence))
  }
}
