/**
 * One simulated arm joint with its CiA 402 drive: composes node, dictionary, drive state machine, joint,
 * encoder, watchdog and faults. Units on the wire: positions in counts, 6085h in counts/s2, torque in
 * thousandths of the rated torque.
 *
 * At power-on every object that the harness must set has a value that it does not want, so that a forgotten
 * write shows: quick stop stays (605Ah = 6) and is weak (6085h = 1 rad/s2), faults let the joint coast (605Eh
 * = 0), following error is not watched, nothing is done on loss of link, no heartbeat, interpolation over 1
 * ms, statusword and controlword alone mapped.
 *
 * Not modelled: what the parts say at their tops; drive limits of position and speed (607Dh, 607Fh).
 */
import type { Bus } from '../bus/contract.js'
import { type Nanos, nanos, type Scheduler } from '../clock.js'
import { rangeOf } from '../files/frame-map.js'
import type { Cia402Joint, DriveReports, Rig } from '../files/rig.js'
import { type RandomStream, randomStream } from '../random.js'
import { COB, MODE_CSP, OBJECT, PDO_INVALID } from '../wire/cia402/objects.js'
import { reportEntry } from '../wire/cia402/reports.js'
import { ABORT } from '../wire/cia402/sdo.js'
import {
  driveCommand,
  FOLLOWING_ERROR_BIT,
  FOLLOWS_BIT,
  REMOTE_BIT,
  statusBits,
  VOLTAGE_BIT,
} from '../wire/cia402/state.js'
import { Dictionary, type Entry, entry, plainObject, type WrittenBy, within } from './dictionary.js'
import { AT_POWER_ON, type DriveInput, type DriveStatus, driveStep } from './drive.js'
import { Encoder } from './encoder.js'
import { Conduct } from './faults/conduct.js'
import type { Body, FaultyDrive } from './faults/faulty.js'
import { LineFaults, type Streams } from './faults/line.js'
import { DriveHealth } from './health.js'
import { GRID, JointMotion } from './joint.js'
import type { Mechanism } from './mechanism.js'
import { type Application, CanNode } from './node.js'
import { Pdo } from './pdo.js'
import type { Supply } from './supply.js'
import { Timer } from './timer.js'
import { LinkWatchdog, LOSS_CODE, type Loss } from './watchdog.js'

/**
 * PDOs in each direction; the first is mapped at power-on, the others do not exist until they are written.
 */
const PDOS = 4
/** 1000h: profile 402, servo drive. */
const SERVO_DRIVE = 0x00020192
/** 100Ah:0 as a key of texts, and what it says: longer than one segment, as firmware versions are. */
const FIRMWARE_AT = OBJECT.firmware.index * 256
const FIRMWARE = 'simulated 1.0'
const FOLLOWING_ERROR = 0x8611
const WINDOW_OFF = 0xffffffff
/** ns in 1 s, 0.1 s, ... 1 us: the exponents 0 to -6 of 60C2h. */
const NS_BY_EXPONENT = [1e9, 1e8, 1e7, 1e6, 1e5, 1e4, 1e3]
// Error register (1001h): bit 0 generic, bit 4 communication, bit 5 of the device profile.
const BY_PROFILE = 0x21
const BY_COMMUNICATION = 0x11

export class SimulatedDrive implements Application, FaultyDrive {
  readonly scheduler: Scheduler
  readonly streams: Streams
  readonly line: LineFaults
  readonly conduct: Conduct
  readonly own: Body
  body: Body
  readonly #joint: Cia402Joint
  readonly health: DriveHealth
  readonly #node: CanNode
  readonly #noise: RandomStream
  readonly #delay: Nanos
  readonly #jitter: Nanos
  readonly #watchdog = new LinkWatchdog()
  readonly #alarm: Timer
  readonly #o: ReturnType<typeof driveObjects>
  #status: DriveStatus = AT_POWER_ON
  #statusword = 0
  #errorRegister = 0
  #follows = false
  #followingError = false
  /** Since when the following error has been outside its window; -1: it is inside. */
  #outsideSince: Nanos = -1
  #targetGiven = false
  #targetPending = false
  #fresh = false

  /**
   * @param port this drive's own place on its bus; @param mechanism that takes the joint along, or null: it moves for itself
   * @param supply that it draws its power from; @param reports that its bus expects of it, or null
   */
  constructor(
    rig: Pick<Rig, 'joints' | 'simulation'>,
    joint: Cia402Joint,
    scheduler: Scheduler,
    port: Bus,
    seed: number,
    mechanism: Mechanism | null,
    supply: Supply,
    reports: DriveReports | null,
  ) {
    const { servo, feedback, brakes, sag, watchdog, joints } = rig.simulation
    const truth = joints[joint.index]!
    this.scheduler = scheduler
    this.#joint = joint
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
    this.#jitter = feedback.jitter * 1e9
    this.#alarm = new Timer(scheduler, () => this.#linkSilent())

    const dictionary = new Dictionary()
    const { node } = joint.wire
    this.#o = driveObjects(joint, truth.countsPerRadian)
    this.#connect()
    dictionary.add(Object.values(this.#o))
    dictionary.add(this.#reported(reports))
    dictionary.add(identity(node, () => this.#errorRegister))
    dictionary.texts.set(FIRMWARE_AT, FIRMWARE)
    const find = dictionary.find.bind(dictionary)
    const pdos = (direction: 'receive' | 'transmit', base: number, first: Entry) =>
      Array.from({ length: PDOS }, (_, i) => {
        const defaults = {
          cobId: base + 0x100 * i + node + (i === 0 ? 0 : PDO_INVALID),
          mapped: i === 0 ? [first.object] : [],
        }
        const pdo = new Pdo(direction, i + 1, defaults, find, () => this.#node.route())
        dictionary.add(pdo.entries)
        return pdo
      })
    const receive = pdos('receive', COB.setpoint, this.#o.controlword)
    const transmit = pdos('transmit', COB.feedback, this.#o.statusword)
    for (const pdo of [...receive, ...transmit]) pdo.compile()
    this.#node = new CanNode({
      id: node,
      port,
      scheduler,
      dictionary,
      receive,
      transmit,
      line: this.line,
      application: this,
    })
    this.#node.onConsumerTime(() => this.#watchdog.consume(this.#node.consumerTime))
  }

  /** True position, rad. */
  position(t: Nanos): number {
    return this.own.motion.position(t)
  }

  get powered(): boolean {
    return this.own.motion.powered
  }

  get told(): number {
    return this.#o.targetPosition.value
  }

  power(on: boolean): void {
    this.#node.power(on)
  }

  trip(code: number): void {
    this.#fail(code, BY_PROFILE)
  }

  emergency(code: number): void {
    this.#node.emergency(code, BY_PROFILE)
  }

  twinBoots(): void {
    this.#node.twinBoots()
  }

  booted(): void {
    const { zeroLost } = this.conduct
    if (zeroLost !== 0) this.body.motion.shiftEncoder(this.scheduler.now(), zeroLost)
    this.#apply({ kind: 'self-test passed' })
  }

  reset(): void {
    const t = this.scheduler.now()
    this.body.motion.release(t)
    this.body.motion.limitTorque(t, this.#joint.limits.torque)
    this.#status = AT_POWER_ON
    this.#errorRegister = 0
    this.#follows = false
    this.#followingError = false
    this.#targetGiven = false
    this.#targetPending = false
    this.#watchdog.left()
  }

  heartbeat(t: Nanos): void {
    if (!this.conduct.watched) return
    this.#watchdog.heartbeat(t)
    this.#alarm.at(this.#watchdog.due)
  }

  feedbackDelay(): Nanos {
    return this.#delay + (this.#jitter === 0 ? 0 : Math.round(this.#jitter * this.#noise.uniform()))
  }

  sync(t: Nanos): void {
    const fresh = this.#fresh
    this.#fresh = false
    if (this.#status.state !== 'operation enabled') return
    this.body.motion.advance(t)
    this.#checkFollowing(t)
    if (this.#status.state !== 'operation enabled') return
    if (this.#targetPending) this.#accept(t)
    const loss = this.#watchdog.sync(t, fresh)
    if (loss !== undefined && this.conduct.watched) this.#lost(loss)
  }

  /** The objects that the rig names: what is where in a real drive is its maker's. */
  #reported(reports: DriveReports | null): Entry[] {
    return (reports?.objects ?? []).map((object) => {
      const made = entry(reportEntry(object), 0, 'read', 'transmit')
      const { what, scale, offset } = object
      const [least, most] = rangeOf({ length: 8 * object.bytes, signed: object.signed })
      made.live = () => {
        const value = Math.round((this.health.now(what, this.scheduler.now()) - offset) / scale)
        return Math.min(Math.max(value, least), most)
      }
      return made
    })
  }

  /** Gives the objects their checks, their effects and their live values. */
  #connect(): void {
    const o = this.#o
    const now = () => this.scheduler.now()
    o.controlword.written = (word) => {
      if (!this.conduct.misses(driveCommand(word))) this.#apply({ kind: 'controlword', word })
    }
    o.statusword.live = () => this.#word()
    o.modeDisplay.live = () => o.mode.value
    o.mode.check = (mode) => {
      if (mode !== 0 && mode !== MODE_CSP) return ABORT.outOfRange
      return this.#status.state === 'operation enabled' && mode !== o.mode.value ? ABORT.state : 0
    }
    o.actualPosition.live = () => this.body.encoder.read(this.body.motion.measured(now()))
    o.actualTorque.live = () =>
      Math.round(
        (1000 * this.body.encoder.sign * this.body.motion.torque(now())) / this.#joint.wire.ratedTorque,
      )
    o.targetPosition.written = (_, by) => this.#aim(by)
    o.maxTorque.written = (thousandths) =>
      this.body.motion.limitTorque(now(), (thousandths / 1000) * this.#joint.wire.ratedTorque)
  }

  /** A new 607Ah: acts at once, or at the next SYNC. */
  #aim(by: WrittenBy): void {
    this.#targetGiven = true
    this.#targetPending = true
    if (by !== 'sdo') this.#fresh = true
    if (by === 'at once' && this.#status.state === 'operation enabled') this.#accept(this.scheduler.now())
  }

  #accept(t: Nanos): void {
    this.#targetPending = false
    this.body.motion.advance(t)
    const target = this.body.encoder.angle(this.#o.targetPosition.value)
    const { lag } = this.conduct
    if (lag === 0) this.body.motion.demand.move(t, target, this.#period())
    else this.#moveLater(t + lag, target)
    if (this.#follows) return
    this.#follows = true
    this.#changed()
  }

  #moveLater(t: Nanos, target: number): void {
    this.scheduler.at(t, () => {
      if (this.#status.state !== 'operation enabled') return
      this.body.motion.advance(t)
      this.body.motion.demand.move(t, target, this.#period())
    })
  }

  /** 60C2h, ns */
  #period(): Nanos {
    return this.#o.periodValue.value * NS_BY_EXPONENT[-this.#o.periodExponent.value]!
  }

  #checkFollowing(t: Nanos): void {
    const window = this.#o.followingWindow.value
    const error =
      Math.abs(this.body.motion.demand.at(t) - this.body.motion.measured(t)) *
      this.body.encoder.countsPerRadian
    if (window === WINDOW_OFF || error <= window) {
      this.#outsideSince = -1
      return
    }
    if (this.#outsideSince < 0) this.#outsideSince = t
    if (t - this.#outsideSince < this.#o.followingTimeout.value * 1e6) return
    this.#followingError = true
    this.#fail(FOLLOWING_ERROR, BY_PROFILE)
  }

  #fail(code: number, register: number): void {
    this.#errorRegister = register
    this.#node.emergency(code, register)
    this.#apply({ kind: 'fault' })
  }

  #linkSilent(): void {
    const loss = this.#watchdog.expire(this.scheduler.now())
    if (loss !== undefined && this.conduct.watched) this.#lost(loss)
    this.#alarm.at(this.#watchdog.due)
  }

  /**
   * Loss of link: emergency, the drive's own stop by 6007h, and for the heartbeat the node's retreat by
   * 1029h.
   */
  #lost(loss: Loss): void {
    this.#node.emergency(LOSS_CODE[loss], BY_COMMUNICATION)
    if (this.#o.abortConnection.value === 1) this.#errorRegister = BY_COMMUNICATION
    this.#apply({ kind: 'link lost' })
    if (loss === 'heartbeat') this.#node.retreat(this.#o.errorBehaviour.value)
  }

  #apply(input: DriveInput): void {
    const o = this.#o
    const before = this.#status
    const after = driveStep(before, input, {
      mode: o.mode.value,
      quickStop: o.quickStopOption.value,
      faultReaction: o.faultReactionOption.value,
      linkLost: o.abortConnection.value,
    })
    if (after === before) return
    this.#status = after
    if (after.motion !== before.motion) this.#actuate()
    if (after.state !== before.state) this.#entered(before)
    this.#changed()
  }

  #actuate(): void {
    const { motion } = this.#status
    if (motion === 'follow' || motion === 'hold') {
      this.conduct.led()
      this.body.motion.follow(this.scheduler.now())
    } else this.conduct.slow(this.body.motion, () => this.#slow(motion))
  }

  #slow(how: 'free' | 'ramp' | 'limit'): void {
    const t = this.scheduler.now()
    const { motion, encoder } = this.body
    if (how === 'free') motion.release(t)
    else {
      const deceleration = this.#o.quickStopDeceleration.value / encoder.countsPerRadian
      motion.ramp(t, how === 'ramp' ? deceleration : Number.POSITIVE_INFINITY)
      this.#awaitRest(t)
    }
  }

  #entered(before: DriveStatus): void {
    const t = this.scheduler.now()
    const { state } = this.#status
    this.#follows = false
    if (state === 'operation enabled') {
      this.#outsideSince = -1
      // An old 607Ah counts: a host that has not refreshed it makes the arm jump at the first SYNC.
      this.#targetPending = this.#targetGiven
      this.#watchdog.enabled(t, this.#period())
      if (this.conduct.watched) this.#alarm.at(this.#watchdog.due)
    } else if (before.state === 'operation enabled') {
      this.#watchdog.left()
    } else if (before.state === 'fault') {
      this.#errorRegister = 0
      this.#followingError = false
      this.#node.emergency(0, 0)
    }
  }

  /** Tells the state machine when a ramp begun at `t` has ended, unless something else has come between. */
  #awaitRest(t: Nanos): void {
    const ramp = this.#status.motion
    const begun = this.#status.state
    const look = () => {
      if (this.#status.motion !== ramp || this.#status.state !== begun) return
      this.body.motion.advance(this.scheduler.now())
      if (this.body.motion.resting) this.#apply({ kind: 'standstill' })
      else this.scheduler.at(this.scheduler.now() + GRID, look)
    }
    this.scheduler.at(t + this.body.motion.timeToRest, look)
  }

  #word(): number {
    const { state } = this.#status
    if (state === 'not ready to switch on') return statusBits(state)
    return (
      statusBits(state) |
      VOLTAGE_BIT |
      REMOTE_BIT |
      (this.#follows ? FOLLOWS_BIT : 0) |
      (this.#followingError ? FOLLOWING_ERROR_BIT : 0)
    )
  }

  #changed(): void {
    const word = this.#word()
    if (word === this.#statusword) return
    this.#statusword = word
    this.#node.changed()
  }
}

/** The drive's objects with their values at power-on. */
function driveObjects(joint: Cia402Joint, countsPerRadian: number) {
  const objects = {
    deviceType: entry(OBJECT.deviceType, SERVO_DRIVE, 'read'),
    errorBehaviour: entry(OBJECT.errorBehaviour, 1),
    abortConnection: entry(OBJECT.abortConnection, 0),
    controlword: entry(OBJECT.controlword, 0, 'write', 'receive'),
    statusword: entry(OBJECT.statusword, 0, 'read', 'transmit'),
    quickStopOption: entry(OBJECT.quickStopOption, 6),
    faultReactionOption: entry(OBJECT.faultReactionOption, 0),
    mode: entry(OBJECT.mode, 0, 'write', 'receive'),
    modeDisplay: entry(OBJECT.modeDisplay, 0, 'read', 'transmit'),
    actualPosition: entry(OBJECT.actualPosition, 0, 'read', 'transmit'),
    followingWindow: entry(OBJECT.followingWindow, WINDOW_OFF),
    followingTimeout: entry(OBJECT.followingTimeout, 0),
    maxTorque: entry(OBJECT.maxTorque, 3000),
    ratedTorque: entry(OBJECT.ratedTorque, Math.round(joint.wire.ratedTorque * 1000), 'read'),
    actualTorque: entry(OBJECT.actualTorque, 0, 'read', 'transmit'),
    targetPosition: entry(OBJECT.targetPosition, 0, 'write', 'receive'),
    quickStopDeceleration: entry(OBJECT.quickStopDeceleration, Math.round(countsPerRadian)),
    periodValue: entry(OBJECT.periodValue, 1),
    periodExponent: entry(OBJECT.periodExponent, -3),
  }
  objects.errorBehaviour.check = within(0, 2)
  objects.abortConnection.check = within(0, 3)
  objects.quickStopOption.check = within(0, 8)
  objects.faultReactionOption.check = within(0, 4)
  objects.maxTorque.check = within(1, 65535)
  objects.quickStopDeceleration.check = within(1, 0xffffffff)
  objects.periodValue.check = within(1, 255)
  objects.periodExponent.check = within(-6, 0)
  return objects
}

/** Entries that say what the device is, and how many entries each record has. */
function identity(node: number, errorRegister: () => number): Entry[] {
  const register = entry(plainObject(0x1001, 0, 1), 0, 'read', 'transmit')
  register.live = errorRegister
  const highest: [number, number][] = [
    [OBJECT.consumerHeartbeat.index, 1],
    [0x1018, 4],
    [OBJECT.errorBehaviour.index, 1],
    [OBJECT.periodValue.index, 2],
  ]
  return [
    register,
    ...highest.map(([index, sub]) => entry(plainObject(index, 0, 1), sub, 'read')),
    // Vendor 0: nobody's. Product, revision and serial number are the simulation's own.
    ...[0, 402, 1, node].map((value, i) => entry(plainObject(0x1018, i + 1, 4), value, 'read')),
  ]
}
