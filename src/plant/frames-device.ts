/**
 * One simulated arm joint with a drive that speaks a frame map: composes joint, encoder, watchdog and faults as the CiA 402
 * drive does. From the map it takes where signals lie in their frames; sign, counts and zero of its position are its own
 * truth. Its stop ramp is the rig's `link.quick-stop`, its interpolation the control period, as its maker left
 * them, its torque counts as the map says; frames with a wrong constant, checksum or a counter that stands still mean nothing to it.
 *
 * Not modelled: setpoints in counts of another size than the feedback's (the map's ratio of the two is taken for true), the
 * speed that a setpoint may carry, the drive's own watch over its following error, start-up of its electronics, a fault
 * other than the loss of setpoints.
 */
import type { Bus } from '../bus/contract.js'
import { type Nanos, NS_PER_S, nanos, type Scheduler } from '../clock.js'
import type { FramesJoint, MapSignal, Reported, Rig } from '../files/rig.js'
import { type RandomStream, randomStream } from '../random.js'
import type { Frame } from '../wire/frame.js'
import { type FrameCodec, Fresh } from '../wire/frame-map/frame-codec.js'
import { MapCodec } from '../wire/frame-map/map-codec.js'
import type { PlantFault } from './contract.js'
import { Encoder } from './encoder.js'
import { applyFault, LineFaults } from './faults.js'
import { DriveHealth } from './health.js'
import { GRID, JointMotion } from './joint.js'
import type { Mechanism } from './mechanism.js'
import type { Supply } from './supply.js'
import { Timer } from './timer.js'
import { LinkWatchdog } from './watchdog.js'

/** `stopping`: slows down on its own ramp, deaf to everything but disable. */
type FramesState = 'off' | 'enabled' | 'stopping' | 'fault'

/** s by which feedback that comes by itself is later for each number of the node: drives do not sample as one. */
const PHASE_EACH = 0.0001
/** s until a drive that was powered on sends its first feedback by itself. Invented. */
const WAKES = 0.005

type Use = 'request' | 'setpoint' | 'enable' | 'stop' | 'disable' | 'reset'

interface Ear {
  readonly use: Use
  readonly codec: FrameCodec
  readonly fresh: Fresh
}

export class FramesDevice {
  readonly #scheduler: Scheduler
  readonly #port: Bus
  readonly #codec: MapCodec
  readonly #node: number
  readonly #sign: number
  readonly #setpointRatio: number
  readonly #motion: JointMotion
  readonly #encoder: Encoder
  readonly #health: DriveHealth
  readonly #line: LineFaults
  readonly #noise: RandomStream
  readonly #delay: Nanos
  readonly #jitter: Nanos
  readonly #period: Nanos
  readonly #ramp: number
  readonly #watched: boolean
  readonly #watchdog = new LinkWatchdog()
  readonly #alarm: Timer
  readonly #ears = new Map<number, Ear[]>()
  #state: FramesState = 'off'
  /** Where a ramp ends: a stop that nobody sent ends in fault, if there is such a state. */
  #after: FramesState = 'off'
  #target: number | null = null
  #counter = 0
  #powered = true
  #lastFeedback: Nanos = 0

  /** @param port this drive's own place on its bus; @param mechanism that takes the joint along, or null: it moves for itself; @param supply that it draws its power from */
  constructor(
    rig: Pick<Rig, 'joints' | 'simulation' | 'control' | 'link'>,
    joint: FramesJoint,
    scheduler: Scheduler,
    port: Bus,
    seed: number,
    mechanism: Mechanism | null,
    supply: Supply,
  ) {
    const { servo, feedback, brakes, sag, watchdog, joints } = rig.simulation
    const truth = joints[joint.index]!
    const { wire } = joint
    this.#scheduler = scheduler
    this.#port = port
    this.#codec = new MapCodec(wire.map)
    this.#node = wire.node
    this.#sign = truth.sign
    this.#setpointRatio =
      position(wire.map.feedback.signals).scale / position(wire.map.setpoint.signals).scale
    this.#noise = randomStream(seed, `plant ${joint.name}`)
    this.#line = new LineFaults(randomStream(seed, `fault ${joint.name}`))
    const settings = { limits: joint.limits, servo, start: truth.start, sag, brakes }
    this.#motion = new JointMotion(settings, mechanism)
    mechanism?.join(joint.index, this.#motion)
    this.#encoder = new Encoder(truth, feedback.noise, this.#noise)
    this.#health = new DriveHealth(joint, rig.simulation.ambient, this.#motion, supply)
    this.#delay = nanos(feedback.delay)
    this.#jitter = feedback.jitter * NS_PER_S
    this.#period = nanos(rig.control.period)
    this.#ramp = rig.link.quickStop
    this.#watched = watchdog
    this.#alarm = new Timer(scheduler, () => this.#silent())
    this.#listen()
    port.onFrame((frame, t) => this.#hear(frame, t))
    if (wire.map.every !== null) {
      this.#beat(scheduler.now() + nanos(WAKES + PHASE_EACH * wire.node), nanos(wire.map.every))
    }
  }

  /** True position, rad. */
  position(t: Nanos): number {
    return this.#motion.position(t)
  }

  get powered(): boolean {
    return this.#motion.powered
  }

  fault(fault: PlantFault, on: boolean): void {
    applyFault(fault, on, this.#scheduler.now(), this.#line, this.#motion, this.#encoder, this)
  }

  /** Without power it neither hears nor speaks; with it again, it has no torque and knows of no setpoint. */
  power(on: boolean): void {
    this.#powered = on
    if (on) return
    this.#release(this.#scheduler.now(), 'off')
    this.#target = null
    this.#counter = 0
  }

  #listen(): void {
    const { request, setpoint, commands } = this.#codec
    const hears = (use: Use, codec: FrameCodec) => {
      const id = codec.id(this.#node)
      this.#ears.set(id, [...(this.#ears.get(id) ?? []), { use, codec, fresh: new Fresh(codec) }])
    }
    if (request) hears('request', request)
    hears('setpoint', setpoint)
    for (const [use, codec] of commands) hears(use, codec)
  }

  #hear(frame: Frame, t: Nanos): void {
    if (frame.extended || frame.remote || !this.#powered) return
    const ear = this.#ears.get(frame.id)?.find((e) => e.codec.fits(frame.data))
    if (!ear?.fresh.see(frame.data)) return
    switch (ear.use) {
      case 'request':
        this.#feed(
          t,
          this.#delay + (this.#jitter === 0 ? 0 : Math.round(this.#jitter * this.#noise.uniform())),
        )
        return
      case 'setpoint':
        this.#aim(ear.codec.number('position', frame.data)!, t)
        return
      case 'enable':
        if (this.#state === 'off') this.#enable(t)
        return
      case 'stop':
        if (this.#state === 'enabled') this.#slow(t, 'off')
        return
      case 'disable':
        if (this.#state !== 'fault') this.#release(t, 'off')
        return
      case 'reset':
        if (this.#state === 'fault') this.#state = 'off'
        return
    }
  }

  #aim(number: number, t: Nanos): void {
    this.#target = this.#encoder.angle(this.#inFeedbackCounts(number))
    if (this.#state !== 'enabled') return
    this.#motion.advance(t)
    this.#motion.demand.move(t, this.#target, this.#period)
    this.#watchdog.sync(t, true)
    if (this.#watched) this.#alarm.at(this.#watchdog.due)
  }

  /** The two position signals differ by what one step is worth and by what the number 0 stands for. */
  #inFeedbackCounts(number: number): number {
    const [to, from] = [
      position(this.#codec.map.feedback.signals),
      position(this.#codec.map.setpoint.signals),
    ]
    return number / this.#setpointRatio + (from.offset - to.offset) / to.scale
  }

  /** An old setpoint counts: a host that has not refreshed it makes the arm jump. */
  #enable(t: Nanos): void {
    this.#state = 'enabled'
    this.#motion.follow(t)
    if (this.#target !== null) this.#motion.demand.move(t, this.#target, this.#period)
    this.#watchdog.enabled(t, this.#period)
    if (this.#watched) this.#alarm.at(this.#watchdog.due)
  }

  #slow(t: Nanos, after: FramesState): void {
    this.#state = 'stopping'
    this.#after = after
    this.#watchdog.left()
    this.#motion.ramp(t, this.#ramp)
    const look = () => {
      if (this.#state !== 'stopping') return
      const now = this.#scheduler.now()
      this.#motion.advance(now)
      if (this.#motion.resting) this.#release(now, this.#after)
      else this.#scheduler.at(now + GRID, look)
    }
    this.#scheduler.at(t + this.#motion.timeToRest, look)
  }

  #release(t: Nanos, state: FramesState): void {
    this.#state = state
    this.#watchdog.left()
    this.#motion.release(t)
  }

  /** No setpoint for too long: it stops by itself. */
  #silent(): void {
    const t = this.#scheduler.now()
    const lost = this.#watchdog.expire(t)
    if (lost !== undefined && this.#state === 'enabled') {
      this.#slow(t, this.#codec.map.states.fault.length > 0 ? 'fault' : 'off')
    }
    this.#alarm.at(this.#watchdog.due)
  }

  #beat(t: Nanos, every: Nanos): void {
    this.#scheduler.at(t, () => {
      this.#feed(t, this.#jitter === 0 ? 0 : Math.round(this.#jitter * this.#noise.uniform()))
      this.#beat(t + every, every)
    })
  }

  /** Samples now, sends after `delay`; later frames never overtake earlier ones. */
  #feed(t: Nanos, delay: Nanos): void {
    const frame = this.#sample(t)
    if (this.#line.loses()) return
    this.#lastFeedback = Math.max(t + delay + this.#line.late, this.#lastFeedback)
    this.#scheduler.at(this.#lastFeedback, () => {
      if (this.#powered && !this.#line.silent) this.#port.send(frame)
    })
  }

  #sample(t: Nanos): Frame {
    const { map, feedback } = this.#codec
    const report = (what: Reported): number =>
      feedback.has(what) ? feedback.numberOf(what, this.#health.now(what, t)) : 0
    const numbers = {
      position: this.#encoder.read(this.#motion.measured(t)),
      torque: feedback.has('torque') ? feedback.numberOf('torque', this.#sign * this.#motion.torque(t)) : 0,
      temperature: report('temperature'),
      voltage: report('voltage'),
      current: report('current'),
      state: this.#stateNumber(),
      counter: ++this.#counter,
    }
    const { confirmsStop } = map
    const apart = confirmsStop && confirmsStop.signal !== 'state' && this.#state === 'stopping'
    return feedback.make(this.#node, numbers, apart ? { [confirmsStop.signal]: confirmsStop.values[0]! } : {})
  }

  #stateNumber(): number {
    const { states, confirmsStop } = this.#codec.map
    if (this.#state === 'stopping') {
      return confirmsStop?.signal === 'state' ? confirmsStop.values[0]! : states.enabled[0]!
    }
    return states[this.#state][0]!
  }
}

const position = (signals: readonly MapSignal[]): MapSignal => signals.find((s) => s.is === 'position')!
