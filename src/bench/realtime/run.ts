/**
 * One real-time run in the bench process: buses, loop, watches and stop on one thread that waits for nobody. Records go out
 * by the stream; orders come in between ticks.
 */
import type { Adapter } from '../../bus/adapter.js'
import type { Bus } from '../../bus/contract.js'
import { openBus } from '../../bus/open.js'
import { type ModemPort, openModemLines } from '../../bus/serial.js'
import { RealTime } from '../../clock.js'
import { JogDriver } from '../../driver/jog.js'
import { DrystrokeError } from '../../errors.js'
import type { OutsideStop } from '../../files/event.js'
import { loadRig, loadScenario } from '../../files/load.js'
import type { Rig } from '../../files/rig.js'
import type { Scenario } from '../../files/scenario.js'
import type { RecordedLength } from '../../record/write.js'
import { BoxReader } from '../../stop/box-reader.js'
import { type Guardian, startGuardian } from '../../stop/guardian/start.js'
import { confirmed } from '../../stop/halt.js'
import { stopMark } from '../../stop/mark.js'
import { type WatchSettings, watchSchemas } from '../../watch/settings.js'
import { type AssembledRun, assemble } from '../assemble.js'
import { isHeld, keyCame, RELEASED } from '../hold.js'
import { simulatedArms } from '../simulated.js'
import { MOST_DEFECTS } from '../virtual.js'
import { ArmsLook } from './arms-look.js'
import { beat } from './beat.js'
import { encodeMessage, type Job, type JogOrder, type Report } from './message.js'
import { RecordStream } from './record-stream.js'
import { askForFifo, FIFO_PRIORITY, schedulingNow } from './scheduling.js'
import { StandInLine } from './stand-in.js'
import { warmUp } from './warm-up.js'

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
  #time = new RealTime()
  #run: AssembledRun | null = null
  #buses: readonly Bus[] = []
  /** Of a rig on real buses. */
  #adapters: readonly Adapter[] | null = null
  #standIn: StandInLine | null = null
  /** Of the emergency-stop box, on real buses and where the rig has one. */
  #boxPort: ModemPort | null = null
  #guardian: Guardian | null = null
  /** A stop that another terminal asked for has still to be reported on. */
  #owesReport = false
  #stop: OutsideStop | null = null
  readonly #defects: unknown[] = []

  /**
   * @param send hands a message to the parent and does not wait
   * @throws DrystrokeError when the rig or the scenario is none, or its buses are not for this
   */
  constructor(job: Job, send: (message: Uint8Array) => void) {
    this.#rig = loadRig(job.rigText, job.rigFile, watchSchemas)
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
   * @throws DrystrokeError `bus-access` when a bus or the port of the emergency-stop box cannot be opened, `not-stand-in`: then
   *   nothing stays open
   */
  async prepare(): Promise<void> {
    warmUp(this.#rig, this.#scenario, this.#seed)
    if (this.#rig.buses.every(({ address }) => address.kind === 'mock')) return
    this.#time = new RealTime()
    this.#adapters = await openAll(this.#rig, this.#time)
    try {
      this.#boxPort = await this.#openBox()
      this.#standIn = await this.#meetStandIn(this.#adapters)
    } catch (error) {
      for (const bus of this.#adapters) bus.close()
      await this.#boxPort?.close()
      throw error
    }
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
      // From here on it hears whoever wants a stop; those who came before found nobody, and left a mark.
      if (stopMark(this.#rig) !== this.#stopMark)
        this.onStop({
          source: 'command',
          says: 'a stop was asked for from another terminal before this run began',
        })
    }
    const scheduling = this.#schedule()
    // Simulated arms are switched on where the recording begins, not where the warm-up did.
    if (!this.#adapters) this.#time = new RealTime()
    const arms = this.#adapters
      ? { buses: this.#adapters, plant: null }
      : simulatedArms(this.#rig, this.#time, this.#seed)
    this.#buses = arms.buses
    const { control, stopBox } = this.#rig
    const { plant } = arms
    this.#unpower =
      plant &&
      ((): void => {
        for (const { index: joint } of this.#rig.joints)
          plant.fault({ fault: 'unpowered', joint, angle: 0, share: 0, delay: 0 }, true)
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
      ...(this.#jogDriver ? { driver: this.#jogDriver } : {}),
      holdToRun: this.#job.hold,
      drives: this.#job.drives,
      standIn: this.#standIn,
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
    let ticks = 0
    beat({
      scheduler: this.#time,
      period: control.period * 1e9,
      tick: (late, missed) => {
        const { bench } = run
        const finished = this.#guarded(() => {
          box?.poll(this.#time.now())
          bench.hold(isHeld(this.#hold, this.#time.now()))
          bench.tick(late, missed)
        })
        // Only a finished tick is a sign of life: ticks that throw without end are the guardian's matter.
        if (finished) this.#guardian?.beat()
        this.#guarded(() => this.#stream.flush())
        if (this.#owesReport) this.#reportStop(run.bench.ended)
        if (ticks++ % progressTicks === 0) this.#tell(bench.scenarioTime, bench.stage ?? '')
        if (look && (ticks % lookTicks === 0 || bench.ended))
          this.#report({ kind: 'arms', arms: look.see(bench, this.#time.now()) })
        if (!bench.ended) {
          if (this.#defects.length <= MOST_DEFECTS) return true
          // Given up with the arms perhaps enabled: no good-bye. The guardian misses the beat, ends this process and stops them.
          if (this.#guardian) return false
        }
        void this.#end().then(onEnded)
        return false
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
    this.#stream.takeOver(folder)
  }

  /** Only after `onParentLost`: the recording is at its end. */
  close(): void {
    this.#stream.close()
  }

  async #openBox(): Promise<ModemPort | null> {
    const { stopBox } = this.#rig
    if (!stopBox) return null
    try {
      return await openModemLines(stopBox.device)
    } catch (error) {
      if (!(error instanceof DrystrokeError)) throw error
      throw new DrystrokeError('bus-access', `stop-box: ${error.message}`, error.context, error)
    }
  }

  async #meetStandIn(buses: readonly Adapter[]): Promise<StandInLine | null> {
    if (this.#standInPath === null) return null
    return StandInLine.meet({
      path: this.#standInPath,
      rig: this.#rig,
      buses,
      clock: this.#time,
      onLost: (says) => this.onStop({ source: 'stand-in', says }),
    })
  }

  #startGuardian(buses: readonly Adapter[], folder: string): Promise<Guardian> {
    return startGuardian({
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

  /** What was asked for and what was granted, in the words of the event `process`. */
  #schedule(): { bench: string; guardian: string; says: string } {
    const asked = this.#rig.realtime.fifo
    const guardian = this.#guardian
    // A loop that does not let go must not be above the one who ends it.
    const below = guardian === null || guardian.fifo !== null
    if (asked && below) askForFifo(FIFO_PRIORITY)
    const bench = schedulingNow()
    const says = !asked
      ? 'The rig does not ask for first-in first-out scheduling.'
      : !below
        ? 'The guardian was not granted its priority, so the bench process asked for none: other programs can hold the loop up.'
        : bench.startsWith('SCHED_FIFO')
          ? 'First-in first-out scheduling was asked for and granted.'
          : 'First-in first-out scheduling was asked for and not granted: other programs can hold the loop up.'
    if (!guardian) return { bench, guardian: 'none', says: `${says} Simulated arms have no guardian.` }
    return { bench, guardian: guardian.fifo === null ? 'normal' : `SCHED_FIFO ${guardian.fifo}`, says }
  }

  /** @returns false: it threw, and the arms are being stopped */
  #guarded(act: () => void): boolean {
    try {
      act()
      return true
    } catch (error) {
      this.onDefect(error)
      return false
    }
  }

  async #end(): Promise<void> {
    this.#time.stop()
    // It is to know that nothing is left to be stopped before the buses are closed.
    await this.#guardian?.end()
    for (const bus of this.#buses) bus.close()
    this.#standIn?.end()
    await this.#boxPort?.close().catch(() => {})
    this.#guarded(() => this.#stream.flush())
  }

  #tell(scenarioTime: number | null, stage: string): void {
    this.#report({ kind: 'progress', scenarioTime, stage })
  }

  #report(report: Report): void {
    this.#send(encodeMessage(report))
  }
}

async function openAll(rig: Rig, clock: RealTime): Promise<Adapter[]> {
  const tried = await Promise.allSettled(rig.buses.map((settings) => openBus(settings, clock)))
  const failed = tried.find((t) => t.status === 'rejected')
  const open = tried.flatMap((t) => (t.status === 'fulfilled' ? [t.value] : []))
  if (!failed) return open
  for (const bus of open) bus.close()
  throw failed.reason
}

/** Simulated arms on one bus and real ones on another would be told apart by nobody. */
function refuseMixed({ buses, name }: Rig): void {
  const mocks = buses.filter((b) => b.address.kind === 'mock')
  if (mocks.length === 0 || mocks.length === buses.length) return
  const others = buses.filter((b) => b.address.kind !== 'mock')
  throw new DrystrokeError(
    'usage',
    `The rig ${name} has ${mocks.map((b) => b.name).join(', ')} on the mock bus and ${others.map((b) => b.name).join(', ')} elsewhere; ` +
      'expected all buses simulated, or none. Say --bus mock, or give each bus its address with --bus NAME=ADDRESS.',
    { rig: name },
  )
}
