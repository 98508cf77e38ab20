/**
 * The loop that plays a scenario: one call of `tick` a control period, whoever keeps the time. It leads a run through
 * its stages, hands every frame and event to the recording and the judge in one order, and latches the stop when a
 * watch, the gate, a drive, the driver, a bus, the operator or a signal asks for it.
 */
import type { Bus } from '../bus/contract.js'
import type { MockFaults } from '../bus/mock-faults.js'
import type { Clock, Nanos } from '../clock.js'
import type { Driver } from '../driver/contract.js'
import { DrystrokeError } from '../errors.js'
import type {
  BenchEvent,
  Contact,
  EmergencyCategory,
  EndReason,
  Finding,
  OutsideSource,
  OutsideStop,
  Stage,
} from '../files/event.js'
import type { Rig } from '../files/rig.js'
import { type Command, faultPlace, type Scenario } from '../files/scenario.js'
import type { Drive, Notice } from '../link/drive.js'
import { type Cycle, JointLink, type NotSent } from '../link/link.js'
import { Startup, type StartupStep } from '../link/startup.js'
import type { Plant } from '../plant/contract.js'
import { recordedAngle } from '../record/event-fields.js'
import { HeldStop } from '../stop/held.js'
import { type LatchState, latch, mayMove } from '../stop/latch.js'
import { type Confirmation, StopSequence } from '../stop/sequence.js'
import { Approach } from './approach.js'
import { LoggedBuses } from './logged-buses.js'
import { Player } from './player.js'
import type { RunLog } from './run-log.js'

export interface BenchParts {
  readonly rig: Rig
  readonly scenario: Scenario
  readonly seed: number
  readonly clock: Clock
  readonly buses: readonly Bus[]
  readonly driver: Driver
  /** The simulated arms, or null: real ones. */
  readonly plant: Plant | null
  /** Who does the faults of simulated arms in another process; null or left out: there are none. */
  readonly standIn?: Pick<Plant, 'fault'> | null
  /** The rig's emergency-stop box is read: arms are enabled only while it is closed. Left out: simulated arms, which need none. */
  readonly boxed?: boolean
  /** How mock buses are made to fail; left out: real ones. */
  readonly busFaults?: MockFaults
  readonly log: RunLog
  /** Of each joint, the drive that was confirmed (`showDrive`), null: any; left out: any everywhere. */
  readonly drives?: readonly (string | null)[] | null
  /** The approach runs only while `hold` says that a person holds it; left out: it runs. */
  readonly holdToRun?: boolean
}

const STAGE_OF: Record<StartupStep, Stage> = {
  calm: 'setup',
  reset: 'setup',
  configure: 'setup',
  seed: 'seed',
  follow: 'seed',
  enable: 'enable',
  ready: 'approach',
}

/** Cycles in a row whose setpoints a bus may drop before the run is stopped. */
const DROPS = 3
/** s, longest wait for the blades to be parked after the scenario's end. */
const PARK_WITHIN = 30
/** s, longest wait for the drives to leave operation enabled. */
const DISABLE_WITHIN = 2
/** A shutdown that had no effect yet is sent again. */
const REPEAT_AFTER: Nanos = 20e6
/** s beyond the stop time-out after which a stop is looked at as it is, still or not. */
const STOP_WITHIN = 3

const AT_REST: Command = { surge: 0, yaw: 0 }

export class Bench {
  readonly #p: BenchParts
  readonly #buses: LoggedBuses
  readonly #link: JointLink
  readonly #startup: Startup
  readonly #stop: StopSequence
  readonly #held: HeldStop
  readonly #player: Player
  readonly #setpoints: Float64Array
  readonly #witness: Float64Array
  readonly #drops: number[]
  readonly #heartbeatTicks: number
  #approach: Approach | null = null
  readonly #holdToRun: boolean
  #heldNow = false
  #latch: LatchState = 'free'
  #stage: Stage | null = null
  #stageAt: Nanos = 0
  #shutDownAt: Nanos = 0
  #k = 0
  #nextHeartbeat = 0
  #zero: Nanos | null = null
  #command: Command = AT_REST
  #refusedEntry = -1
  #moving = false
  /** Of the box, as last told. */
  #contact: Contact = 'lost'
  #outside: OutsideSource | null = null
  /** What the stage `disable` leads to: a new start, or `rest` and the end. */
  #startsAfter = false
  #endsAs: EndReason = 'completed'
  /** The stop path has still to be proven before anything moves. */
  #unproven: boolean
  /** In the proof: every drive has answered, and the stop takes its power; when the last said that it is off. */
  #letsGo = false
  #offAt: Nanos | null = null
  /** Joints whose drives have said who they are. */
  readonly #identified = new Set<number>()
  #ended = false

  constructor(parts: BenchParts) {
    this.#p = parts
    const { rig, scenario, log } = parts
    this.#buses = new LoggedBuses(parts.buses, parts.clock, log)
    this.#link = new JointLink(rig, this.#buses.buses)
    for (const d of this.#link.drives) d.confirmed = parts.drives?.[d.joint.index] ?? null
    this.#startup = new Startup(rig, this.#link)
    this.#stop = new StopSequence(rig, this.#link)
    this.#held = new HeldStop(rig, this.#link)
    this.#player = new Player(scenario)
    this.#holdToRun = parts.holdToRun ?? false
    const real = rig.buses.some((bus) => bus.address.kind !== 'mock')
    this.#unproven = rig.stop.prove === 'always' || real
    this.#setpoints = new Float64Array(rig.joints.length)
    this.#witness = new Float64Array(rig.joints.length)
    this.#drops = rig.buses.map(() => 0)
    this.#heartbeatTicks = Math.max(1, Math.round(rig.link.ourHeartbeat / rig.control.period))
    parts.buses.forEach((bus, i) => {
      bus.onFrame((frame, t) => {
        log.frame(i, frame, t, false)
        this.#link.onFrame(i, frame, t)
      })
      bus.onReport(({ trouble, ...report }, t) => {
        const place = rig.buses[i]!.name
        this.#event({ kind: 'bus', t, place, ...report, trouble: trouble ?? 'none' })
      })
    })
    log.event({ kind: 'begin', t: this.#now, rig: rig.name, scenario: scenario.name, seed: parts.seed })
  }

  get ended(): boolean {
    return this.#ended
  }

  get stage(): Stage | null {
    return this.#stage
  }

  /** s since scenario zero, or null before it. */
  get scenarioTime(): number | null {
    return this.#zero === null ? null : (this.#now - this.#zero) / 1e9
  }

  /** A watch has found something; it may ask for a stop, whose frames are handed over before this returns. */
  onFinding(finding: Finding): void {
    // The stop first: the record of why must not come before it.
    const { watch, place, says, stop } = finding
    if (stop === 2) this.#latchHeld(watch, place, says)
    else if (stop !== null) this.#latchStop(watch, place, says, stop)
    this.#event({ kind: 'finding', ...finding })
  }

  /** The emergency-stop box has opened, closed, or cannot be read. Closing it permits a release and does nothing else. */
  onContact(contact: Contact): void {
    if (this.#ended) return
    this.#contact = contact
    // Before anything is enabled it may still settle; #startUp looks at it then.
    if (this.#stage !== null && this.#stage !== 'setup') this.#heedBox()
    this.#event({ kind: 'contact', t: this.#now, place: this.#boxPlace, contact })
  }

  /**
   * Something outside the scenario wants the arms stopped: they come to rest, and the run ends, unless the scenario expects
   * just this. The first who asks is told of; for the others it is done already.
   */
  onStop({ source, says }: OutsideStop): void {
    if (this.#ended || this.#outside !== null) return
    const { expect } = this.#p.scenario
    const expected = expect.outcome === 'stop' && expect.by === source && this.#zero !== null
    if (!expected) this.#outside = source
    this.#latchStop(source, '', says)
  }

  /** A person holds the approach, or has let go of it: it goes on, or comes to rest where it is. */
  hold(held: boolean): void {
    if (!this.#holdToRun || held === this.#heldNow) return
    this.#heldNow = held
    if (this.#stage === 'approach') this.#event({ kind: 'hold', t: this.#now, held })
  }

  /** SIGINT, SIGTERM, SIGHUP. */
  onSignal(name: string): void {
    this.onStop({ source: 'signal', says: `${name} was received` })
  }

  /** What each drive has confirmed of the stop in force. */
  confirmations(): readonly Confirmation[] {
    return this.#stop.confirmations(this.#now)
  }

  /** `JointLink.stopCounts`, for whoever would have to go on with a stop. */
  get stopCounts(): JointLink['stopCounts'] {
    return this.#link.stopCounts
  }

  /** Something of ours threw: a watch, the driver, the disk behind the recording. The arms stop, whatever it was. */
  onDefect(error: unknown): void {
    const says = error instanceof Error ? error.message : String(error)
    this.#latchStop('bench', '', `the bench itself failed: ${says}`)
  }

  /**
   * One control period.
   * @param late ns since the first deadline that was not served yet
   * @param missed ticks that were left out just before this one
   */
  tick(late: Nanos = 0, missed = 0): void {
    if (this.#ended) return
    const t = this.#now
    this.#k += missed
    this.#moving = false
    if (this.#stage === null) {
      this.#enter('setup')
      this.#startup.begin(t)
    }
    const cyclic = this.#startup.cyclic
    if (cyclic) this.#refused(this.#link.sync())
    this.#playScenario()
    this.#advance(t, cyclic)
    if (this.#k >= this.#nextHeartbeat) {
      this.#refused(this.#link.heartbeat())
      this.#nextHeartbeat = (Math.floor(this.#k / this.#heartbeatTicks) + 1) * this.#heartbeatTicks
    }
    if (cyclic) this.#logTick(t, late)
    this.#k++
  }

  get #now(): Nanos {
    return this.#p.clock.now()
  }

  #event(e: BenchEvent): void {
    this.#p.log.event(e)
  }

  /** Faults, operator actions and the command that are due. */
  #playScenario(): void {
    const s = this.scenarioTime
    if (s === null) return
    const { rig, plant, standIn, busFaults } = this.#p
    for (const { fault, begins } of this.#player.faults(s)) {
      // What a bus says of it comes after it.
      this.#event({ kind: 'fault', t: this.#now, fault: fault.fault, place: faultPlace(fault, rig), begins })
      if ('bus' in fault) busFaults?.fault(fault, begins)
      else (plant ?? standIn)?.fault(fault, begins)
    }
    for (const { action } of this.#player.actions(s)) this.#operate(action)
    const due = this.#player.over(s) ? AT_REST : this.#player.command(s)
    if (due.surge === this.#command.surge && due.yaw === this.#command.yaw) return
    this.#command = due
    if (mayMove(this.#latch)) this.#event({ kind: 'command', t: this.#now, ...due })
    else if (this.#player.entry(s) !== this.#refusedEntry) {
      // Once for each command, not for each step of its ramp.
      this.#refusedEntry = this.#player.entry(s)
      this.#event({ kind: 'refused', t: this.#now, what: 'command' })
    }
  }

  #operate(action: 'stop' | 'release' | 'reset' | 'start'): void {
    const t = this.#now
    this.#event({ kind: 'operator', t, action })
    if (action === 'stop') {
      this.#latchStop('operator', '', 'the operator asked for a stop')
      return
    }
    const early = (action === 'start' && this.#stage !== 'stopped') || (action === 'release' && this.#boxOpen)
    // A stop that came from outside the scenario is not the scenario's to lift.
    const next = early || this.#outside !== null ? null : latch(this.#latch, action)
    if (next === null) {
      this.#event({ kind: 'refused', t, what: action })
      return
    }
    this.#latch = next
    if (action === 'release' || action === 'reset') this.#event({ kind: action, t })
    else if (this.#held.on) this.#letGo(t, 'start')
    else this.#startAnew(t)
  }

  #startAnew(t: Nanos): void {
    this.#startsAfter = false
    // After a held stop setpoints still flow: none may leave before the start-up has measured anew.
    this.#link.halt()
    this.#stop.clear()
    this.#held.end()
    this.#startup.begin(t)
    this.#enter('setup')
  }

  #advance(t: Nanos, cyclic: boolean): void {
    switch (this.#stage) {
      case 'setup':
      case 'seed':
      case 'enable':
        this.#startUp(t, cyclic)
        return
      case 'prove':
        this.#prove(t)
        return
      case 'approach':
        this.#moveToPark(t)
        return
      case 'play':
        if (this.#player.over(this.scenarioTime!) || this.#p.driver.done) this.#enter('park')
        this.#drive(t)
        return
      case 'park':
        this.#drive(t)
        if (this.#stage !== 'park') return
        if (this.#p.driver.parked) {
          this.#enter('disable')
          this.#shutDown(t)
        } else if (this.#inStage(t) > PARK_WITHIN) {
          this.#latchStop('driver', '', `the blades were not parked within ${PARK_WITHIN} s`)
        }
        return
      case 'disable':
        this.#afterCycle(this.#link.shadow(t))
        if (this.#stage === 'disable') this.#waitForOff(t)
        return
      case 'rest':
        if (this.#inStage(t) >= this.#p.rig.stop.sagWindow) this.#end(this.#endsAs)
        return
      case 'stopping':
      case 'stopped':
        if (this.#held.on) this.#hold(t)
        else this.#standStill(t, cyclic)
        return
    }
  }

  #shutDown(t: Nanos): void {
    this.#shutDownAt = t
    this.#refused(this.#link.control('shutdown'))
  }

  #waitForOff(t: Nanos): void {
    const on = this.#link.drives.find((d) => !d.offSince(this.#stageAt))
    if (!on && this.#startsAfter) this.#startAnew(t)
    else if (!on) this.#enter('rest')
    else if (this.#inStage(t) > DISABLE_WITHIN) {
      this.#latchStop(
        'drive',
        on.joint.name,
        `the drive did not leave operation enabled within ${DISABLE_WITHIN} s`,
      )
    } else if (t - this.#shutDownAt > REPEAT_AFTER) this.#shutDown(t)
  }

  get #boxOpen(): boolean {
    return this.#p.boxed === true && this.#contact !== 'closed'
  }

  get #boxPlace(): string {
    return this.#p.rig.stopBox?.device ?? ''
  }

  /** @returns the box is not closed, and the run is stopped */
  #heedBox(): boolean {
    if (!this.#boxOpen) return false
    const says =
      this.#contact === 'open'
        ? 'the emergency-stop box is open: pressed, or unplugged'
        : 'the emergency-stop box cannot be read'
    this.#latchStop('box', this.#boxPlace, says)
    return true
  }

  #startUp(t: Nanos, cyclic: boolean): void {
    const refusal = this.#startup.tick(t)
    this.#tell(this.#startup.notices)
    if (refusal) {
      const place = refusal.drive?.joint.name ?? ''
      const { says, expected, found } = refusal
      this.#latchStop('drive', place, says)
      this.#event({ kind: 'refusal', t, place, says, expected, found })
      return
    }
    if (cyclic) this.#afterCycle(this.#link.shadow(t))
    if (this.#stage === 'stopping') return
    const stage = STAGE_OF[this.#startup.step]
    if (stage === this.#stage) return
    if (stage === 'seed') this.#tellIdentities(t)
    if (this.#heedBox()) return
    if (stage === 'approach' && this.#unproven) {
      this.#beginProof()
      return
    }
    if (stage === 'approach') {
      this.#link.held(this.#setpoints)
      const { rig, driver } = this.#p
      driver.standAt?.(this.#setpoints)
      const via = driver.standAt ? [] : rig.motion.via
      this.#approach = new Approach(rig, [this.#setpoints, ...via, driver.parkPose], !this.#holdToRun)
    }
    this.#enter(stage)
  }

  /** Once a run: later starts are held to it, where it was confirmed. */
  #tellIdentities(t: Nanos): void {
    for (const { joint, identity } of this.#link.drives) {
      if (identity === null || this.#identified.has(joint.index)) continue
      this.#identified.add(joint.index)
      this.#event({ kind: 'identity', t, place: joint.name, drive: identity })
    }
  }

  /**
   * At standstill, enabled, before anything has moved. Setpoints still flow: a drive that stops because they ceased has
   * not shown that it obeys.
   */
  #beginProof(): void {
    this.#enter('prove')
    this.#offAt = null
    this.#letsGo = false
    this.#refused(this.#link.control('quick stop'))
  }

  #prove(t: Nanos): void {
    const { stop } = this.#p.rig
    const { drives } = this.#link
    if (!this.#letsGo) {
      this.#afterCycle(this.#link.shadow(t))
      if (this.#stage !== 'prove') return
      const mute = drives.find((d) => !answersQuickStop(d, this.#stageAt))
      if (mute && this.#inStage(t) > stop.answer) {
        const says = `the drive did not answer the quick stop that proves the stop path within ${stop.answer * 1000} ms`
        this.#latchStop('drive', mute.joint.name, says)
      }
      if (mute) return
      this.#letsGo = true
      this.#buses.logAfter(() => this.#stop.begin(1, t))
      return
    }
    this.#stop.tick(t)
    this.#tell(this.#stop.notices)
    const on = drives.find((d) => !d.offSince(this.#stageAt))
    if (on && this.#inStage(t) > stop.timeout + DISABLE_WITHIN)
      this.#latchStop('drive', on.joint.name, 'the drive kept its torque when the stop path was proven')
    if (on) return
    this.#offAt ??= t
    if (t - this.#offAt < stop.sagWindow * 1e9) return
    this.#unproven = false
    this.#startAnew(t)
  }

  #moveToPark(t: Nanos): void {
    const there = this.#approach!.step(this.#setpoints, !this.#holdToRun || this.#heldNow)
    this.#send(t)
    if (!there || this.#stage !== 'approach') return
    this.#p.driver.begin()
    if (this.#zero === null) this.#zero = t
    else this.#player.forget(this.scenarioTime!)
    this.#command = AT_REST
    this.#enter('play')
  }

  #drive(t: Nanos): void {
    try {
      this.#p.driver.step(this.#command, this.#setpoints)
    } catch (error) {
      if (!(error instanceof DrystrokeError)) throw error
      const place = String(error.context.joint ?? error.context.arm ?? '')
      this.#latchStop('driver', place, error.message)
      this.#event({ kind: 'driver', t, code: error.code, place, says: error.message })
      return
    }
    this.#send(t)
  }

  #send(t: Nanos): void {
    this.#moving = true
    this.#afterCycle(this.#link.cycle(t, this.#setpoints))
  }

  /** What the gate or the buses did not let through. */
  #afterCycle({ breach, dropped, notSent }: Cycle): void {
    if (breach) {
      const { joint, quantity, value, limit, unit } = breach
      const { name: place, wire } = this.#p.rig.joints[joint]!
      const jump = quantity === 'setpoint speed' || quantity === 'setpoint acceleration'
      if (jump && this.#drops[wire.bus]! > 0) {
        // The step from the last setpoint that was sent is too long because one in between was not.
        const says = 'the bus did not send the setpoints of the last cycle in time'
        this.#latchStop('bus', this.#p.rig.buses[wire.bus]!.name, says)
        return
      }
      this.#latchStop('gate', place, `the last gate held back a setpoint: ${quantity}`)
      this.#event({ kind: 'gate', t: this.#now, place, quantity, value, limit, unit })
      return
    }
    this.#refused(notSent)
    for (let bus = 0; bus < this.#drops.length; bus++) {
      this.#drops[bus] = dropped.includes(bus) ? this.#drops[bus]! + 1 : 0
      if (this.#drops[bus]! > DROPS) {
        const says = `the bus did not send the setpoints of ${DROPS} cycles in time`
        this.#latchStop('bus', this.#p.rig.buses[bus]!.name, says)
      }
    }
  }

  #refused(notSent: readonly NotSent[]): void {
    for (const { bus, reason } of notSent) {
      this.#latchStop('bus', this.#p.rig.buses[bus]!.name, `the bus refused a frame: ${reason}`)
    }
  }

  #tell(notices: Notice[]): void {
    for (const n of notices.splice(0)) {
      const t = this.#now
      if ('drive' in n) this.#event({ kind: 'notice', t, place: n.drive.joint.name, says: n.says })
      else this.#event({ kind: 'unchecked', t, place: this.#p.rig.buses[n.bus]!.name, says: n.says })
    }
  }

  /** Whoever asks: an emergency stop is category 1, or 0 if the rig says so, and never one that keeps the torque on. */
  #latchStop(
    source: string,
    place: string,
    says: string,
    category: EmergencyCategory = this.#p.rig.stop.category,
  ): void {
    if (this.#ended) return
    const t = this.#now
    const escalation: BenchEvent = { kind: 'escalation', t, source, place, category, says }
    const inForce = this.#latch === 'stopped'
    if (inForce && !this.#held.on) {
      if (this.#stop.again(category, t)) this.#event(escalation)
      return
    }
    this.#latch = 'stopped'
    this.#held.end()
    // Frames first, to every bus: nothing, not even the record of it, comes before the stop.
    const withdrawn = this.#buses.logAfter(() => this.#stop.begin(category, t))
    withdrawn.forEach((frames, bus) => {
      if (frames > 0) this.#event({ kind: 'withdrawn', t, place: this.#p.rig.buses[bus]!.name, frames })
    })
    this.#event(inForce ? escalation : { kind: 'stop', t, source, place, category, says })
    this.#enter('stopping')
  }

  /** A watch asks for a stop that keeps the torque on. Where the arms cannot be held it is an emergency stop. */
  #latchHeld(watch: string, place: string, says: string): void {
    if (this.#ended || (this.#latch === 'stopped' && this.#held.on)) return
    const moving = this.#stage === 'approach' || this.#stage === 'play' || this.#stage === 'park'
    if (!moving && !(this.#held.on && this.#stage === 'stopped')) {
      this.#latchStop(watch, place, says)
      return
    }
    const t = this.#now
    this.#latch = 'stopped'
    this.#held.begin(t)
    this.#event({ kind: 'stop', t, source: watch, place, category: 2, says })
    this.#enter('stopping')
  }

  #standStill(t: Nanos, cyclic: boolean): void {
    // Before cycles run no feedback comes by itself: drives that were never enabled are asked whether they are off.
    if (!cyclic) this.#link.inquire(t)
    this.#stop.tick(t)
    this.#tell(this.#stop.notices)
    if (this.#stage === 'stopping') {
      if (this.#stop.still(t) || this.#inStage(t) > this.#p.rig.stop.timeout + STOP_WITHIN)
        this.#enter('stopped')
      return
    }
    const reason = this.#overAfterStop(t)
    if (reason) this.#end(reason)
  }

  #hold(t: Nanos): void {
    const givenUp = this.#held.step(t, this.#setpoints)
    if (givenUp) {
      this.#latchStop('stop', givenUp.place, `the held stop was given up: ${givenUp.says}`)
      return
    }
    this.#send(t)
    if (!this.#held.on) return
    if (this.#stage === 'stopping') {
      if (this.#held.still) this.#enter('stopped')
      return
    }
    const reason = this.#overAfterStop(t)
    if (reason) this.#letGo(t, reason)
  }

  /** Why the run is over once a stop has been watched to its end, or null: it goes on. */
  #overAfterStop(t: Nanos): EndReason | null {
    if (this.#inStage(t) < this.#p.rig.stop.sagWindow) return null
    if (this.#outside === 'signal' || this.#outside === 'parent') return 'signal'
    if (this.#outside !== null) return 'operator'
    if (this.#p.scenario.expect.outcome !== 'stop' || this.#zero === null) return 'stopped'
    // A stop that the scenario wants is watched to the scenario's end: nothing may move any more.
    return this.#player.over(this.scenarioTime!) ? 'completed' : null
  }

  /** Arms that are held lose their torque before anything else happens, as at the end of a run. */
  #letGo(t: Nanos, next: EndReason | 'start'): void {
    this.#startsAfter = next === 'start'
    if (next !== 'start') this.#endsAs = next
    this.#enter('disable')
    this.#shutDown(t)
  }

  #end(reason: EndReason): void {
    this.#link.network('pre-operational')
    this.#event({ kind: 'end', t: this.#now, reason })
    this.#ended = true
  }

  #enter(stage: Stage): void {
    this.#stage = stage
    this.#stageAt = this.#now
    this.#event({ kind: 'stage', t: this.#now, stage })
  }

  #inStage(t: Nanos): number {
    return (t - this.#stageAt) / 1e9
  }

  #logTick(t: Nanos, late: Nanos): void {
    if (this.#ended) return
    this.#p.plant?.witness(t, this.#witness)
    this.#event({
      kind: 'tick',
      t,
      k: this.#k,
      late,
      // Rounded as the recording rounds, so that the watches see now what a judge will read later.
      setpoints: this.#moving ? Array.from(this.#setpoints, recordedAngle) : null,
      witness: this.#p.plant ? Array.from(this.#witness, recordedAngle) : null,
    })
  }
}

function answersQuickStop(drive: Drive, since: Nanos): boolean {
  return drive.offSince(since) || (drive.state === 'quick stop active' && drive.feedbackAt > since)
}
