/**
 * Simulated arms for a jog, in virtual time: for rehearsing it, and for testing. It uses the same bench, link, start-up,
 * watches and stop as a run; nothing of it is recorded.
 */
import { Bench } from '../bench/bench.js'
import { JOG_SCENARIO } from '../bench/jog-scenario.js'
import type { Bus } from '../bus/contract.js'
import { MockBus } from '../bus/mock.js'
import { type Nanos, nanos, VirtualTime } from '../clock.js'
import { JogDriver } from '../driver/jog.js'
import { DrystrokeError } from '../errors.js'
import type { BenchEvent, Finding } from '../files/event.js'
import { loadScenario } from '../files/load.js'
import type { Rig } from '../files/rig.js'
import { Still } from '../motion/still.js'
import { createPlant } from '../plant/plant.js'
import { Judge } from '../verdict/judge.js'
import type { WatchSettings } from '../watch/settings.js'
import { VOLTAGE_BIT } from '../wire/cia402/state.js'
import { Decoder } from '../wire/decoder.js'
import type { JogSession, Unplugged } from './jog.js'
import { type ArmsLookedAt, PowerLossFold, type PowerLost } from './power-loss.js'

/** s, longest waits */
const START_WITHIN = 60
const MOVE_WITHIN = 120
const LOSS_WITHIN = 5
const REST_WITHIN = 30
/** s of rest after a move, before its end is read */
const SETTLE = 0.3
/** s for which a bus without its host is looked at, and rad/s below which a joint is still */
const LOOK = 2

export class VirtualJog implements JogSession {
  readonly arms = 'simulated'
  readonly #rig: Rig<WatchSettings>
  readonly #time = new VirtualTime()
  readonly #driver: JogDriver
  readonly #plant
  readonly #bench: Bench
  readonly #position: Float64Array
  readonly #seen: Float64Array
  readonly #witness: Float64Array
  readonly #off: (Nanos | null)[]
  readonly #still: readonly Still[]
  readonly #cut: boolean[]
  readonly #drives: (string | null)[]
  #ticks = 0
  #stopped: Extract<BenchEvent, { kind: 'stop' }> | null = null

  constructor(rig: Rig<WatchSettings>, seed = 1) {
    this.#rig = rig
    this.#driver = new JogDriver(rig)
    this.#position = new Float64Array(rig.joints.length).fill(Number.NaN)
    this.#seen = new Float64Array(rig.joints.length).fill(Number.NEGATIVE_INFINITY)
    this.#witness = new Float64Array(rig.joints.length)
    this.#off = rig.joints.map(() => null)
    this.#still = rig.joints.map(() => new Still(rig.stop.still.speed, rig.stop.still.hold))
    this.#drives = rig.joints.map(() => null)
    this.#cut = rig.buses.map(() => false)
    const mocks = rig.buses.map(({ name, bitrate }) => new MockBus(this.#time, { name, bitrate }))
    this.#plant = createPlant(
      rig,
      this.#time,
      (bus, name) => mocks[bus]!.attach(name, { order: 'by identifier' }),
      seed,
    )
    const scenario = loadScenario(JOG_SCENARIO, 'jog', rig)
    const findings: Finding[] = []
    const judge = new Judge(rig, scenario, { onFinding: (f) => findings.push(f) })
    const decoder = new Decoder(rig, (o) => {
      if (o.kind === 'state')
        this.#off[o.joint] = (o.word & VOLTAGE_BIT) === 0 ? (this.#off[o.joint] ?? o.t) : null
      if (o.kind !== 'feedback') return
      this.#position[o.joint] = o.position
      this.#seen[o.joint] = o.t
      this.#still[o.joint]!.see(o.position, o.t)
    })
    let bench: Bench | undefined
    const tell = (): void => {
      for (let f = findings.shift(); f; f = findings.shift()) bench?.onFinding(f)
    }
    bench = new Bench({
      rig,
      scenario,
      seed,
      clock: this.#time,
      buses: rig.buses.map(({ queue }, i) => this.#host(mocks[i]!.attach('bench', { queue }), i)),
      driver: this.#driver,
      // As with real arms: the harness sees what the encoders say, and a wrong sign is for an eye to find.
      plant: null,
      log: {
        frame: (bus, frame, t, sent) => {
          decoder.see(bus, frame, t, sent)
          judge.frame(bus, frame, t, sent)
          tell()
        },
        event: (e) => {
          if (e.kind === 'identity') this.#drives[rig.joints.findIndex((j) => j.name === e.place)] = e.drive
          if (e.kind === 'stop') this.#stopped ??= e
          judge.event(e)
          tell()
        },
      },
    })
    this.#bench = bench
  }

  async start(): Promise<void> {
    if (this.#bench.stage === 'play') return
    this.#until(() => this.#bench.stage === 'play', START_WITHIN)
    this.#refuseStopped()
    this.#run(SETTLE)
  }

  position(joint: number): number {
    return this.#position[joint]!
  }

  /** rad, the joint's true position: what an eye beside the arm would see. */
  truth(joint: number): number {
    this.#plant.witness(this.#time.now(), this.#witness)
    return this.#witness[joint]!
  }

  async moveTo(joint: number, angle: number): Promise<void> {
    this.#refuseStopped()
    this.#driver.moveTo(joint, angle)
    this.#until(() => this.#driver.resting, MOVE_WITHIN)
    this.#run(SETTLE)
    this.#refuseStopped()
  }

  async powerLoss(): Promise<PowerLost> {
    await this.start()
    const { joints, control } = this.#rig
    const fold = new PowerLossFold(joints, control.period, this.#look())
    for (const { index: joint } of this.#rig.joints)
      this.#plant.fault({ fault: 'unpowered', place: joint, other: -1, amount: 0 }, true)
    const lost = (): number => {
      fold.see(this.#look())
      return fold.lost
    }
    this.#until(() => lost() === joints.length, LOSS_WITHIN)
    // Drives without power end the run: it goes on until all is at rest, and sag has been looked at.
    if (fold.lost === joints.length) this.#until(() => lost() === 0, REST_WITHIN)
    return fold.result()
  }

  async unplug(bus: number, joint: number): Promise<Unplugged> {
    await this.start()
    const { lower, upper } = this.#rig.joints[joint]!.limits
    const away = this.position(joint) > (lower + upper) / 2 ? -1 : 1
    this.#driver.moveTo(joint, (away * (5 * Math.PI)) / 180)
    // The middle of the move is its fastest.
    this.#run(1)
    this.#cut[bus] = true
    const begun = this.#time.now()
    const joints = this.#rig.joints.filter((j) => j.wire.bus === bus)
    const [before, now] = [
      new Float64Array(this.#rig.joints.length),
      new Float64Array(this.#rig.joints.length),
    ]
    this.#plant.witness(begun, before)
    let last = begun
    let moving: string[] = []
    for (let t = begun; t < begun + nanos(LOOK); ) {
      this.#tick()
      t = this.#time.now()
      this.#plant.witness(t, now)
      const still = this.#rig.stop.still.speed * this.#rig.control.period
      moving = joints.filter((j) => Math.abs(now[j.index]! - before[j.index]!) > still).map((j) => j.name)
      if (moving.length > 0) last = t
      before.set(now)
    }
    return { lost: true, toStill: moving.length > 0 ? null : (last - begun) / 1e9, moving }
  }

  /** Nothing to look at again: the time was measured. */
  async lookAgain(): Promise<number> {
    return 0
  }

  drive(joint: number): string | null {
    return this.#drives[joint]!
  }

  async end(): Promise<void> {
    this.#driver.done = true
    if (this.#bench.stage === null) return
    this.#until(() => this.#bench.ended, MOVE_WITHIN)
  }

  #host(port: Bus, bus: number): Bus {
    const cut = this.#cut
    return Object.defineProperties(
      {},
      {
        name: { value: port.name },
        waiting: { get: () => port.waiting },
        state: { get: () => port.state },
        withdraw: { value: () => port.withdraw() },
        send: { value: (frame: Parameters<Bus['send']>[0]) => (cut[bus] ? 'down' : port.send(frame)) },
        onFrame: {
          value: (listener: Parameters<Bus['onFrame']>[0]) =>
            port.onFrame((f, t) => {
              if (!cut[bus]) listener(f, t)
            }),
        },
        only: { value: (filters: Parameters<Bus['only']>[0]) => port.only(filters) },
        onReport: { value: (listener: Parameters<Bus['onReport']>[0]) => port.onReport(listener) },
        close: { value: () => port.close() },
      },
    ) as Bus
  }

  #look(): ArmsLookedAt {
    return {
      t: this.#time.now(),
      positions: [...this.#position],
      seen: [...this.#seen],
      off: [...this.#off],
      rest: this.#still.map((s) => s.since),
    }
  }

  #tick(): void {
    this.#time.runUntil(nanos(this.#ticks++ * this.#rig.control.period))
    this.#bench.tick()
  }

  #run(seconds: number): void {
    const until: Nanos = this.#time.now() + nanos(seconds)
    while (this.#time.now() < until && !this.#bench.ended) this.#tick()
  }

  #until(met: () => boolean, seconds: number): void {
    const end = this.#time.now() + nanos(seconds)
    while (!met() && !this.#bench.ended && this.#time.now() < end) this.#tick()
  }

  #refuseStopped(): void {
    const stop = this.#stopped
    if (stop === null) return
    throw new DrystrokeError(
      'not-confirmed',
      `The jog was stopped by ${stop.source}${stop.place && ` at ${stop.place}`}: ${stop.says}; nothing more was moved`,
    )
  }
}
