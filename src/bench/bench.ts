/**
 * The loop that plays a scenario: one call of `tick` a control period, whoever keeps the time. It leads a run through
 * its stages, hands every frame and event to the recording and the judge in one order, and latches the stop when a
 * watch, the gate, a drive, the driver, a bus, the operator or a signal asks for it.
 */
import type { Nanos } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { BenchEvent, Contact, Finding, OutsideStop, Stage } from '../files/event.js'
import { JointLink } from '../link/link.js'
import { recordedNumber } from '../record/event-fields.js'
import type { Confirmation } from '../stop/sequence.js'
import { AfterMotion } from './after-motion.js'
import { BeforeMotion } from './before-motion.js'
import { BoxContact } from './box-contact.js'
import { Course } from './course.js'
import { ListeningStart } from './listening-start.js'
import { LoggedBuses } from './logged-buses.js'
import { Operator } from './operator.js'
import { Ownership } from './ownership.js'
import type { BenchParts } from './parts.js'
import { Script } from './script.js'
import { Sending } from './sending.js'
import { Settled } from './settled.js'
import { StopProof } from './stop-proof.js'
import { Stops } from './stops.js'

/** s, longest wait for the blades to be parked after the scenario's end. */
const PARK_WITHIN = 30
/** s between two looks at where a craft afloat is */
const CRAFT_EVERY = 0.1

export class Bench {
  readonly #p: BenchParts
  readonly #link: JointLink
  // Each is handed those above it, and calls nobody below.
  readonly #course: Course
  readonly #stops: Stops
  readonly #sending: Sending
  readonly #box: BoxContact
  readonly #script: Script
  readonly #before: BeforeMotion | ListeningStart
  readonly #after: AfterMotion
  readonly #operator: Operator
  /** null: the harness owns the buses. */
  readonly #ownership: Ownership | null
  readonly #settled: Settled
  readonly #witness: Float64Array
  readonly #heartbeatTicks: number
  readonly #craftTicks: number
  #k = 0
  #nextHeartbeat = 0

  constructor(parts: BenchParts) {
    this.#p = parts
    const { rig, scenario, clock, log, driver } = parts
    const buses = new LoggedBuses(parts.buses, clock, log)
    const link = new JointLink(rig, buses.buses)
    for (const d of link.drives) d.confirmed = parts.drives?.[d.joint.index] ?? null
    const course = new Course(rig, clock, log)
    const stops = new Stops(rig, link, buses, course)
    const sending = new Sending(rig, link, course, stops)
    const box = new BoxContact(parts.boxed === true, rig, course, stops)
    const proof = new StopProof(rig, link, buses, course, stops, sending)
    const script = new Script(scenario, course)
    const shared = { rig, link, course, stops, sending, script }
    const holdToRun = parts.holdToRun ?? false
    const owner = parts.owner ?? null
    const before = owner
      ? new ListeningStart({ ...shared, box, proof, owner, holdToRun })
      : new BeforeMotion({ ...shared, box, proof, driver, holdToRun })
    const after = new AfterMotion({ ...shared, scenario, before })
    this.#link = link
    this.#course = course
    this.#stops = stops
    this.#sending = sending
    this.#box = box
    this.#script = script
    this.#before = before
    this.#after = after
    this.#ownership = owner && new Ownership(owner, link, course, stops, script)
    this.#settled = new Settled(rig, link)
    this.#operator = new Operator(
      parts,
      course,
      stops,
      box,
      script,
      after,
      () => this.#ownership?.gone ?? false,
    )
    driver.attach?.({ now: () => course.now, event: (e) => this.#fromDriver(e) })
    this.#witness = new Float64Array(rig.joints.length)
    this.#heartbeatTicks = Math.max(1, Math.round(rig.link.ourHeartbeat / rig.control.period))
    this.#craftTicks = Math.max(1, Math.round(CRAFT_EVERY / rig.control.period))
    parts.buses.forEach((bus, i) => {
      bus.onFrame((frame, t) => {
        log.frame(i, frame, t, false)
        link.onFrame(i, frame, t)
      })
      bus.onReport(({ trouble, ...report }, t) => {
        const place = rig.buses[i]!.name
        course.event({ kind: 'bus', t, place, ...report, trouble: trouble ?? 'none' })
      })
    })
    course.event({ kind: 'begin', t: course.now, rig: rig.name, scenario: scenario.name, seed: parts.seed })
  }

  get ended(): boolean {
    return this.#course.ended
  }

  get stage(): Stage | null {
    return this.#course.stage
  }

  /** s since scenario zero, or null before it. */
  get scenarioTime(): number | null {
    return this.#script.time
  }

  /** A watch has found something; it may ask for a stop, whose frames are handed over before this returns. */
  onFinding(finding: Finding): void {
    // The stop first: the record of why must not come before it.
    const { watch, place, says, stop } = finding
    const disobeyed = watch === 'owner' && stop !== null
    if (disobeyed) this.#ownership?.silence()
    if (stop === 2) this.#stops.latchHeld(watch, place, says)
    else if (stop !== null) this.#stops.latch(watch, place, says, stop)
    if (disobeyed) this.#ownership?.tellSilenced()
    this.#course.event({ kind: 'finding', ...finding })
  }

  /** The emergency-stop box has opened, closed, or cannot be read. Closing it permits a release and does nothing else. */
  onContact(contact: Contact): void {
    this.#box.onContact(contact)
  }

  /** Simulated arms in a process of their own stood still in time, so often and for `longest` ns at most. */
  onStandstill(times: number, longest: Nanos): void {
    const course = this.#course
    if (!course.ended) course.event({ kind: 'standstill', t: course.now, times, longest })
  }

  /**
   * Something outside the scenario wants the arms stopped: they come to rest, and the run ends, unless the scenario expects
   * just this.
   */
  onStop(stop: OutsideStop): void {
    const { expect } = this.#p.scenario
    const expected = expect.outcome === 'stop' && expect.by === stop.source && this.#script.time !== null
    this.#stops.latchOutside(stop, expected)
  }

  /** A person holds the approach, or has let go of it: it goes on, or comes to rest where it is. */
  hold(held: boolean): void {
    this.#before.hold(held)
  }

  /** SIGINT, SIGTERM, SIGHUP. */
  onSignal(name: string): void {
    this.onStop({ source: 'signal', says: `${name} was received` })
  }

  /** What each drive has confirmed of the stop in force. */
  confirmations(): readonly Confirmation[] {
    return this.#stops.sequence.confirmations(this.#course.now)
  }

  /** `JointLink.stopCounts`, for whoever would have to go on with a stop. */
  get stopCounts(): JointLink['stopCounts'] {
    return this.#link.stopCounts
  }

  /** Something of ours threw: a watch, the driver, the disk behind the recording. The arms stop, whatever it was. */
  onDefect(error: unknown): void {
    const says = error instanceof Error ? error.message : String(error)
    this.#stops.latch('bench', '', `the bench itself failed: ${says}`)
  }

  /**
   * One control period.
   * @param late ns since the first deadline that was not served yet
   * @param missed ticks that were left out just before this one
   */
  tick(late: Nanos = 0, missed = 0): void {
    const course = this.#course
    if (course.ended) return
    const t = course.now
    this.#k += missed
    this.#sending.beginTick()
    this.#ownership?.look()
    if (course.stage === null) {
      this.#operator.beforeAll()
      this.#before.begin(t)
    }
    const { cyclic } = this.#before
    if (cyclic) this.#sending.heed(this.#link.sync())
    this.#operator.act()
    this.#advance(t, cyclic)
    if (this.#k >= this.#nextHeartbeat) {
      this.#sending.heed(this.#link.heartbeat())
      this.#nextHeartbeat = (Math.floor(this.#k / this.#heartbeatTicks) + 1) * this.#heartbeatTicks
    }
    this.#ownership?.tell(t)
    if (cyclic) this.#logTick(t, late)
    this.#k++
  }

  #advance(t: Nanos, cyclic: boolean): void {
    switch (this.#course.stage) {
      case 'setup':
      case 'seed':
      case 'enable':
        this.#before.startUp(t, cyclic)
        return
      case 'prove':
        this.#before.prove(t)
        return
      case 'approach':
        if (this.#p.driver.trouble) this.#giveUp(t, this.#p.driver.trouble)
        else this.#before.approach(t)
        return
      case 'play':
        if (this.#script.over || this.#p.driver.done) this.#enterPark()
        this.#drive(t)
        return
      case 'park':
        this.#drive(t)
        this.#park(t)
        return
      case 'disable':
        this.#after.disable(t)
        return
      case 'rest':
        this.#after.rest(t)
        return
      case 'stopping':
      case 'stopped':
        this.#after.stopped(t, cyclic)
        // A stop PDO that a drive does not listen to leaves one way to it: that of whoever owns the bus.
        if (this.#stops.sequence.disobeyed(t, this.#p.rig.stop.answer)) this.#silence()
        return
    }
  }

  #park(t: Nanos): void {
    if (this.#course.stage !== 'park') return
    const parked = this.#ownership ? this.#settled.step(t) : this.#p.driver.parked
    if (parked) this.#after.beginDisable(t)
    else if (this.#course.inStage(t) > PARK_WITHIN)
      this.#stops.latch('driver', '', `the blades were not parked within ${PARK_WITHIN} s`)
  }

  #enterPark(): void {
    this.#settled.restart()
    this.#course.enter('park')
  }

  #drive(t: Nanos): void {
    if (this.#ownership) return
    const { driver } = this.#p
    const { setpoints } = this.#sending
    try {
      // While it is withheld the script's command is zero.
      if (this.#script.withheld && driver.stepAlone) driver.stepAlone(setpoints)
      else driver.step(this.#script.command, setpoints)
    } catch (error) {
      if (!(error instanceof DrystrokeError)) throw error
      this.#giveUp(t, error)
      return
    }
    this.#sending.send(t)
  }

  #silence(): void {
    this.#ownership?.silence()
    this.#ownership?.tellSilenced()
  }

  /** The driver cannot go on. */
  #giveUp(t: Nanos, { code, context, message }: DrystrokeError): void {
    const place = String(context.joint ?? context.arm ?? '')
    this.#stops.latch('driver', place, message)
    this.#course.event({ kind: 'driver', t, code, place, says: message })
  }

  /** What a driver outside of this process tells of itself, also between ticks. */
  #fromDriver(e: BenchEvent): void {
    if (!this.#course.ended) this.#course.event(e)
  }

  #logTick(t: Nanos, late: Nanos): void {
    if (this.ended) return
    const { plant } = this.#p
    plant?.witness(t, this.#witness)
    if (plant?.craft && this.#k % this.#craftTicks === 0) this.#logCraft(t, plant.craft)
    this.#course.event({
      kind: 'tick',
      t,
      k: this.#k,
      late,
      // Rounded as the recording rounds, so that the watches see now what a judge will read later.
      setpoints: this.#sending.moving ? Array.from(this.#sending.setpoints, recordedNumber) : null,
      witness: plant ? Array.from(this.#witness, recordedNumber) : null,
    })
  }

  #logCraft(t: Nanos, [x, y, heading, surge, sway, yaw]: Readonly<Float64Array>): void {
    this.#course.event({
      kind: 'craft',
      t,
      x: recordedNumber(x!),
      y: recordedNumber(y!),
      heading: recordedNumber(heading!),
      surge: recordedNumber(surge!),
      sway: recordedNumber(sway!),
      yaw: recordedNumber(yaw!),
    })
  }
}
