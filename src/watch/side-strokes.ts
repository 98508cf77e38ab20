/** How one side strokes, for the watch that compares the two: when its blade passes the middles, how fast and which way it goes in the water. */
import type { Rig, Side } from '../files/rig.js'
import { type Mark, StrokeMeter } from '../motion/stroke-meter.js'
import { StrokeReference } from '../motion/stroke-reference.js'
import { BladeView } from './blade-view.js'
import { SideDemand } from './side-demand.js'

export class SideStrokes {
  readonly demand: SideDemand
  readonly reference: StrokeReference
  readonly view: BladeView
  readonly joints: readonly number[]
  /** s, when the blade last passed the middle of a drive and of a recovery; NaN: not since `anew` */
  drive = Number.NaN
  recovery = Number.NaN
  /** Strokes counted from the middle of a drive to the next since `anew`, and how long they took. */
  strokes = 0
  span = 0
  /** m/s, ahead +: mean over the even part of the last drive; NaN: none since `anew` */
  speed = Number.NaN
  /** m, ahead +, that the immersed blade has gone since it came into the water, or since `anew` */
  way = 0
  /** m that the blade has been away from where it was at `anew`, at the most */
  moved = 0
  readonly #meter: StrokeMeter
  readonly #middle: number
  readonly #half: number
  readonly #period: number
  #direction = 0
  #first = Number.NaN
  #x = Number.NaN
  #from = Number.NaN
  #index = -1
  #immersed = false
  #evenWay = 0
  #evenTime = 0

  constructor(rig: Rig, side: Side) {
    const arm = rig.arms.find((a) => a.side === side)!
    this.demand = new SideDemand(rig, side)
    this.reference = new StrokeReference(rig, arm)
    this.view = new BladeView(rig, arm)
    this.joints = arm.joints
    this.#meter = new StrokeMeter(this.reference.meter)
    this.#middle = rig.stroke.middle
    this.#half = (rig.stroke.even * rig.stroke.length) / 2
    this.#period = rig.control.period
  }

  /** Strokes a second, as counted; NaN before the second one. */
  get cadence(): number {
    return this.strokes === 0 ? Number.NaN : this.strokes / this.span
  }

  rest(): void {
    this.demand.rest()
    this.#direction = 0
    this.#x = Number.NaN
    this.anew()
  }

  /** Whatever was counted is forgotten: something else is asked for, or something else begins. */
  anew(): void {
    this.drive = Number.NaN
    this.recovery = Number.NaN
    this.strokes = 0
    this.#first = Number.NaN
    this.speed = Number.NaN
    this.way = 0
    this.moved = 0
    this.#from = Number.NaN
    this.#evenTime = 0
    this.#evenWay = 0
  }

  /** Strokes are counted from here on. */
  recount(): void {
    this.strokes = 0
    this.#first = Number.NaN
  }

  /** One control period. @returns the direction of the command has changed */
  sync(): boolean {
    const { demand } = this
    demand.sync()
    const direction = Math.sign(demand.wanted)
    if (demand.agreed === 0 || direction === this.#direction) return false
    this.#direction = direction
    this.#meter.begin(direction > 0 ? 1 : -1, demand.reach)
    return true
  }

  /**
   * The blade of the last whole set. @param t s @param reach 0..1, share of the even part on which speed is measured
   * @returns the middle that it has just passed
   */
  see(t: number, reach: number): Mark {
    const blade = this.view.look()
    const { x, depth } = blade
    const { index } = this.view.sets
    const step = Number.isNaN(this.#x) ? 0 : x - this.#x
    const time = (index - this.#index) * this.#period
    this.#x = x
    this.#index = index
    if (Number.isNaN(this.#from)) this.#from = x
    this.moved = Math.max(this.moved, Math.abs(x - this.#from))
    const immersed = depth > 0
    this.way = immersed && this.#immersed ? this.way - step : 0
    if (immersed && this.#immersed && Math.abs(x - this.#middle) < reach * this.#half) {
      this.#evenWay -= step
      this.#evenTime += time
    }
    this.#immersed = immersed
    const mark = this.#meter.see(t, blade)
    if (mark !== 'none') this.#mark(mark)
    return mark
  }

  #mark(mark: Mark): void {
    const { at } = this.#meter
    if (mark === 'drive') {
      this.drive = at
      if (Number.isNaN(this.#first)) this.#first = at
      else {
        this.strokes++
        this.span = at - this.#first
      }
      return
    }
    this.recovery = at
    // The drive before may have begun under another command.
    this.speed = this.strokes === 0 ? Number.NaN : this.#evenWay / this.#evenTime
    this.#evenWay = 0
    this.#evenTime = 0
  }
}
