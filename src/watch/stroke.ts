/**
 * The strokes of each arm, from its feedback: cadence, length, time in the water to time out of it, immersion and blade angle at catch
 * and exit, how deep the blade goes, and how high it passes back. What is asked is the command and the rig's stroke, whoever
 * drives: not one setpoint is looked at.
 *
 * Whole strokes are held against the rig's (stroke-bands.ts): their times when the command has been steady since before they began, their
 * way, depths and angles in any case, because a stroke has its shape from its phase, however fast that runs. With coupled sides a command
 * changes the length of strokes as well: there all waits until it has been steady.
 *
 * Two things are dangers at once and looked at in every sample: a blade that goes too deep, which stops the arms, and one that comes back
 * through the water. The way of a blade that pushes against the command there is the sense watch's, which stops it.
 */
import type { Figure, Finding, Stage } from '../files/event.js'
import type { BladePlace } from '../motion/blade-place.js'
import { StrokeMeter } from '../motion/stroke-meter.js'
import { StrokeReference } from '../motion/stroke-reference.js'
import type { ShownUnit } from '../units.js'
import { Alarm } from './alarm.js'
import { BladeView } from './blade-view.js'
import { BladeParking } from './parking.js'
import type { WatchSettings } from './settings.js'
import { SideDemand } from './side-demand.js'
import { BAND_NAMES, BANDS, StrokeBands } from './stroke-bands.js'
import { inWater, noStroke, notLifted, notParked, outOfBand, tooDeep, tooLow } from './stroke-findings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Alarms of an arm besides those of the bands. */
const DEEP = BANDS.length
const WET = DEEP + 1
const LOW = DEEP + 2
const NONE = DEEP + 3
const UNPARKED = DEEP + 4
const ALARMS = DEEP + 5
/** Share of the rig's clearance by which a parked blade may be lower or higher. */
const PARKED = 0.2

/** One arm. */
class Strokes {
  readonly view: BladeView
  readonly demand: SideDemand
  readonly reference: StrokeReference
  readonly meter: StrokeMeter
  readonly bands: StrokeBands
  readonly parking: BladeParking
  direction = 0
  judged = 0
  /** m */
  deepest = Number.NEGATIVE_INFINITY
  lowest = Number.POSITIVE_INFINITY
  /** s for which the side should have been stroking since it last passed the middle */
  waited = 0
  /** s, of the reference stroke that `waited` is held against; 0: to be worked out */
  period = 0
  /** By band: sum of what was measured, how often it was, and the most that one was off. */
  readonly sums = new Float64Array(BANDS.length)
  readonly counts = new Int32Array(BANDS.length)
  readonly worst = new Float64Array(BANDS.length)

  constructor({ rig, settings }: WatchContext<WatchSettings['stroke']>, arm: number) {
    const own = rig.arms[arm]!
    this.view = new BladeView(rig, own)
    this.demand = new SideDemand(rig, own.side)
    this.reference = new StrokeReference(rig, own)
    this.meter = new StrokeMeter(this.reference.meter)
    this.bands = new StrokeBands(rig, settings, this.reference)
    this.parking = new BladeParking(rig)
  }

  rest(): void {
    this.demand.rest()
    this.direction = 0
    this.waited = 0
    this.meter.begin(1, 1)
    this.parking.begin()
  }
}

export class StrokeWatch implements Watch {
  readonly kinds = ['feedback', 'sync', 'command', 'stage', 'stop'] as const
  readonly #c: WatchContext<WatchSettings['stroke']>
  readonly #arms: readonly Strokes[]
  /** By joint: its arm, and its place there. */
  readonly #arm: Int32Array
  readonly #place: Int32Array
  readonly #alarm: Alarm
  readonly #most: number
  readonly #least: number
  readonly #coupled: boolean
  #stage: Stage | null = null

  constructor(context: WatchContext<WatchSettings['stroke']>) {
    this.#c = context
    const { rig, settings } = context
    this.#arms = rig.arms.map(({ index }) => new Strokes(context, index))
    this.#arm = Int32Array.from(rig.joints, (j) => j.arm)
    this.#place = Int32Array.from(rig.joints, (j) => rig.arms[j.arm]!.joints.indexOf(j.index))
    this.#alarm = new Alarm(rig.arms.length * ALARMS)
    this.#most = rig.stroke.immersion * (1 + settings.depth)
    this.#least = rig.stroke.clearance * settings.clearance
    this.#coupled = rig.stroke.sides !== 'free'
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'feedback': {
        const arm = this.#arm[o.joint]!
        const { view } = this.#arms[arm]!
        if (!view.feedback(this.#place[o.joint]!, o.index, o.position)) return
        if (this.#stage === 'play' || this.#stage === 'park') this.#see(arm, o.t)
        return
      }
      case 'sync':
        // SYNCs of all buses go out in one tick: one of them is enough to count periods.
        if (o.bus === 0 && this.#stage === 'play') this.#wait(o.t)
        return
      case 'command':
        for (const { demand } of this.#arms) demand.command(o.surge, o.yaw)
        return
      case 'stage':
        this.#stage = o.stage
        if (o.stage !== 'park') for (const arm of this.#arms) arm.rest()
        return
      case 'stop':
        this.#stage = 'stopping'
        return
    }
  }

  close(): void {}

  figures(): Figure[] {
    const { rig } = this.#c
    return this.#arms.flatMap(({ judged, bands, sums, counts, worst, deepest, lowest }, arm) => {
      const { name: place } = rig.arms[arm]!
      const rows: Figure[] = []
      const add = (name: string, value: number, unit: ShownUnit, limit: number | null): void => {
        rows.push({ place, name, value, unit, limit })
      }
      add('strokes held against the rig', judged, 'count', null)
      BANDS.forEach((band, i) => {
        if (counts[i] === 0) return
        const [name, unit, off] = BAND_NAMES[band]
        add(`${name}, mean`, sums[i]! / counts[i]!, unit, null)
        add(`${name}, off by at most`, worst[i]!, off, bands.limits[i]!)
      })
      if (Number.isFinite(deepest)) add('immersion, deepest', deepest, 'm', this.#most)
      if (Number.isFinite(lowest))
        add('lowest edge above the water on the recovery, least', lowest, 'm', this.#least)
      return rows
    })
  }

  #see(index: number, t: number): void {
    const arm = this.#arms[index]!
    const { view, meter, demand } = arm
    const blade = view.look()
    const mark = meter.see(t / 1e9, blade)
    if (meter.begins && demand.fromPark && this.#atHeight(blade)) this.#begun(index, blade.angle, t)
    const { depth } = blade
    if (depth > arm.deepest) arm.deepest = depth
    if (this.#alarm.rises(index * ALARMS + DEEP, depth > this.#most ? 2 : 0, t)) {
      this.#report(index, t, tooDeep(depth, this.#most), this.#c.rig.stop.category)
    }
    if (this.#stage !== 'play') return
    this.#parks(index, blade, t)
    if (arm.direction === 0) return
    if (meter.recovering && demand.agreed > this.#c.settings.settle) {
      const { clearance } = blade
      if (clearance < arm.lowest) arm.lowest = clearance
      const level = clearance < 0 ? 2 : 0
      if (this.#alarm.rises(index * ALARMS + WET, level, t)) this.#report(index, t, inWater(clearance))
    }
    if (mark === 'none') return
    arm.waited = 0
    if (mark === 'recovery' && meter.count > 0) this.#stroke(index, t)
  }

  #parks(index: number, blade: BladePlace, t: number): void {
    const { parking, demand } = this.#arms[index]!
    const how = parking.see(blade, demand.parking)
    if (!this.#alarm.rises(index * ALARMS + UNPARKED, how === 'well' ? 0 : 2, t)) return
    this.#report(index, t, how === 'in the water' ? notLifted(blade.clearance) : notParked(parking.away))
  }

  /** Is the blade as high over the water as on the rig's recovery? A driver may park elsewhere, and turned otherwise. */
  #atHeight({ clearance }: BladePlace): boolean {
    const { stroke } = this.#c.rig
    return Math.abs(clearance - stroke.clearance) < PARKED * stroke.clearance
  }

  /** A stroke begins at rest, at the park place: there the blade is turned as in the middle of the recovery. */
  #begun(index: number, angle: number, t: number): void {
    if (this.#stage !== 'play') return
    this.#arms[index]!.bands.holdStart(angle)
    this.#holdBands(index, t)
  }

  /** A whole stroke is over. */
  #stroke(index: number, t: number): void {
    const arm = this.#arms[index]!
    const { last } = arm.meter
    const { settle, severity } = this.#c.settings
    const { wanted, reach, steady } = arm.demand
    // With coupled sides a stroke changes its length on the recovery: the first whole one may still be on the way.
    const even = steady >= settle + last.time * (this.#coupled ? 2 : 1)
    if (!even && this.#coupled) return
    arm.bands.hold(last, even ? wanted : Number.NaN, reach)
    if (even) arm.judged++
    this.#holdBands(index, t)
    const low = last.clearance >= 0 && last.clearance < this.#least
    if (this.#alarm.rises(index * ALARMS + LOW, low ? 2 : 0, t)) {
      this.#report(index, t, tooLow(severity, last.clearance, this.#least))
    }
  }

  /** What the bands have just been held against. */
  #holdBands(index: number, t: number): void {
    const { bands, sums, counts, worst } = this.#arms[index]!
    const { severity } = this.#c.settings
    for (let i = 0; i < BANDS.length; i++) {
      const measured = bands.measured[i]!
      // What could not be measured is neither well nor off.
      if (!Number.isFinite(measured)) continue
      sums[i] = sums[i]! + measured
      counts[i] = counts[i]! + 1
      const off = bands.off[i]!
      const limit = bands.limits[i]!
      if (off > worst[i]!) worst[i] = off
      if (!this.#alarm.rises(index * ALARMS + i, off > limit ? 2 : 0, t)) continue
      this.#report(index, t, outOfBand(BANDS[i]!, severity, measured, bands.asked[i]!, off, limit))
    }
  }

  /** One control period: what is asked goes on, and a blade that does not move is waited for. */
  #wait(t: number): void {
    for (let index = 0; index < this.#arms.length; index++) {
      const arm = this.#arms[index]!
      const { demand, meter } = arm
      demand.sync()
      const direction = Math.sign(demand.wanted)
      // Whatever comes after a pause is another stroke.
      if (direction === 0) arm.direction = 0
      if (demand.agreed > 0 && direction !== arm.direction) {
        arm.direction = direction
        meter.begin(direction > 0 ? 1 : -1, demand.reach)
      }
      if (demand.agreed === 0 || demand.steady < this.#c.settings.settle) {
        arm.waited = 0
        arm.period = 0
        // A stroke that changes its length dips elsewhere: whether the blade is on its way back is not known.
        if (this.#coupled) meter.heading = 0
      } else {
        meter.reach(demand.reach)
        arm.waited += this.#c.rig.control.period
        // A speed cap slows strokes down, nobody here knows by how much.
        if (this.#c.rig.motion.speedCap === 1) this.#missed(index, t)
      }
    }
  }

  #missed(index: number, t: number): void {
    const arm = this.#arms[index]!
    const { wait, severity } = this.#c.settings
    if (arm.period === 0) {
      arm.reference.at(arm.demand.wanted, arm.demand.reach)
      arm.period = arm.reference.time
    }
    const limit = wait * arm.period
    if (!this.#alarm.rises(index * ALARMS + NONE, arm.waited > limit ? 2 : 0, t)) return
    this.#report(index, t, noStroke(severity, arm.waited, limit, arm.period))
  }

  #report(
    arm: number,
    t: number,
    told: Omit<Finding, 'watch' | 'place' | 't' | 'stop'>,
    stop: Finding['stop'] = null,
  ): void {
    this.#c.report({ ...told, place: this.#c.rig.arms[arm]!.name, t, stop })
  }
}
