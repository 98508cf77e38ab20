/**
 * How each joint trembles: the power spectral density (Welch) of its feedback minus its setpoint, lag removed, while the bench moves the arms.
 *
 * In bands, segment by segment as they end, so that a tremble is told while it goes on: the root of the band's power as acceleration (density times
 * (2 pi f)^4), because acceleration is what shakes a mount; against a share of the joint's acceleration limit, with what encoder noise alone comes to.
 * Over the whole run, as lines: frequencies that stand out of the floor around them by a ratio, are larger than a step of the encoder, and
 * are no harmonic of the strokes. A line within the mount's margin of its own frequency, or of a vibration that the rig states, is said to be so.
 *
 * Setpoints that tremble themselves are told apart (setpoint-tremble.ts), within some seconds: as the bench's driver gave them, or, where
 * the driver has the buses, as they went out.
 *
 * A vibration at a harmonic of a stroke cannot be told from the stroke by its frequency: the bands hold it still. What swings with the
 * setpoint has no part in the residual: smoothness looks at that. Above half the control rate nothing can be seen, and what is there
 * shows at a wrong, lower frequency.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding, Stage } from '../files/event.js'
import type { Joint, MountSettings } from '../files/rig.js'
import { ownFrequency } from '../motion/mount.js'
import { type SpectralLine, spectralLines } from '../motion/spectral-lines.js'
import { Welch } from '../motion/welch.js'
import { showQuantity } from '../units.js'
import { Alarm } from './alarm.js'
import { LagLearner } from './lag.js'
import { positionNoise } from './noise.js'
import { SetpointTremble } from './setpoint-tremble.js'
import { Setpoints } from './setpoints.js'
import type { WatchSettings } from './settings.js'
import { StrokeRates } from './stroke-rates.js'
import { isOperation } from './tracking.js'
import { bandsOf, type ShakenBand } from './vibration-bands.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Segments without which no line is told from chance. */
const LEAST_SEGMENTS = 4
/** Harmonics of a stroke that may show as lines, where the rig states none. */
const HARMONICS = 20
/** Bins by which a line may lie off a harmonic and still be it. */
const NEAR = 1.5
/** Lines of one joint that are told, the strongest first. */
const MOST_LINES = 3
/** Alarms of a joint: bands, and its setpoints. */
const PLACES = 4
const ASKED = 3
/** rad: ticks carry setpoints rounded to it */
const TICK_STEP = 1e-6

interface Trembled {
  readonly joint: number
  readonly band: ShakenBand
  /** rad/s2 */
  readonly rms: number
  readonly t: Nanos
}

interface Trembling {
  readonly learner: LagLearner | null
  /** periods; NaN: not known yet */
  lag: number
  readonly welch: Welch
  index: number
  /** Samples that are left out, so that the segments of all joints do not end in one tick. */
  skip: number
  readonly bands: readonly ShakenBand[]
  readonly asked: SetpointTremble
}

export class VibrationWatch implements Watch {
  readonly kinds = ['setpoint', 'tick', 'feedback', 'arms', 'standstill', 'stage', 'stop'] as const
  readonly #c: WatchContext<WatchSettings['vibration']>
  readonly #setpoints: Setpoints
  readonly #joints: readonly Trembling[]
  readonly #rates: readonly StrokeRates[]
  readonly #place: Int32Array
  readonly #alarm: Alarm
  /** periods */
  readonly #most: number
  /**
   * The arms are simulated in another process: their time trembles with its scheduling. What looks like a tremble of theirs stops nothing,
   * and is told once, at the end, of the joint that trembled most.
   */
  #elsewhere = false
  #worst: Trembled | null = null
  #on = false
  #playing = false
  /** The bench's driver gives setpoints: they are looked at before they are rounded for the wire. */
  #given = false
  #t: Nanos = 0

  constructor(context: WatchContext<WatchSettings['vibration']>, lag: WatchSettings['tracking']['lag']) {
    this.#c = context
    const { rig, settings } = context
    const { period, rate } = rig.control
    this.#most = lag.most / period
    this.#setpoints = new Setpoints(rig.joints.length, Math.ceil(2 * this.#most) + 2)
    const samples = Math.max(64, 2 ** Math.round(Math.log2(settings.segment * rate)))
    this.#joints = rig.joints.map((joint): Trembling => {
      const known = lag.set[joint.name]
      const noise = positionNoise(joint, rig.simulation.feedback.noise)
      return {
        learner: known === undefined ? new LagLearner(lag, period) : null,
        lag: (known ?? Number.NaN) / period,
        welch: new Welch(samples, rate),
        index: -2,
        skip: joint.index,
        bands: bandsOf(settings, rate, rate / samples, noise, joint.limits.acceleration),
        asked: askedOf(joint, settings, rate),
      }
    })
    this.#rates = rig.arms.map((arm) => new StrokeRates(rig, arm))
    this.#place = Int32Array.from(rig.joints, (j) => rig.arms[j.arm]!.joints.indexOf(j.index))
    this.#alarm = new Alarm(PLACES * rig.joints.length)
  }

  see(o: Observation): void {
    if (o.kind === 'feedback') this.#feedback(o.joint, o.index, o.position, o.t)
    else if (o.kind === 'setpoint') this.#setpoint(o.joint, o.index, o.position, o.t)
    else if (o.kind === 'tick') this.#tick(o.k, o.setpoints, o.t)
    else if (o.kind === 'arms') this.#elsewhere = true
    // Simulated arms in another process that stood still in time: one leap of theirs would look like a tremble.
    else if (o.kind === 'standstill') this.#begin()
    else if (o.kind === 'stage') this.#enter(o.stage)
    else if (o.kind === 'stop') this.#leave()
  }

  /** Segments begin anew: what has been seen of the present ones is no even motion. */
  #begin(): void {
    for (const joint of this.#joints) joint.welch.breaks()
  }

  close(): void {
    if (this.#worst !== null) this.#tellSimulated(this.#worst)
    this.#joints.forEach((_, j) => {
      for (const line of this.#lines(j).slice(0, MOST_LINES)) this.#tellLine(j, line)
    })
  }

  figures(): Figure[] {
    return this.#c.rig.joints.flatMap(({ name: place, index: j }): Figure[] => {
      const { welch, bands, asked } = this.#joints[j]!
      const own: Figure[] =
        asked.most > 0
          ? [{ place, name: ASKED_NAME, value: asked.most, unit: 'rad/s2', limit: asked.warning }]
          : []
      if (welch.segments === 0) return own
      const lines = this.#lines(j)
      const strongest = lines[0]
      return [
        ...bands.map((band): Figure => {
          const name = `vibration, ${band.name}, RMS`
          return { place, name, value: band.most, unit: 'rad/s2', limit: band.limit }
        }),
        ...own,
        { place, name: 'vibration lines', value: lines.length, unit: 'count', limit: null },
        ...(strongest
          ? ([
              {
                place,
                name: 'strongest line, frequency',
                value: strongest.frequency,
                unit: 'Hz',
                limit: null,
              },
              {
                place,
                name: 'strongest line, amplitude',
                value: strongest.amplitude,
                unit: 'rad',
                limit: null,
              },
            ] satisfies Figure[])
          : []),
      ]
    })
  }

  #setpoint(j: number, index: number, position: number, t: Nanos): void {
    this.#setpoints.put(j, index, position)
    if (this.#playing && !this.#given) this.#asked(j, index, position, t)
  }

  #tick(k: number, setpoints: readonly number[] | null, t: Nanos): void {
    if (setpoints === null || !this.#playing) return
    if (!this.#given) {
      this.#given = true
      for (const { asked } of this.#joints) {
        asked.breaks()
        asked.roundedTo(TICK_STEP)
      }
    }
    for (let j = 0; j < setpoints.length; j++) this.#asked(j, k, setpoints[j]!, t)
  }

  #asked(j: number, index: number, position: number, t: Nanos): void {
    const { asked } = this.#joints[j]!
    if (!asked.put(index, position)) return
    const { now, warning, limit } = asked
    const level = now > limit ? 2 : now > warning ? 1 : 0
    if (this.#alarm.rises(PLACES * j + ASKED, level, t)) this.#tellAsked(j, level === 2, t)
  }

  #enter(stage: Stage): void {
    if ((stage === 'play') !== this.#playing) for (const { asked } of this.#joints) asked.breaks()
    this.#playing = stage === 'play'
    if (isOperation(stage)) this.#on = true
    else this.#leave()
  }

  #leave(): void {
    this.#on = this.#playing = false
    this.#begin()
    for (const arm of this.#rates) arm.breaks()
  }

  #feedback(j: number, index: number, position: number, t: Nanos): void {
    this.#t = t
    const joint = this.#joints[j]!
    if (!this.#on || index === joint.index) return
    if (index !== joint.index + 1) joint.welch.breaks()
    joint.index = index
    if (this.#playing) this.#rates[this.#c.rig.joints[j]!.arm]!.see(this.#place[j]!, index, position, t)
    if (Number.isNaN(joint.lag)) {
      if (joint.learner!.see(this.#setpoints, j, index, position))
        joint.lag = Math.min(joint.learner!.lag, this.#most)
      return
    }
    if (joint.skip > 0) {
      joint.skip--
      return
    }
    const asked = this.#setpoints.between(j, index - 1 - joint.lag)
    if (joint.welch.push(position - asked)) this.#segment(j, t)
  }

  /** A segment of this joint has ended. */
  #segment(j: number, t: Nanos): void {
    const { welch, bands } = this.#joints[j]!
    bands.forEach((band, b) => {
      const rms = band.see(welch.latest)
      if (this.#elsewhere) this.#compare({ joint: j, band, rms, t })
      const level = this.#elsewhere ? 0 : rms > band.limit ? 2 : rms > band.warning ? 1 : 0
      if (this.#alarm.rises(PLACES * j + b, level, t)) this.#tellBand(j, band, rms, level === 2, t)
    })
  }

  #compare(seen: Trembled): void {
    const { rms, band } = seen
    if (rms <= band.warning) return
    if (this.#worst === null || rms / band.warning > this.#worst.rms / this.#worst.band.warning)
      this.#worst = seen
  }

  /** Those that count, the strongest first. */
  #lines(j: number): SpectralLine[] {
    const { rig, settings } = this.#c
    const { welch } = this.#joints[j]!
    const joint = rig.joints[j]!
    if (welch.segments < LEAST_SEGMENTS) return []
    const found = spectralLines(welch.density(), welch.step, settings.ratio, settings.bands.from)
    const step = 1 / joint.wire.countsPerRadian
    const shaking = ({ frequency, amplitude }: SpectralLine): number =>
      amplitude * (2 * Math.PI * frequency) ** 2
    return found
      .filter((line) => line.amplitude > step && shaking(line) > settings.line * joint.limits.acceleration)
      .filter((line) => !this.#isStroke(joint.arm, line.frequency, NEAR * welch.step))
      .sort((a, b) => shaking(b) - shaking(a))
  }

  /** Harmonics of strokes whose rate changed lie anywhere between those of the least and of the greatest. */
  #isStroke(arm: number, frequency: number, near: number): boolean {
    const { least, greatest } = this.#rates[arm]!
    const most = this.#c.rig.mount?.harmonics ?? HARMONICS
    const first = Math.max(1, Math.ceil((frequency - near) / greatest))
    return first <= most && first * least <= frequency + near
  }

  #tellBand(j: number, band: ShakenBand, rms: number, hard: boolean, t: Nanos): void {
    const { rig } = this.#c
    this.#c.report({
      severity: hard ? 'failure' : 'warning',
      place: rig.joints[j]!.name,
      t,
      quantity: `vibration, ${band.name}`,
      value: rms,
      limit: hard ? band.limit : band.warning,
      unit: 'rad/s2',
      says: 'The joint trembled about its setpoint.',
      why: 'Vibration loosens mounts and screws, and a loop that swings by itself may swing up.',
      look: 'Look for a loose mount or coupling, then at the gains of the position loop and at noise of the setpoints.',
      stop: hard ? rig.stop.category : null,
    })
  }

  #tellSimulated({ joint, band, rms, t }: Trembled): void {
    this.#c.report({
      severity: 'warning',
      place: this.#c.rig.joints[joint]!.name,
      t,
      quantity: `vibration, ${band.name}`,
      value: rms,
      limit: band.warning,
      unit: 'rad/s2',
      says: 'Arms that another process simulates trembled about their setpoints, this joint most.',
      why: 'The time of that process is less even than that of a drive, so that this is no evidence for or against the arms.',
      look: 'Look at this watch on the real arms, or with arms that the harness simulates itself.',
      stop: null,
    })
  }

  #tellAsked(j: number, hard: boolean, t: Nanos): void {
    const { rig, settings } = this.#c
    const { now, warning, limit } = this.#joints[j]!.asked
    this.#c.report({
      severity: hard ? 'failure' : 'warning',
      place: rig.joints[j]!.name,
      t,
      quantity: ASKED_NAME,
      value: now,
      limit: hard ? limit : warning,
      unit: 'rad/s2',
      says: `The setpoints of this joint trembled, faster than ${showQuantity(settings.bands.middle, 'Hz')}, where no stroke has any motion.`,
      why: 'The joint is shaken by its own driver: gear and mount wear, and the torque that it takes is not there for the stroke.',
      look: 'Look for noise or a coarse step in what the driver calculates with, for values that come twice, and for a loop of its own that swings.',
      stop: hard ? rig.stop.category : null,
    })
  }

  #tellLine(j: number, line: SpectralLine): void {
    const { rig } = this.#c
    const beside = rig.mount && nearMount(rig.mount, line.frequency)
    const words: Pick<Finding, 'says' | 'look'> = beside ?? {
      says: `The joint swings at ${showQuantity(line.frequency, 'Hz')}, which is no harmonic of its strokes.`,
      look: 'Look what turns or swings at this frequency: motor, gear, loop, mount, or another machine on the craft.',
    }
    this.#c.report({
      ...words,
      severity: 'warning',
      place: rig.joints[j]!.name,
      t: this.#t,
      quantity: 'vibration line',
      value: line.amplitude,
      limit: 1 / rig.joints[j]!.wire.countsPerRadian,
      unit: 'rad',
      why: 'A swing of its own is not asked for by anybody, and grows where something answers to it.',
      stop: null,
    })
  }
}

const ASKED_NAME = 'tremble of setpoints, RMS'

function askedOf(joint: Joint, settings: WatchSettings['vibration'], rate: number): SetpointTremble {
  const { wire, limits, index } = joint
  const asked = new SetpointTremble(rate, settings.bands.middle, settings, limits.acceleration, index)
  asked.roundedTo(1 / (wire.protocol === 'frames' ? wire.setpoint.countsPerRadian : wire.countsPerRadian))
  return asked
}

function nearMount(mount: MountSettings, frequency: number): Pick<Finding, 'says' | 'look'> | null {
  const own = ownFrequency(mount)
  const shown = showQuantity(frequency, 'Hz')
  if (Math.abs(frequency / own - 1) < mount.margin) {
    return {
      says: `The joint swings at ${shown}, near the mount's own frequency of ${showQuantity(own, 'Hz')}.`,
      look: 'Look at the clamps of the mount and at what shakes it, then make it stiffer or move the frequency.',
    }
  }
  const stated = mount.lines.find((line) => Math.abs(frequency / line - 1) < mount.margin)
  if (stated === undefined) return null
  return {
    says: `The joint swings at ${shown}, near the vibration of ${showQuantity(stated, 'Hz')} that the rig states.`,
    look: 'Look at what makes that vibration, and at how it comes to the arm.',
  }
}
