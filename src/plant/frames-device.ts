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
import { Encoder } from './encoder.js'
import { Conduct } from './faults/conduct.js'
import type { Body, FaultyDrive } from './faults/faulty.js'
import { LineFaults, type Streams } from './faults/line.js'
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

export class FramesDevice implements FaultyDrive {
  readonly scheduler: Scheduler
  readonly streams: Streams
  readonly line: LineFaults
  readonly conduct: Conduct
  readonly own: Body
  body: Body
  readonly #port: Bus
  readonly #codec: MapCodec
  readonly #node: number
  readonly #setpointRatio: number
  readonly health: DriveHealth
  readonly #noise: RandomStream
  readonly #delay: Nanos
  readonly #jitter: Nanos
  readonly #period: Nanos
  readonly #ramp: number
  readonly #watchdog = new LinkWatchdog()
  readonly #alarm: Timer
  readonly #ears = new Map<number, Ear[]>()
  #state: FramesState = 'off'
  /** Where a ramp ends: a stop that nobody sent ends in fault, if there is such a state. */
  #after: FramesState = 'off'
  #target: number | null = null
  #told = 0
  #counter = 0
  #powered = true

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
    this.scheduler = scheduler
    this.#port = port
    this.#codec = new MapCodec(wire.map)
    this.#node = wire.node
    this.#setpointRatio =
      position(wire.map.feedback.signals).scale / position(wire.map.setpoint.signals).scale
    this.#noise = randomStream(seed, `plant ${joint.name}`)
    this.streams = (what) => randomStream(seed, `fault ${what}${what && ' '}${joint.name}`)
    this.line = new LineFaults(this.streams)
    this.conduct = new Conduct(scheduler, watchdog)
    const settings = { limits: joint.limits, servo, start: truth.start, sag, brakes }
    const motion = new JointMotion(settings, mechanism)
    mechanism?.join(joint.index, motion)
    this.own = this.body = { motion, encoder: new Encoder(truth, feedback.noise, this.#noise) }
    this.health = new DriveHealth(joint, rig.simulation.ambient, motion, supply)
    this.#delay = nanos(feedback.delay)
    this.#jitter = feedback.jitter * NS_PER_S
    this.#period = nanos(rig.control.period)
    this.#ramp = rig.link.quickStop
    this.#alarm = new Timer(scheduler, () => this.#silent())
    this.#listen()
    port.onFrame((frame, t) => this.#hear(frame, t))
    scheduler.at(scheduler.now() + nanos(WAKES), () => this.#wake())
    if (wire.map.every !== null) {
      this.#beat(scheduler.now() + nanos(WAKES + PHASE_EACH * wire.node), nanos(wire.map.every))
    }
  }

  /** True position, rad. */
  position(t: Nanos): number {
    return this.own.motion.position(t)
  }

  get powered(): boolean {
    return this.own.motion.powered
  }

  get told(): number {
    return this.#told
  }

  /** As when no setpoint comes any more; its frames have no codes. */
  trip(_: number): void {
    this.#stopBySelf()
  }

  /** It has no such messages. */
  emergency(_: number): void {}

  /** It has no such messages. */
  twinBoots(): void {}

  #wake(): void {
    const { zeroLost } = this.conduct
    if (zeroLost !== 0) this.body.motion.shiftEncoder(this.scheduler.now(), zeroLost)
  }

  /** Without power it neither hears nor speaks; with it again, it has no torque and knows of no setpoint. */
  power(on: boolean): void {
    this.#powered = on
    if (on) {
      this.#wake()
      return
    }
    this.#release('off')
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
        if (this.conduct.misses('quick stop')) return
        if (this.#state === 'enabled') this.#slow('off')
        return
      case 'disable':
        if (this.conduct.misses('disable voltage')) return
        if (this.#state !== 'fault') this.#release('off')
        return
      case 'reset':
        if (this.#state === 'fault') this.#state = 'off'
        return
    }
  }

  #aim(number: number, t: Nanos): void {
    this.#told = Math.round(this.#inFeedbackCounts(number))
    const target = this.body.encoder.angle(this.#inFeedbackCounts(number))
    this.#target = target
    if (this.#state !== 'enabled') return
    const { lag } = this.conduct
    if (lag === 0) this.#move(t, target)
    else
      this.scheduler.at(t + lag, () => {
        if (this.#state === 'enabled') this.#move(t + lag, target)
      })
    this.#watchdog.sync(t, true)
    if (this.conduct.watched) this.#alarm.at(this.#watchdog.due)
  }

  #move(t: Nanos, target: number): void {
    this.body.motion.advance(t)
    this.body.motion.demand.move(t, target, this.#period)
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
    this.conduct.led()
    this.body.motion.follow(t)
    if (this.#target !== null) this.body.motion.demand.move(t, this.#target, this.#period)
    this.#watchdog.enabled(t, this.#period)
    if (this.conduct.watched) this.#alarm.at(this.#watchdog.due)
  }

  #slow(after: FramesState): void {
    this.#state = 'stopping'
    this.#after = after
    this.#watchdog.left()
    const { motion } = this.body
    this.conduct.slow(motion, () => {
      if (this.#state !== 'stopping') return
      const begun = this.scheduler.now()
      motion.ramp(begun, this.#ramp)
      const look = () => {
        if (this.#state !== 'stopping') return
        const now = this.scheduler.now()
        motion.advance(now)
        if (motion.resting) this.#release(this.#after)
        else this.scheduler.at(now + GRID, look)
      }
      this.scheduler.at(begun + motion.timeToRest, look)
    })
  }

  #release(state: FramesState): void {
    this.#state = state
    this.#watchdog.left()
    const { motion } = this.body
    this.conduct.slow(motion, () => motion.release(this.scheduler.now()))
  }

  /** No setpoint for too long: it stops by itself. */
  #silent(): void {
    const t = this.scheduler.now()
    const lost = this.#watchdog.expire(t)
    if (lost !== undefined && this.conduct.watched) this.#stopBySelf()
    this.#alarm.at(this.#watchdog.due)
  }

  #stopBySelf(): void {
    if (this.#state === 'enabled') this.#slow(this.#codec.map.states.fault.length > 0 ? 'fault' : 'off')
  }

  #beat(t: Nanos, every: Nanos): void {
    this.scheduler.at(t, () => {
      this.#feed(t, this.#jitter === 0 ? 0 : Math.round(this.#jitter * this.#noise.uniform()))
      this.#beat(t + every, every)
    })
  }

  /** Samples now, sends after `delay`. */
  #feed(t: Nanos, delay: Nanos): void {
    const { line, scheduler } = this
    line.feed(scheduler, this.#sample(t), delay, this.#send)
    if (line.twin !== null)
      line.feed(
        scheduler,
        line.twin(() => this.#sample(t)),
        delay,
        this.#send,
      )
  }

  readonly #send = (frame: Frame): void => {
    if (this.#powered && !this.line.silent) this.#port.send(frame)
  }

  #sample(t: Nanos): Frame {
    const { map, feedback } = this.#codec
    const report = (what: Reported): number =>
      feedback.has(what) ? feedback.numberOf(what, this.health.now(what, t)) : 0
    const numbers = {
      position: this.body.encoder.read(this.body.motion.measured(t)),
      torque: feedback.has('torque')
        ? feedback.numberOf('torque', this.body.encoder.sign * this.body.motion.torque(t))
        : 0,
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
