/**
 * Do the arms move the right way? Feedback against the true position (witness.ts), and blades against the command (blade.ts). And do
 * their strokes shake what they are fixed to (stroke-harmonics.ts)?
 * The speed of a blade is told with the first drive that is off, and stops the arms when it is far off: no slip, ramp or rounding of
 * a driver explains a side that goes half as fast again as it is asked to, or as another should.
 * The blades are worked out by forward kinematics once a SYNC, when all joints of the arm have reported.
 */
import type { Figure, Stage, StopCategory } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { StrokeHarmonics } from '../motion/stroke-harmonics.js'
import { showQuantity } from '../units.js'
import { Alarm } from './alarm.js'
import { Blade, type EvenSpeed } from './blade.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'
import { Witness } from './witness.js'

/** What the judge asks about one arm. */
export interface ArmStrokes {
  readonly ahead: number
  readonly astern: number
  /** The whole blade is out of the water at the last feedback; null: not known. */
  readonly out: boolean | null
}

/** Part of an arm's feedback that must come together to sets of one SYNC for its blade to be known. */
const LEAST_SETS = 0.5
/** s of feedback from every joint before that is asked for. */
const LEAST_FEEDBACK = 1

export class SenseWatch implements Watch {
  readonly kinds = ['feedback', 'tick', 'sync', 'command', 'stage', 'stop', 'end'] as const
  readonly #c: WatchContext<WatchSettings['sense']>
  readonly #witness: Witness
  readonly #blades: Blade[]
  readonly #alarm: Alarm
  /** [arm] 1: the last drive that was judged was off, and that has been told; 2: far off */
  readonly #off: Uint8Array
  /** [arm] share, how far the drive that was off most was */
  readonly #mostOff: Float64Array
  /** Arm of each joint, and the joint's place in it. */
  readonly #arm: Int32Array
  readonly #place: Int32Array
  #stage: Stage | null = null
  #t = 0

  constructor(context: WatchContext<WatchSettings['sense']>) {
    this.#c = context
    const { rig, settings } = context
    this.#witness = new Witness(context)
    this.#blades = rig.arms.map((arm) => new Blade(rig, arm, settings))
    this.#alarm = new Alarm(rig.arms.length)
    this.#off = new Uint8Array(rig.arms.length)
    this.#mostOff = new Float64Array(rig.arms.length).fill(Number.NaN)
    this.#arm = Int32Array.from(rig.joints, (j) => j.arm)
    this.#place = Int32Array.from(rig.joints, (j) => rig.arms[j.arm]!.joints.indexOf(j.index))
  }

  /** Strokes of each arm, and whether its blade is out of the water now. */
  get strokes(): ArmStrokes[] {
    return this.#blades.map(({ ahead, astern, clearance }) => ({
      ahead,
      astern,
      out: clearance === null ? null : clearance > 0,
    }))
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'feedback': {
        this.#t = o.t
        this.#witness.feedback(o.joint, o.position, o.t)
        const arm = this.#arm[o.joint]!
        const complete = this.#blades[arm]!.feedback(this.#place[o.joint]!, o.index, o.position)
        if (complete && (this.#stage === 'play' || this.#stage === 'park')) this.#see(arm, o.t)
        return
      }
      case 'tick':
        this.#witness.tick(o.witness)
        return
      case 'sync':
        // SYNCs of all buses go out in one tick: one of them is enough to count periods.
        if (o.bus === 0 && this.#stage === 'play') for (const blade of this.#blades) blade.sync()
        return
      case 'command':
        for (const blade of this.#blades) blade.command(o.surge, o.yaw)
        return
      case 'stage':
        this.#stage = o.stage
        if (o.stage !== 'park') for (const blade of this.#blades) blade.rest()
        return
      case 'stop':
        this.#stage = 'stopping'
        return
      case 'end':
        this.#t = o.t
        return
    }
  }

  close(): void {
    this.#witness.close(this.#t)
    const least = LEAST_FEEDBACK / this.#c.rig.control.period
    this.#blades.forEach(({ evenSpeed, harmonics, sets: { count, possible } }, arm) => {
      // Pieces of drives, each too short to be judged for itself.
      if (evenSpeed !== null && Number.isNaN(this.#mostOff[arm]!)) this.#judgeSpeed(arm, evenSpeed)
      if (possible >= least && count < LEAST_SETS * possible) this.#doubtSets(arm, count / possible)
      if (harmonics !== null) this.#judgeHarmonics(arm, harmonics)
    })
  }

  figures(): Figure[] {
    const { rig, settings } = this.#c
    return this.#witness.figures().concat(
      rig.arms.flatMap(({ name: place, index }) => {
        const blade = this.#blades[index]!
        const rows: Figure[] = [
          { place, name: 'strokes ahead', value: blade.ahead, unit: 'count', limit: null },
          { place, name: 'strokes astern', value: blade.astern, unit: 'count', limit: null },
          {
            place,
            name: 'way against the command',
            value: blade.mostWrong,
            unit: 'm',
            limit: settings.travel,
          },
        ]
        const { cadence, evenSpeed, clearance, harmonics } = blade
        if (cadence !== null) rows.push({ place, name: 'cadence', value: cadence, unit: 'Hz', limit: null })
        if (rig.mount && harmonics?.nearest) {
          const [value, limit] = [Math.abs(harmonics.nearest.margin), rig.mount.margin]
          rows.push({ place, name: 'nearest stroke harmonic, off the mount by', value, unit: 'share', limit })
        }
        if (evenSpeed !== null) {
          rows.push(
            { place, name: 'blade speed on the even part', value: evenSpeed.blade, unit: 'm/s', limit: null },
            {
              place,
              name: 'side speed asked on the even part',
              value: evenSpeed.asked,
              unit: 'm/s',
              limit: null,
            },
            {
              place,
              name: 'blade speed off by',
              value: offBy(evenSpeed, rig),
              unit: 'share',
              limit: settings.speed,
            },
          )
        }
        const most = this.#mostOff[index]!
        if (!Number.isNaN(most)) {
          const name = 'blade speed of one drive off by, at most'
          rows.push({ place, name, value: most, unit: 'share', limit: settings.speed })
        }
        if (clearance !== null) {
          rows.push({
            place,
            name: 'lowest edge above the water at the end',
            value: clearance,
            unit: 'm',
            limit: 0,
          })
        }
        return rows
      }),
    )
  }

  #doubtSets(arm: number, share: number): void {
    this.#c.report({
      severity: 'doubt',
      place: this.#c.rig.arms[arm]!.name,
      t: this.#t,
      quantity: 'whole sets of feedback',
      value: share,
      limit: LEAST_SETS,
      unit: 'share',
      says: 'Most of the time the joints of this arm did not all answer the same SYNC: where its blade was is not known.',
      why: 'The way of the blade, clearance, load and the travel after a stop are worked out from whole sets; nobody watched them.',
      look: 'Look at feedback lost, doubled and late, and which joints answer several SYNCs after the others.',
      stop: null,
    })
  }

  /** The blade has left the even part of a drive. */
  #judgeDrive(arm: number, speed: EvenSpeed): void {
    const { rig, settings } = this.#c
    const off = offBy(speed, rig)
    if (!(off <= this.#mostOff[arm]!)) this.#mostOff[arm] = off
    const level = off > settings.astray ? 2 : off > settings.speed ? 1 : 0
    if (level > this.#off[arm]!) this.#judgeSpeed(arm, speed)
    this.#off[arm] = level
  }

  #judgeSpeed(arm: number, speed: EvenSpeed): void {
    const { rig, settings } = this.#c
    const off = offBy(speed, rig)
    if (off <= settings.speed) return
    const astray = off > settings.astray
    this.#c.report({
      severity: 'failure',
      place: rig.arms[arm]!.name,
      t: this.#t,
      quantity: 'blade speed on the even part',
      value: off,
      limit: astray ? settings.astray : settings.speed,
      unit: 'share',
      says: `Under a steady command the blade moved at ${showQuantity(speed.blade, 'm/s')} instead of ${showQuantity(speed.asked, 'm/s')}.`,
      why: 'The craft will not go where and as fast as it is told.',
      look: "Look at the driver's side speeds, its yaw sign and clock, then at the stroke length, the track and the slip that it works with.",
      stop: astray ? this.#astrayStop : null,
    })
  }

  /** Drives and feedback are well when the driver goes astray: the arms can be held. */
  get #astrayStop(): StopCategory {
    return this.#c.settings.hold ? 2 : this.#c.rig.stop.category
  }

  #judgeHarmonics(arm: number, { own, nearest }: StrokeHarmonics): void {
    const { mount, arms } = this.#c.rig
    if (mount === null || nearest === null) return
    const { order, rate, frequency, margin } = nearest
    const off = Math.abs(margin)
    if (off >= mount.margin) return
    const where = `${showQuantity(off, 'share')} ${margin < 0 ? 'below' : 'above'}`
    this.#c.report({
      severity: 'warning',
      place: arms[arm]!.name,
      t: this.#t,
      quantity: 'stroke harmonic',
      value: off,
      limit: mount.margin,
      unit: 'share',
      says: `Harmonic ${order} of ${(60 * rate).toFixed(1)} strokes/min, ${showQuantity(frequency, 'Hz')}, was ${where} the mount's first bending frequency, ${showQuantity(own, 'Hz')}.`,
      why: 'A mount that is shaken at its own frequency swings more and more: blades miss their places, and bolts work loose.',
      look: 'Look at the mount while it runs; another cadence, or a mount that is stiffer or bears less at its end, keeps away from it.',
      stop: null,
    })
  }

  #see(arm: number, t: number): void {
    const blade = this.#blades[arm]!
    blade.see(t, this.#stage === 'play')
    if (blade.passed !== null) this.#judgeDrive(arm, blade.passed)
    const { rig, settings } = this.#c
    if (!this.#alarm.rises(arm, blade.wrong > settings.travel ? 2 : 0, t)) return
    this.#c.report({
      severity: 'failure',
      place: rig.arms[arm]!.name,
      t,
      quantity: 'way against the command',
      value: blade.wrong,
      limit: settings.travel,
      unit: 'm',
      says: 'The immersed blade moved against the command, or without one.',
      why: 'A blade that pushes the wrong way turns the craft or drives it into what it should avoid.',
      look: "Look at the sides' signs in the driver and at which arm is bound to which side.",
      stop: this.#astrayStop,
    })
  }
}

/** Share by which the blade's speed differs from the one asked for; a speed cap makes it slower, and that is no mistake. */
function offBy({ blade, asked }: EvenSpeed, { motion }: Pick<Rig, 'motion'>): number {
  const off = blade / asked - 1
  return motion.speedCap < 1 && blade > 0 ? Math.max(0, off) : Math.abs(off)
}
