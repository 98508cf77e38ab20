/**
 * How smooth the arms move: spectral arc length and log dimensionless jerk (motion/smoothness.ts) of every movement of each joint from one
 * reversal to the next, and of each blade from one turn of its way along the craft to the next: the half strokes.
 *
 * Speeds are least-squares fits of the feedback at each SYNC, profiles are sampled near 100 Hz; both as the rig's control rate allows. A
 * movement counts in the play, under one command from `settled` s after it was given on, when it is fast enough, lasts long enough, and fits into
 * the profile: what a change of the command asks for is no fault of the motion. Nor does one count that was not seen whole, one sample a period:
 * feedback was lost in it, or a SYNC came early or late, and the fits began anew. Its jerk is held
 * against the limit only where what encoder noise makes of the jerk stays well below that: the second difference of a fitted speed, stride s apart,
 * weighs each position by c, and n samples of white noise come to n sum(c^2) sigma^2.
 * Rough motion shakes the mount, and often comes before a fault; it stops nothing.
 */
import type { Nanos } from '../clock.js'
import type { Figure } from '../files/event.js'
import { Chain } from '../motion/chain.js'
import { speedNoiseGain, speedWeights } from '../motion/differentiator.js'
import { portSpeed, starboardSpeed } from '../motion/side-speeds.js'
import { logDimensionlessJerk, profileStride, SpectralArc } from '../motion/smoothness.js'
import { Alarm } from './alarm.js'
import { ArmMotion } from './arm-motion.js'
import { Histogram } from './histogram.js'
import { positionNoise } from './noise.js'
import type { WatchSettings } from './settings.js'
import { SpeedProfile } from './speed-profile.js'
import { SyncBeat } from './sync-beat.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Samples of the longest profile, 5 s: slower movements are all noise. */
const MOST = 512
/** s; shorter ones are twitches of the park pose, or what the fit leaves of noise. */
const LEAST = 0.3
/** Standard deviations of its noise below which a speed is none. */
const STILL = 4
/** s that a stroke needs to come to an even pace once the side speed has, the lag of the joints included. */
const EVEN_AFTER = 1
/** What the jerk of noise alone must stay above the limit: a third of the limit's energy. */
const ROOM = Math.log(3)

/** One joint or one blade. */
interface Mover {
  readonly place: string
  readonly profile: SpeedProfile
  readonly limits: WatchSettings['smoothness']['joint']
  /** Of one position's noise (rad or m)^2, what the sum of squared second differences grows by each sample */
  readonly noise: number
  readonly arc: Histogram
  readonly jerk: Histogram
}

interface MovingArm {
  readonly motion: ArmMotion
  readonly chain: Chain
  readonly jacobian: Float64Array
  readonly joints: readonly Mover[]
  readonly blade: Mover
  /** Of the motion, as many as were heeded. */
  restarts: number
  /** SYNC index; movements that began before it were not seen whole */
  from: number
}

export class SmoothnessWatch implements Watch {
  readonly kinds = ['feedback', 'sync', 'command', 'stage', 'stop'] as const
  readonly #c: WatchContext<WatchSettings['smoothness']>
  readonly #arms: readonly MovingArm[]
  readonly #place: Int32Array
  readonly #spectrum: SpectralArc
  readonly #rate: number
  readonly #beat: SyncBeat
  /** By bus: the arms with joints there. */
  readonly #wired: readonly (readonly MovingArm[])[]
  readonly #rough: Record<'arc' | 'jerk', Alarm>
  #on = false
  /** m/s, what the sides are asked for, and ns, from when on motion is as it asks */
  #asked = { port: 0, starboard: 0 }
  #settled: Nanos = 0

  constructor(context: WatchContext<WatchSettings['smoothness']>) {
    this.#c = context
    const { rig, settings } = context
    const stride = profileStride(rig.control.rate)
    this.#rate = rig.control.rate / stride
    this.#spectrum = new SpectralArc(MOST, this.#rate)
    this.#place = Int32Array.from(rig.joints, (j) => rig.arms[j.arm]!.joints.indexOf(j.index))
    const gain = jerkNoise(settings.window, stride, rig.control.period)
    const speedNoise = speedNoiseGain(settings.window, rig.control.period)
    const mover = (place: string, sigma: number, limits: Mover['limits']): Mover => ({
      place,
      profile: new SpeedProfile(MOST, stride, this.#rate, STILL * sigma * speedNoise),
      limits,
      noise: gain * sigma * sigma,
      arc: new Histogram(),
      jerk: new Histogram(),
    })
    this.#arms = rig.arms.map((arm) => {
      const own = arm.joints.map((j) => rig.joints[j]!)
      const chain = new Chain(arm, own)
      const sigmas = own.map((j) => positionNoise(j, rig.simulation.feedback.noise))
      // At full stretch, with all joints pulling one way: more noise than the blade ever has.
      const reach = 2 * chain.scale * Math.hypot(...sigmas)
      return {
        motion: new ArmMotion(own.length, settings.window, rig.control.period),
        chain,
        jacobian: new Float64Array(6 * own.length),
        joints: own.map((j, i) => mover(j.name, sigmas[i]!, settings.joint)),
        blade: mover(arm.name, reach, settings.blade),
        restarts: 0,
        from: 0,
      }
    })
    this.#beat = new SyncBeat(rig)
    this.#wired = rig.buses.map((bus) =>
      this.#arms.filter((_, a) => rig.joints.some((j) => j.arm === a && j.wire.bus === bus.index)),
    )
    const places = rig.joints.length + rig.arms.length
    this.#rough = { arc: new Alarm(places), jerk: new Alarm(places) }
  }

  see(o: Observation): void {
    if (o.kind === 'feedback') this.#feedback(o.joint, o.index, o.position, o.t)
    else if (o.kind === 'sync') this.#sync(o.bus, o.index, o.t)
    else if (o.kind === 'command') this.#command(o.surge, o.yaw, o.t)
    else if (o.kind === 'stage') this.#enter(o.stage === 'play', o.t)
    else if (o.kind === 'stop') this.#enter(false, o.t)
  }

  close(): void {}

  figures(): Figure[] {
    return this.#arms.flatMap(({ joints, blade }) =>
      [...joints, blade].flatMap(({ place, arc, jerk, limits }): Figure[] => {
        const row = (name: string, value: number, limit: number | null): Figure => {
          return { place, name, value, unit: 'none', limit }
        }
        const count: Figure = {
          place,
          name: 'half strokes judged',
          value: arc.count,
          unit: 'count',
          limit: null,
        }
        if (arc.count === 0) return [count]
        return [
          count,
          row('spectral arc length, median', -arc.quantile(0.5), null),
          row('spectral arc length, worst', -arc.max, limits.arc),
          row('log dimensionless jerk, median', -jerk.quantile(0.5), null),
          row('log dimensionless jerk, worst', -jerk.max, limits.jerk),
        ]
      }),
    )
  }

  /** The driver takes the change of side speed over its acceleration, and that over its jerk, to get there. */
  #command(surge: number, yaw: number, t: Nanos): void {
    const { craft, driver } = this.#c.rig
    const port = portSpeed(surge, yaw, craft.track)
    const starboard = starboardSpeed(surge, yaw, craft.track)
    const change = Math.max(Math.abs(port - this.#asked.port), Math.abs(starboard - this.#asked.starboard))
    this.#asked = { port, starboard }
    if (change === 0) return
    const time =
      ((1 + driver.slip) * change) / driver.acceleration + driver.acceleration / driver.jerk + EVEN_AFTER
    this.#settled = Math.max(this.#settled, t + time * 1e9)
  }

  #enter(on: boolean, t: Nanos): void {
    this.#on = on
    if (on) this.#settled = Math.max(this.#settled, t + EVEN_AFTER * 1e9)
    if (!on) for (const arm of this.#arms) breaks(arm)
  }

  #sync(bus: number, index: number, t: Nanos): void {
    if (this.#beat.uneven(bus, t)) for (const { motion } of this.#wired[bus]!) motion.uneven(index)
  }

  #feedback(j: number, index: number, position: number, t: Nanos): void {
    const a = this.#c.rig.joints[j]!.arm
    const arm = this.#arms[a]!
    const { motion, chain, jacobian, joints, blade } = arm
    const known = motion.see(this.#place[j]!, index, position, 0)
    if (motion.restarts !== arm.restarts) {
      arm.restarts = motion.restarts
      // Whatever moves already when the fits are whole again has begun before that.
      arm.from = index + this.#c.settings.window
      breaks(arm)
    }
    if (!known || !this.#on) return
    const { q, qd } = motion
    const n = qd.length
    for (let i = 0; i < n; i++)
      if (joints[i]!.profile.push(qd[i]!, Math.abs(qd[i]!)))
        this.#judge(joints[i]!, this.#c.rig.arms[a]!.joints[i]!, index - arm.from, t)
    chain.forward(q)
    chain.jacobian(jacobian)
    let x = 0
    let y = 0
    let z = 0
    for (let i = 0; i < n; i++) {
      x += jacobian[i]! * qd[i]!
      y += jacobian[n + i]! * qd[i]!
      z += jacobian[2 * n + i]! * qd[i]!
    }
    if (blade.profile.push(x, Math.sqrt(x * x + y * y + z * z)))
      this.#judge(blade, this.#c.rig.joints.length + a, index - arm.from, t)
  }

  /** @param known SYNCs since movements have been seen whole */
  #judge(mover: Mover, place: number, known: number, t: Nanos): void {
    const { limits, profile } = mover
    const { speeds, n, peak, tooLong, taken } = profile
    if (tooLong || n < LEAST * this.#rate || peak < limits.speed) return
    if (taken > known) return
    if (t - taken * this.#c.rig.control.period * 1e9 < this.#settled) return
    const arc = this.#spectrum.of(speeds, n)
    const jerk = logDimensionlessJerk(speeds, n)
    mover.arc.add(-arc)
    mover.jerk.add(-jerk)
    if (this.#rough.arc.rises(place, arc < limits.arc ? 1 : 0, t))
      this.#tell(mover.place, t, 'spectral arc length', arc, limits.arc)
    const ofNoise = -Math.log((n ** 4 * mover.noise) / peak ** 2)
    const rough = jerk < limits.jerk && ofNoise > limits.jerk + ROOM
    if (this.#rough.jerk.rises(place, rough ? 1 : 0, t))
      this.#tell(mover.place, t, 'log dimensionless jerk', jerk, limits.jerk)
  }

  #tell(place: string, t: Nanos, quantity: string, value: number, limit: number): void {
    this.#c.report({
      severity: 'warning',
      place,
      t,
      quantity,
      value,
      limit,
      unit: 'none',
      says: 'The movement that ended here was rough: it went in jerks, or stopped on its way.',
      why: 'Jerks shake the mount and the craft, wear gears, and are often the first sign of a fault.',
      look: "Look at the driver's setpoints of this half stroke, then for play, friction and a loose mount.",
      stop: null,
    })
  }
}

function breaks({ joints, blade }: MovingArm): void {
  for (const joint of joints) joint.profile.breaks()
  blade.profile.breaks()
}

/** 1/s2: sum of the squared weights that the second difference, `stride` periods apart, of a fitted speed gives to single positions. */
function jerkNoise(window: number, stride: number, period: number): number {
  const weights = speedWeights(window, period)
  const at = (i: number): number => weights[i] ?? 0
  let sum = 0
  for (let i = 0; i < window + 2 * stride; i++) sum += (at(i) - 2 * at(i - stride) + at(i - 2 * stride)) ** 2
  return sum
}
