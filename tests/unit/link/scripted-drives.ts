/**
 * A start-up with scripted drives: each answers as a good drive would, until a test overrides one of its replies.
 *
 * Not modelled: arbitration and frame times (all that is said in a tick is heard in it), motion, time-outs of the drive.
 */
import type { Rig } from '../../../src/files/rig.js'
import { JointLink } from '../../../src/link/link.js'
import { Startup, type StartupRefusal, type StartupStep } from '../../../src/link/startup.js'
import { heartbeatFrame } from '../../../src/wire/cia402/network.js'
import { feedbackFrame, uint16 } from '../../../src/wire/cia402/process.js'
import { readSdoRequest } from '../../../src/wire/cia402/sdo.js'
import { CONTROLWORD, FOLLOWS_BIT, statusBits } from '../../../src/wire/cia402/state.js'
import { type Frame, frame } from '../../../src/wire/frame.js'
import type { DriveCommand, DriveState, NodeState } from '../../../src/wire/observation.js'
import { cia402, FakeBus, text } from './fake-bus.js'

export const MS = 1e6
const TICK = 5 * MS

/** Where a command takes a drive (CiA 402), from the states that a start-up meets. */
const TRANSITIONS: Partial<Record<DriveState, Partial<Record<DriveCommand, DriveState>>>> = {
  fault: { 'fault reset': 'switch on disabled' },
  'switch on disabled': { shutdown: 'ready to switch on' },
  'ready to switch on': { 'switch on': 'switched on', 'disable voltage': 'switch on disabled' },
  'switched on': { 'enable operation': 'operation enabled', 'disable voltage': 'switch on disabled' },
  'operation enabled': { 'quick stop': 'quick stop active', 'disable voltage': 'switch on disabled' },
  'quick stop active': { 'disable voltage': 'switch on disabled' },
}

export class ScriptedDrive {
  readonly node: number
  readonly controlwordId: number
  /** Values written, by object such as `605a:0`. */
  readonly objects = new Map<string, number>()
  network: Exclude<NodeState, 'unknown'> = 'pre-operational'
  state: DriveState = 'switch on disabled'
  counts: number
  /** Statusword bit 12 while enabled. */
  follows = true
  /** Says nothing in answer to SDO requests. */
  mute = false
  /** Sends a heartbeat every tick. */
  beats = true
  /** Answers a SYNC with feedback. */
  feeds = true
  /** Hears NMT commands. */
  obeysNetwork = true
  /** Commands without effect. */
  readonly ignores = new Set<DriveCommand>()
  /** Changes the value that is read from an object. */
  lie: (object: string, value: number) => number = (_, value) => value

  constructor(node: number, controlwordId: number, counts: number) {
    this.node = node
    this.controlwordId = controlwordId
    this.counts = counts
  }

  hear(f: Frame): Frame[] {
    if (f.id === 0x600 + this.node) return this.#serve(f.data)
    if (f.id === this.controlwordId) this.#command(uint16(f.data, 0))
    else if (f.id === 0x000) return this.#manage(f.data[0]!)
    else if (f.id === 0x080 && this.feeds && this.network === 'operational') {
      return [feedbackFrame(0x180 + this.node, this.#statusword(), this.counts, 0)]
    }
    return []
  }

  beat(): Frame[] {
    return this.beats ? [heartbeatFrame(this.node, this.network)] : []
  }

  #statusword(): number {
    const following = this.follows && this.state === 'operation enabled'
    return statusBits(this.state) | (following ? FOLLOWS_BIT : 0)
  }

  #manage(command: number): Frame[] {
    if (!this.obeysNetwork) return []
    this.network = command === 1 ? 'operational' : 'pre-operational'
    // 130: reset communication; the node says that it has started up.
    return command === 130 && this.beats ? [heartbeatFrame(this.node, 'boot-up')] : []
  }

  #command(word: number): void {
    const command = (Object.keys(CONTROLWORD) as DriveCommand[]).find((c) => CONTROLWORD[c] === word)
    if (command && !this.ignores.has(command)) this.state = TRANSITIONS[this.state]?.[command] ?? this.state
  }

  #serve(data: Uint8Array): Frame[] {
    const request = readSdoRequest(data)
    if (this.mute || !request) return []
    const object = `${request.index.toString(16)}:${request.sub}`
    const reply = data.slice()
    if (request.what === 'write') {
      this.objects.set(object, request.raw)
      if (object === '6040:0') this.#command(request.raw)
      reply[0] = 0x60
      reply.fill(0, 4)
    } else {
      const value = this.lie(object, this.#read(object))
      const bytes = object === '6041:0' ? 2 : 4
      reply[0] = 0x43 | ((4 - bytes) << 2)
      new DataView(reply.buffer).setUint32(4, value >>> 0, true)
    }
    return [frame(0x580 + this.node, reply)]
  }

  #read(object: string): number {
    if (object === '6041:0') return this.#statusword()
    if (object === '6064:0') return this.counts
    if (object === '6061:0') return this.objects.get('6060:0')!
    return this.objects.get(object) ?? 0
  }
}

export class ScriptedStart {
  readonly drives: ScriptedDrive[]
  readonly link: JointLink
  readonly startup: Startup
  readonly steps: StartupStep[] = []
  /** Everything said on bus `heard`, `>` by us, `<` by the drives; repeated SYNCs, setpoints and heartbeats once. */
  readonly transcript: string[] = []
  t = 0
  readonly #buses: FakeBus[]
  readonly #heard: number
  readonly #on: readonly (readonly ScriptedDrive[])[]

  constructor(rig: Rig, heard: number) {
    this.#heard = heard
    this.#buses = rig.buses.map((bus) => new FakeBus(bus.name))
    this.link = new JointLink(rig, this.#buses)
    this.startup = new Startup(rig, this.link)
    this.drives = this.link.drives
      .map(cia402)
      .map((d) => new ScriptedDrive(d.joint.wire.node, d.controlwordId, d.countsOf(0.5)))
    this.#on = rig.buses.map((_, bus) => this.drives.filter((_, j) => rig.joints[j]!.wire.bus === bus))
  }

  begin(): void {
    this.startup.begin(this.t)
    this.steps.push(this.startup.step)
  }

  /** One tick of the loop, and all that is said because of it. */
  tick(): StartupRefusal | null {
    this.t += TICK
    const { cyclic } = this.startup
    if (cyclic) this.link.sync()
    this.#on.forEach((drives, bus) => {
      for (const d of drives) this.#deliver(bus, d.beat())
    })
    this.#talk()
    const refusal = this.startup.tick(this.t)
    this.#talk()
    if (cyclic && !refusal) this.link.shadow(this.t)
    this.#talk()
    if (this.steps.at(-1) !== this.startup.step) this.steps.push(this.startup.step)
    return refusal
  }

  /** Ticks until ready, refused, or ten seconds are over. */
  run(each: () => void = () => {}): StartupRefusal | null {
    for (const end = this.t + 10e9; this.t < end && this.startup.step !== 'ready'; ) {
      const refusal = this.tick()
      if (refusal) return refusal
      each()
    }
    return null
  }

  /** Ticks until the start-up stands at a step. */
  runTo(step: StartupStep): void {
    for (let i = 0; i < 2000 && this.startup.step !== step; i++) this.tick()
    if (this.startup.step !== step) throw new Error(`never came to ${step}`)
  }

  /** Hands frames over until nobody says anything; at most a thousand, as a drive polled for ever answers for ever. */
  #talk(): void {
    for (let i = 0; i < 1000 && this.#buses.some((bus) => bus.sent.length > 0); i++) {
      this.#buses.forEach((bus, b) => {
        for (const f of bus.sent.splice(0)) {
          if (b === this.#heard) this.#note('>', f)
          for (const d of this.#on[b]!) this.#deliver(b, d.hear(f))
        }
      })
    }
  }

  #deliver(bus: number, frames: readonly Frame[]): void {
    for (const f of frames) {
      if (bus === this.#heard) this.#note('<', f)
      this.link.onFrame(bus, f, this.t)
    }
  }

  #note(direction: '>' | '<', f: Frame): void {
    const line = `${direction} ${text(f)}`
    const cyclic = f.id === 0x080 || (f.id > 0x180 && f.id < 0x280 && f.data.length !== 2) || f.id > 0x700
    if (!cyclic || !this.transcript.includes(line)) this.transcript.push(line)
  }
}
