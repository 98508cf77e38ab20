/**
 * From a stop to still, and after. A joint is still as motion/still.ts defines it; time and travel run from the stop to the
 * moment when it came to rest. What it moves in the sag window after that is sag. From then on, through
 * release and reset, no joint may move until a new start-up begins.
 *
 * A drive that lets go of its joint at rest must leave it there: what it moves from then on is sag, also before anybody has seen it still.
 * In a category 1 stop a joint goes no farther than `stopping.ramps` times what its speed and the quick-stop ramp make (v t + v^2/2a, t being the
 * periods until the drive acts on it), and the sag that passes; and its drive says within `stop.answer` that it obeys, unless that is long over by then.
 *
 * When a run ends without a stop, the drives are off in its last stage, `rest`: what a joint moves there is sag too. It is
 * a failure where the rig states brakes, and no news where it states none.
 *
 * The evidence must last: feedback lost after the stop makes the run incomplete. Only a joint that the stop itself names
 * and that was silent already may be unseen (its silence may be the cause), or the joints of a bus that it names and that had failed; figures say so. Whichever joint comes back
 * is watched again, from what was known of it before. A stop must also end with the drives out of operation.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Stage, StopCategory } from '../files/event.js'
import { Still } from '../motion/still.js'
import type { ShownUnit } from '../units.js'
import { isOff } from '../wire/cia402/state.js'
import { Alarm } from './alarm.js'
import { BladeTravel } from './blade-travel.js'
import { BusHealth } from './bus-health.js'
import { positionNoise } from './noise.js'
import { Operational } from './operational.js'
import type { WatchSettings } from './settings.js'
import {
  disobeyed,
  doubt,
  gaveUpHolding,
  moved,
  notStill,
  type StopFinding,
  sagged,
  stillEnabled,
  tooFar,
} from './stopping-findings.js'
import { StoppingJoint } from './stopping-joint.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Periods: feedback of the last SYNC is that old at a stop, and the drive acts on the stop within the next one. */
const ACTS = 2

/**
 * s and periods in which a drive says that it obeys: the command comes without SYNC, the answer with the next but one at the latest; as much
 * again for the drive. Later, it was told more than once (stop/sequence.ts).
 */
const PROMPT = 0.02
const PROMPT_PERIODS = 4

/** Standard deviations of noise; that of a second difference is sqrt 6 times that of a reading. */
const SIGMAS = 6

/** A stop as it is in force. */
interface Stop {
  readonly t: Nanos
  readonly place: string
  readonly category: StopCategory
  /** Since when the drives are to lose their torque; an escalation begins it anew. */
  readonly hardSince: Nanos
}

export class StoppingWatch implements Watch {
  readonly kinds = [
    ...(['feedback', 'tick', 'sync', 'state', 'stop', 'escalation', 'stage', 'release', 'reset'] as const),
    ...(['nmt', 'end', 'bus'] as const),
  ]
  readonly #c: WatchContext<WatchSettings['stopping']>
  readonly #joints: StoppingJoint[]
  /** One for each arm. */
  readonly #blades: BladeTravel[]
  readonly #operational: Operational
  readonly #health: BusHealth
  readonly #sag: Alarm
  readonly #motion: Alarm
  readonly #deadline: Nanos
  /** How long a joint that comes back may take to be seen still. */
  readonly #settling: Nanos
  readonly #lostAfter: Nanos
  readonly #silentAfter: Nanos
  #stop: Stop | null = null
  #stage: Stage | null = null
  #stops = 0
  #moved = false
  #toStill: number | null = null
  #settled = false
  #t: Nanos = 0

  /** @param silentAfter s, age from which feedback counts as silent */
  constructor(context: WatchContext<WatchSettings['stopping']>, silentAfter: number) {
    this.#c = context
    const { rig, settings } = context
    const { still, timeout } = rig.stop
    this.#joints = rig.joints.map(() => new StoppingJoint(new Still(still.speed, still.hold)))
    this.#blades = rig.arms.map((arm) => new BladeTravel(rig, arm))
    this.#operational = new Operational(rig)
    this.#health = new BusHealth(rig)
    this.#sag = new Alarm(rig.joints.length)
    this.#motion = new Alarm(rig.joints.length)
    this.#deadline = (timeout + still.hold + settings.margin) * 1e9
    this.#settling = (still.hold + settings.margin) * 1e9
    this.#silentAfter = silentAfter * 1e9
    this.#lostAfter = settings.periods * rig.control.period * 1e9
  }

  /** s from the first stop to the last joint still; null while not all (that can be seen) are. */
  get toStill(): number | null {
    return this.#toStill
  }

  /** Has any joint moved after it had come to rest and before a new start-up? */
  get moved(): boolean {
    return this.#moved
  }

  /** Names of joints whose feedback was lost before they had been seen to be still, or after. */
  get unseen(): string[] {
    return this.#c.rig.joints.filter((j) => this.#joints[j.index]!.lost).map((j) => j.name)
  }

  see(o: Observation): void {
    switch (o.kind) {
      case 'feedback':
        this.#feedback(o.joint, o.index, o.position, o.t)
        return
      case 'sync':
      case 'tick':
        if (this.#stop !== null) this.#check(o.t)
        return
      case 'state':
        this.#says(this.#joints[o.joint]!, o.joint, o.state, o.t)
        return
      case 'stop':
        this.#begin(o.t, o.place, o.category)
        return
      case 'escalation':
        this.#escalate(o)
        return
      case 'release':
      case 'reset':
        // From here on nothing may move: what was sag before would be motion now.
        for (const joint of this.#joints) if (joint.phase === 'sagging') this.#endSag(joint)
        return
      case 'bus':
        this.#health.see(o)
        return
      case 'nmt':
        this.#operational.nmt(o.bus, o.node, o.command)
        return
      case 'stage':
        this.#enter(o.stage, o.t)
        return
      case 'end':
        this.#t = o.t
        return
    }
  }

  close(): void {
    this.#conclude(this.#t)
  }

  figures(): Figure[] {
    const { rig } = this.#c
    const { stop } = rig
    const row = (
      place: string,
      name: string,
      value: number,
      unit: ShownUnit,
      limit: number | null,
    ): Figure => ({
      place,
      name,
      value,
      unit,
      limit,
    })
    const rested = this.#joints.flatMap((joint, j) =>
      Number.isNaN(joint.restSag)
        ? []
        : [row(rig.joints[j]!.name, 'sag once the drives were off', joint.restSag, 'rad', stop.sag)],
    )
    if (this.#stops === 0) return rested
    return [
      ...rested,
      row('', 'stops', this.#stops, 'count', null),
      row('', 'joints not seen after the stop', this.unseen.length, 'count', null),
      ...this.#joints.flatMap((joint, j) => {
        const place = rig.joints[j]!.name
        const lost = joint.lost
          ? [row(place, 'not seen after the stop, nor its drive state', 1, 'none', null)]
          : []
        if (joint.absent) return lost
        const rows = [...lost, row(place, 'travel to still', joint.travel, 'rad', null)]
        if (Number.isNaN(joint.toStill)) return rows
        return [
          row(place, 'time to still', joint.toStill / 1e9, 's', stop.timeout),
          ...rows,
          row(place, 'sag after still', joint.sag, 'rad', stop.sag),
          row(place, 'motion after that', joint.motion, 'rad', this.#c.settings.motion),
        ]
      }),
      ...rig.arms.flatMap(({ name, index }) => {
        const { farthest } = this.#blades[index]!
        return Number.isNaN(farthest) ? [] : [row(name, 'blade travel to still', farthest, 'm', null)]
      }),
    ]
  }

  #begin(t: Nanos, place: string, category: StopCategory): void {
    this.#conclude(t)
    this.#stop = { t, place, category, hardSince: t }
    this.#stops++
    this.#t = t
    this.#joints.forEach((joint, j) => {
      const never = Number.isNaN(joint.seen)
      joint.phase = 'stopping'
      joint.due = t + this.#deadline
      joint.from = joint.position
      joint.toStill = Number.NaN
      joint.travel = joint.sag = joint.motion = 0
      joint.late = joint.enabled = joint.doubted = joint.absent = joint.returned = false
      joint.far = false
      joint.letGo = Number.NaN
      const unasked =
        this.#stage === 'setup' || this.#operational.isOff(j) || (never && !this.#operational.isStarted(j))
      const silent = never || t - joint.seen > this.#silentAfter
      // Of one that was not heard just now nothing is foretold.
      joint.disobeyed = silent ? 2 : 0
      const fresh = t - joint.seen <= ACTS * this.#c.rig.control.period * 1e9
      joint.reach = category === 1 && fresh ? this.#reach(joint, j) : Number.NaN
      const { name, wire } = this.#c.rig.joints[j]!
      const named = place === name || place === this.#c.rig.buses[wire.bus]!.name
      joint.excused = unasked || (named && (silent || this.#health.isFailing(wire.bus)))
      joint.still.restart()
      if (!never) joint.still.see(joint.position, joint.seen)
    })
    for (const blade of this.#blades) blade.begin()
  }

  /** rad */
  #reach(joint: StoppingJoint, j: number): number {
    const { rig, settings } = this.#c
    const { period } = rig.control
    const [way, last] = joint.ways
    const v = Math.max(Math.abs(way), Math.abs(last)) / period
    const { limits } = rig.joints[j]!
    const noise = SIGMAS * Math.sqrt(6) * positionNoise(rig.joints[j]!, rig.simulation.feedback.noise)
    // Nothing is foretold of feedback that leaps: drives can do about twice the acceleration that a rig lets them.
    if (!(Math.abs(last - way) <= 2 * limits.acceleration * period ** 2 + noise)) return Number.NaN
    return ACTS * period * v + (settings.ramps * v * v) / (2 * rig.link.quickStop) + rig.stop.sag
  }

  #says(joint: StoppingJoint, j: number, state: StoppingJoint['state'], t: Nanos): void {
    const before = joint.state
    joint.state = state
    if (this.#stop === null || joint.phase !== 'stopping') return
    // Without a ramp before it a joint coasts.
    if (this.#stop.category === 1 && state !== null && isOff(state) && before !== null && !isOff(before)) {
      // The frame that says so may be from after it: what counts is where the joint was in the frame before, and how fast.
      const [way, last] = joint.ways
      const { stop, control, joints } = this.#c.rig
      const slow = Math.abs(way) / control.period < stop.sag / stop.still.hold
      const leapt = Math.abs(last) / control.period > joints[j]!.limits.speed
      joint.letGo = slow && !leapt ? joint.earlier[1] : Number.NaN
    }
    this.#obeys(joint, j, t)
  }

  /** A drive that is heard to be enabled still when it should have obeyed long since. */
  #obeys(joint: StoppingJoint, j: number, t: Nanos): void {
    const { answer } = this.#c.rig.stop
    const { category, hardSince } = this.#stop!
    // One that is silent has not said so.
    const after = (joint.seen - hardSince) / 1e9
    if (category !== 1 || joint.state !== 'operation enabled') return
    const { period } = this.#c.rig.control
    const prompt = Math.min(answer, Math.max(PROMPT, PROMPT_PERIODS * period))
    const level = after > answer ? 2 : after > prompt ? 1 : 0
    if (level <= joint.disobeyed) return
    joint.disobeyed = level
    this.#report(j, t, disobeyed(after, level === 2 ? answer : prompt, level === 2 ? 'failure' : 'warning'))
  }

  /** Time and travel go on from the first request; the drives are given their time anew. */
  #escalate(o: Extract<Observation, { kind: 'escalation' }>): void {
    const before = this.#stop
    if (before === null) return
    const { t, place, category, source, says } = o
    this.#stop = { ...before, category, hardSince: t }
    for (const joint of this.#joints) {
      joint.due = t + this.#deadline
      // Where it was held still, what it moves once it is let go is sag.
      if (joint.phase !== 'sagging' && joint.phase !== 'watched') continue
      joint.phase = 'sagging'
      joint.stillAt = t
      joint.rest = joint.position
    }
    if (before.category !== 2 || source !== 'stop') return
    const finding = gaveUpHolding(says, (t - before.t) / 1e9, this.#c.rig.stop.timeout)
    this.#c.report({ ...finding, place, t })
  }

  #enter(stage: Stage, t: Nanos): void {
    this.#stage = stage
    // Arms that were held lose their torque at the end, as after a run without a stop.
    const letGo = stage === 'disable' && this.#stop?.category === 2
    const anew = stage === 'setup' || stage === 'seed'
    if (letGo || (anew && this.#stop !== null)) {
      this.#conclude(t)
      this.#stop = null
    }
    if (anew) for (const joint of this.#joints) joint.phase = 'running'
    else if (letGo || (stage === 'rest' && this.#stop === null)) {
      for (const joint of this.#joints) {
        if (joint.phase === 'resting') continue
        joint.phase = 'resting'
        joint.rest = joint.position
        joint.restSag = 0
      }
    }
  }

  #feedback(j: number, index: number, position: number, t: Nanos): void {
    const joint = this.#joints[j]!
    const { arm } = this.#c.rig.joints[j]!
    this.#blades[arm]!.feedback(this.#c.rig.arms[arm]!.joints.indexOf(j), index, position)
    joint.moves(position, t)
    if (joint.phase === 'resting') this.#sags(joint, j, t)
    const stop = this.#stop
    if (stop === null) return
    this.#t = t
    if (joint.absent) this.#isBack(joint, t)
    switch (joint.phase) {
      case 'stopping': {
        if (Number.isNaN(joint.from)) joint.from = position
        joint.travel = Math.max(joint.travel, Math.abs(position - joint.from))
        this.#goes(joint, j, t)
        joint.still.see(position, t)
        const since = joint.still.since
        if (since === null) return
        joint.phase = 'sagging'
        joint.stillAt = since
        joint.toStill = Math.max(0, since - stop.t)
        joint.rest = position
        if (this.#c.rig.arms[arm]!.joints.every((i) => this.#joints[i]!.phase !== 'stopping'))
          this.#blades[arm]!.end()
        this.#allStill()
        return
      }
      case 'sagging': {
        this.#sags(joint, j, t)
        if (t - joint.stillAt >= this.#c.rig.stop.sagWindow * 1e9) this.#endSag(joint)
        return
      }
      case 'watched': {
        const motion = Math.abs(position - joint.rest)
        if (motion > joint.motion) joint.motion = motion
        const limit = this.#c.settings.motion
        if (!this.#motion.rises(j, motion > limit ? 2 : 0, t)) return
        this.#moved = true
        this.#report(j, t, moved(motion, limit))
        return
      }
    }
  }

  /** Not still yet: no farther than it should, and not at all once its drive has let go of it at rest. */
  #goes(joint: StoppingJoint, j: number, t: Nanos): void {
    if (!Number.isNaN(joint.letGo)) {
      this.#sags(joint, j, t, joint.letGo)
      return
    }
    if (joint.far || !(joint.travel > joint.reach)) return
    joint.far = true
    this.#report(j, t, tooFar(joint.travel, joint.reach))
  }

  /** @param from rad */
  #sags(joint: StoppingJoint, j: number, t: Nanos, from = joint.rest): void {
    const { sag: limit, brakes } = this.#c.rig.stop
    const sag = Math.abs(joint.position - from)
    if (joint.phase === 'resting') joint.restSag = Math.max(joint.restSag, sag)
    else joint.sag = Math.max(joint.sag, sag)
    if (this.#sag.rises(j, sag > limit ? 2 : 0, t)) {
      this.#report(j, t, sagged(sag, limit, joint.phase === 'resting', brakes))
    }
  }

  #endSag(joint: StoppingJoint): void {
    joint.phase = 'watched'
    joint.rest = joint.position
  }

  /** Takes note of the first stop's time to still once no joint is on its way any more. */
  #allStill(): void {
    if (this.#stops > 1 || this.#settled) return
    let last = Number.NaN
    for (const { phase, absent, excused, toStill } of this.#joints) {
      if (absent && excused) continue
      if (phase === 'stopping') return
      last = Math.max(last || 0, toStill)
    }
    // Nobody was seen to be still where nobody was seen.
    if (Number.isNaN(last)) return
    this.#settled = true
    this.#toStill = last / 1e9
  }

  /** Feedback has come again: what was lost stays lost, what is seen now counts. */
  #isBack(joint: StoppingJoint, t: Nanos): void {
    joint.absent = false
    joint.still.restart()
    // Once: a contact that comes and goes does not put it off for ever.
    if (!joint.returned) joint.due = Math.max(joint.due, t + this.#settling)
    joint.returned = true
  }

  #check(t: Nanos): void {
    const stop = this.#stop!
    this.#t = t
    this.#joints.forEach((joint, j) => {
      if (joint.phase === 'running' || joint.absent) return
      if (this.#isLost(joint, t)) {
        // A node that was told to be silent after all was measured has lost nothing.
        if (joint.phase !== 'watched' || !this.#operational.isOff(j)) this.#lose(j, t)
        return
      }
      const after = (t - stop.t) / 1e9
      const deadline = this.#deadline / 1e9
      if (joint.phase === 'stopping' && !joint.late && t > joint.due) {
        joint.late = true
        this.#report(j, t, notStill(after, deadline))
      }
      this.#obeys(joint, j, t)
      const { state } = joint
      if (state === null || isOff(state) || stop.category === 2 || joint.enabled) return
      if (t - stop.hardSince > this.#deadline) {
        joint.enabled = true
        this.#report(j, t, stillEnabled(state, after, deadline))
      }
    })
  }

  #lose(j: number, t: Nanos): void {
    const joint = this.#joints[j]!
    const never = Number.isNaN(joint.seen)
    joint.absent = joint.lost = true
    if (!joint.excused && !joint.doubted) {
      joint.doubted = true
      if (!this.#doubtBus(j, t))
        this.#doubt(
          j,
          t,
          never
            ? 'Feedback of this joint was never seen, neither before the stop nor after it.'
            : 'The feedback of this joint was lost after the stop.',
        )
    }
    this.#allStill()
  }

  /** When all joints of its bus are lost together it is one doubt, not one a joint. */
  #doubtBus(j: number, t: Nanos): boolean {
    const { rig } = this.#c
    const { bus } = rig.joints[j]!.wire
    const mates = rig.joints.filter((mate) => mate.wire.bus === bus).map((mate) => this.#joints[mate.index]!)
    if (mates.length < 2 || !mates.every((mate) => this.#isLost(mate, t))) return false
    for (const mate of mates) mate.doubted = true
    const finding = doubt(
      'The feedback of every joint on this bus was lost after the stop.',
      (t - this.#stop!.t) / 1e9,
      rig.stop.sagWindow,
    )
    this.#c.report({ ...finding, place: rig.buses[bus]!.name, t })
    return true
  }

  #isLost(joint: StoppingJoint, t: Nanos): boolean {
    return t - Math.max(this.#stop!.t, joint.seen || 0) > this.#lostAfter
  }

  /** The run, or a new start-up, ends what is watched of a stop. */
  #conclude(t: Nanos): void {
    if (this.#stop === null) return
    this.#joints.forEach((joint, j) => {
      if (joint.absent) return
      if (joint.phase === 'stopping' && !joint.late) {
        // One that was silent before is told apart even if nobody had the time to notice.
        const unseen = !(joint.seen > this.#stop!.t)
        if (unseen) this.#lose(j, t)
        else if (!joint.excused) this.#doubt(j, t, 'The run ended before this joint was seen to be still.')
      } else if (joint.phase === 'sagging' && !joint.excused) {
        this.#doubt(j, t, 'The run ended before the sag of this joint was measured.')
      }
    })
  }

  #doubt(j: number, t: Nanos, says: string): void {
    this.#report(j, t, doubt(says, (t - this.#stop!.t) / 1e9, this.#c.rig.stop.sagWindow))
  }

  #report(j: number, t: Nanos, finding: StopFinding): void {
    this.#c.report({ ...finding, place: this.#c.rig.joints[j]!.name, t })
  }
}
