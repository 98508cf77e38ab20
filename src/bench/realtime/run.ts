/**
 * One real-time run in the bench process: buses, loop, watches and stop on one thread that waits for nobody. Records go out
 * by the stream; orders come in between ticks.
 */
import type { Bus } from '../../bus/contract.js'
import type { ModemPort } from '../../bus/serial.js'
import { standStill } from '../../clock.js'
import { JogDriver } from '../../driver/jog.js'
import type { DriverUnderTest } from '../../driver/link/under-test.js'
import type { OutsideStop } from '../../files/event.js'
import { loadRig, loadScenario } from '../../files/load.js'
import { type Rig, withoutDriver } from '../../files/rig.js'
import type { Scenario } from '../../files/scenario.js'
import type { RecordedLength } from '../../record/write.js'
import { BoxReader } from '../../stop/box-reader.js'
import type { Guardian } from '../../stop/guardian/start.js'
import { confirmed } from '../../stop/halt.js'
import { type WatchSettings, watchSchemas } from '../../watch/settings.js'
import { type AssembledRun, assemble } from '../assemble.js'
import { DriverOwner } from '../driver-owner.js'
import { isHeld, keyCame, RELEASED } from '../hold.js'
import { LoopTime } from '../loop-time.js'
import { simulatedArms } from '../simulated.js'
import { folderOf, refuseUnreachableBuses } from '../with-driver.js'
import { ArmsLook } from './arms-look.js'
import { beat } from './beat.js'
import { LoopTick } from './loop-tick.js'
import { encodeMessage, type Job, type JogOrder, type Report } from './message.js'
import { type LiveBus, openAll, openBox, refuseMixed } from './open-all.js'
import { MACHINE, type Outside, type RunTime } from './outside.js'
import { RecordStream } from './record-stream.js'
import { scheduleLoop } from './scheduling.js'
import { StandInLine } from './stand-in.js'

/** Ticks between two reports of progress come to about so many seconds. */
const PROGRESS_EVERY = 0.1
/** Likewise, of what the arms say while they are jogged. */
const ARMS_EVERY = 0.02

const NOT_HELD =
  'The approach was not held: there was no terminal whose key could be, so the arms went on by themselves.'

/** What is told of arms that have shown that they are none. */
const PROVEN =
  'a stand-in in another process: its frames came on every bus, and while it was quiet nobody answered'

export class RealtimeRun {
  readonly #rig: Rig<WatchSettings>
  readonly #scenario: Scenario
  readonly #seed: number
  /** Path of the stand-in's socket, null: the arms are none. */
  readonly #standInPath: string | null
  readonly #stopMark: string
  readonly #stream: RecordStream
  readonly #send: (message: Uint8Array) => void
  readonly #job: Job
  readonly #jogDriver: JogDriver | null
  #hold = RELEASED
  #unpower: (() => void) | null = null
  readonly #outside: Outside
  #time: RunTime
  #run: AssembledRun | null = null
  #buses: readonly Bus[] = []
  /** Of a rig on real buses. */
  #adapters: readonly LiveBus[] | null = null
  #standIn: StandInLine | null = null
  /** Of the emergency-stop box, on real buses and where the rig has one. */
  #boxPort: ModemPort | null = null
  #guardian: Guardian | null = null
  /** The team's own; null: the reference driver, or a jog. */
  #driver: DriverUnderTest | null = null
  /** A stop that another terminal asked for has still to be reported on. */
  #owesReport = false
  #stop: OutsideStop | null = null
  readonly #defects: unknown[] = []
  #unwritten = false

  /**
   * @param send hands a message to the parent and does not wait
   * @param outside what the run takes from the machine; a test hands in its own
   * @throws DrystrokeError when the rig or the scenario is none, or its buses are not for this
   */
  constructor(job: Job, send: (message: Uint8Array) => void, outside: Outside = MACHINE) {
    this.#outside = outside
    this.#time = outside.time()
    const rig = loadRig(job.rigText, job.rigFile, watchSchemas)
    this.#rig = job.jog ? withoutDriver(rig) : rig
    this.#scenario = loadScenario(job.scenarioText, job.scenarioFile, this.#rig)
    this.#seed = job.seed
    this.#job = job
    this.#jogDriver = job.jog ? new JogDriver(this.#rig) : null
    this.#standInPath = job.standIn
    this.#stopMark = job.stopMark
    this.#send = send
    this.#stream = new RecordStream(this.#rig.buses, send, job.backlog)
    refuseMixed(this.#rig)
  }

  /**
   * Nothing is sent yet that could move anything.
   * @throws DrystrokeError `bus-access` when a bus or the port of the emergency-stop box cannot be opened, `not-stand-in`,
   *   `driver-access`: then nothing stays open
   */
  async prepare(): Promise<void> {
    this.#outside.warmUp(this.#rig, this.#scenario, this.#seed)
    try {
      await this.#openBuses()
      // Before this process is granted a priority, which its children would inherit.
      this.#driver = await this.#meetDriver()
    } catch (error) {
      for (const bus of this.#adapters ?? []) bus.close()
      await this.#boxPort?.close()
      throw error
    }
  }

  async #openBuses(): Promise<void> {
    if (this.#rig.buses.every(({ address }) => address.kind === 'mock')) return
    this.#time = this.#outside.time()
    this.#adapters = await openAll(this.#rig, this.#time, this.#outside)
    this.#boxPort = await openBox(this.#rig, this.#outside)
    this.#standIn = await this.#meetStandIn(this.#adapters)
  }

  async #meetDriver(): Promise<DriverUnderTest | null> {
    const { link } = this.#rig.driver
    if (!link || this.#jogDriver) return null
    refuseUnreachableBuses(this.#rig)
    const onSaid = (says: string): void => this.#report({ kind: 'said', says })
    return this.#outside.openDriver(link, { rig: this.#rig, folder: folderOf(this.#job.rigFile), onSaid })
  }

  /**
   * The guardian first; then the first event of the recording is made, and the beat begins.
   * @param folder of the recording
   * @param onEnded called once, when the arms are at rest
   * @throws DrystrokeError `guardian` when it cannot be started: nothing has moved then
   */
  async begin(folder: string, onEnded: () => void): Promise<void> {
    if (this.#adapters) {
      this.#guardian = await this.#startGuardian(this.#adapters, folder)
      this.#report({ kind: 'guarded', pid: this.#guardian.pid })
      const { pid, ownsBus } = this.#driver ?? { pid: null, ownsBus: false }
      if (ownsBus && pid !== null) this.#guardian.driver(pid)
      // Asked for before it could be told that it is obeyed.
      if (this.#owesReport) this.#guardian.obeyed()
      // From here on it hears whoever wants a stop; those who came before found nobody, and left a mark.
      if (this.#outside.markedSince(this.#rig, this.#stopMark))
        this.onStop({
          source: 'command',
          says: 'a stop was asked for from another terminal before this run began',
        })
    }
    const scheduling = scheduleLoop(this.#rig.realtime, this.#guardian, this.#outside)
    // Simulated arms are switched on where the recording begins, not where the warm-up did.
    if (!this.#adapters) this.#time = this.#outside.time()
    const arms = this.#adapters
      ? { buses: this.#adapters, plant: null }
      : simulatedArms(this.#rig, this.#time, this.#seed, this.#scenario.plant)
    this.#buses = arms.buses
    const { control, stopBox } = this.#rig
    const loop = new LoopTime(this.#seed, standStill)
    const { plant } = arms
    this.#unpower =
      plant &&
      ((): void => {
        for (const { index: joint } of this.#rig.joints)
          plant.fault({ fault: 'unpowered', place: joint, other: -1, amount: 0 }, true)
      })
    const look = this.#jogDriver && new ArmsLook(this.#rig, this.#jogDriver, this.#stream)
    const run = assemble({
      rig: this.#rig,
      scenario: this.#scenario,
      seed: this.#seed,
      clock: this.#time,
      ...arms,
      // As with real arms: a jog sees what the encoders say, and a wrong sign is for an eye to find.
      plant: look ? null : plant,
      driver: this.#jogDriver ?? this.#driver ?? undefined,
      owner: this.#driver?.ownsBus ? new DriverOwner(this.#driver) : null,
      holdToRun: this.#job.hold,
      drives: this.#job.drives,
      standIn: this.#standIn,
      clockFaults: loop,
      boxed: this.#boxPort !== null,
      recording: look ?? this.#stream,
    })
    this.#run = run
    if (this.#standIn) run.log.event({ kind: 'arms', t: this.#time.now(), arms: 'stand-in', says: PROVEN })
    const box =
      this.#boxPort && new BoxReader(this.#boxPort, stopBox!, (contact) => run.bench.onContact(contact))
    run.log.event({ kind: 'process', t: this.#time.now(), ...scheduling })
    if (this.#adapters && !this.#standIn && !this.#job.hold && !look)
      run.log.event({ kind: 'unchecked', t: this.#time.now(), place: '', says: NOT_HELD })
    if (this.#stop) run.bench.onStop(this.#stop)
    // What failed while buses and guardian were opened must not be followed by motion.
    if (this.#defects.length > 0) run.bench.onDefect(this.#defects[0])
    const progressTicks = Math.max(1, Math.round(PROGRESS_EVERY / control.period))
    const lookTicks = Math.max(1, Math.round(ARMS_EVERY / control.period))
    const tick = new LoopTick({
      bench: run.bench,
      guardian: this.#guardian,
      stream: this.#stream,
      defects: { onDefect: (error) => this.onDefect(error), count: () => this.#defects.length },
      before: () => {
        box?.poll(this.#time.now())
        run.bench.hold(isHeld(this.#hold, this.#time.now()))
      },
      after: (ticks) => {
        const { bench } = run
        if (this.#owesReport) this.#reportStop(bench.ended)
        if (ticks % progressTicks === 0) this.#tell(bench.scenarioTime, bench.stage ?? '')
        if (look && ((ticks + 1) % lookTicks === 0 || bench.ended))
          this.#report({ kind: 'arms', arms: look.see(bench, this.#time.now()) })
      },
    })
    this.#outside.settle()
    beat({
      scheduler: this.#time,
      period: control.period * 1e9,
      holdUp: () => loop.holdUp(),
      tick: (late, missed) => {
        const next = tick.run(late, missed)
        if (next === 'over') void this.#end().then(onEnded)
        return next === 'goes on'
      },
    })
  }

  /** What went wrong on our side first, or null. Throws nothing: the arms have come to rest before anyone asks. */
  get failure(): { readonly error: unknown } | null {
    return this.#defects.length > 0 ? { error: this.#defects[0] } : (this.#run?.log.failure ?? null)
  }

  get allWritten(): boolean {
    return this.#stream.allWritten
  }

  onStop(stop: OutsideStop): void {
    this.#stop ??= stop
    this.#run?.bench.onStop(stop)
  }

  /** Something of ours threw, somewhere. */
  onDefect(error: unknown): void {
    this.#defects.push(error)
    this.#run?.bench.onDefect(error)
  }

  /** The recording cannot be written any more: whoever wrote it says why, and throws it when the run is over. */
  onUnwritten(says: string): void {
    this.#unwritten = true
    this.#run?.bench.onDefect(new Error(says))
  }

  /** The key that holds the approach came. */
  onHeld(): void {
    this.#hold = keyCame(this.#hold, this.#time.now())
  }

  onJog(order: JogOrder): void {
    const driver = this.#jogDriver
    if (!driver) return
    if (order.kind === 'unpower') this.#unpower?.()
    else if (order.kind === 'finish') driver.done = true
    else if (this.#run?.bench.stage === 'play') driver.moveTo(order.joint, order.angle)
  }

  onWritten(length: RecordedLength): void {
    this.#stream.written(length)
  }

  /** Whoever wrote the recording is gone. The stop first, then its evidence. @throws DrystrokeError `file-access` */
  onParentLost(folder: string): void {
    this.onStop({ source: 'parent', says: 'the process that writes the recording is gone' })
    // Behind a gap nothing is written: what is there ends where it could not go on, and is judged so.
    if (!this.#unwritten) this.#stream.takeOver(folder)
  }

  /** This process is about to end, whatever became of the run: nothing that it started may stay. */
  abandon(): void {
    this.#driver?.abandon()
  }

  /** Only after `onParentLost`: the recording is at its end. */
  close(): void {
    this.#stream.close()
  }

  async #meetStandIn(buses: readonly LiveBus[]): Promise<StandInLine | null> {
    if (this.#standInPath === null) return null
    return StandInLine.meet({
      path: this.#standInPath,
      rig: this.#rig,
      buses,
      clock: this.#time,
      onLost: (says) => this.onStop({ source: 'stand-in', says }),
      onStandstill: (times, longest) => this.#run?.bench.onStandstill(times, longest),
    })
  }

  #startGuardian(buses: readonly LiveBus[], folder: string): Promise<Guardian> {
    return this.#outside.startGuardian({
      rig: this.#rig,
      buses,
      clock: this.#time,
      folder,
      onStopAsked: () => {
        this.onStop({ source: 'command', says: 'a stop was asked for from another terminal' })
        this.#guardian?.obeyed()
        this.#owesReport = true
      },
      onLost: (says) => this.onStop({ source: 'guardian', says }),
    })
  }

  /** Whoever asked for the stop waits for what the drives confirm. @param last no more will come */
  #reportStop(last: boolean): void {
    const drives = this.#run!.bench.confirmations()
    if (!last && !drives.every(confirmed)) return
    this.#owesReport = false
    this.#guardian?.report(drives.map((d) => ({ ...d, sag: null })))
  }

  async #end(): Promise<void> {
    this.#time.stop()
    // It is to know that nothing is left to be stopped before the buses are closed.
    await this.#guardian?.end()
    for (const bus of this.#buses) bus.close()
    this.#standIn?.end()
    // It may take its time: by now nothing more comes that would stand in the recording after its end.
    await this.#driver?.close()
    await this.#boxPort?.close().catch(() => {})
    try {
      this.#stream.flush()
    } catch (error) {
      this.onDefect(error)
    }
  }

  #tell(scenarioTime: number | null, stage: string): void {
    this.#report({ kind: 'progress', scenarioTime, stage })
  }

  #report(report: Report): void {
    this.#send(encodeMessage(report))
  }
}
