/**
 * What the plant's tests stand on: a line that hands frames over at once (no arbitration, no frame times), a
 * small rig, and a host whose talk with a drive is kept as a transcript of lines such as `> 60b 40 41 60 00`
 * and `< 58b 4b ...`.
 */
import type { Bus, FrameListener } from '../../../src/bus/contract.js'
import { nanos, VirtualTime } from '../../../src/clock.js'
import type { FaultName } from '../../../src/files/faults/catalogue.js'
import { loadRig } from '../../../src/files/load.js'
import type { Joint, SimulatedJoint, SimulationSettings } from '../../../src/files/rig.js'
import { createPlant, type PlantRig } from '../../../src/plant/plant.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { consumerHeartbeat, heartbeatFrame, nmtFrame, SYNC_FRAME } from '../../../src/wire/cia402/network.js'
import {
  AT_ONCE,
  COB,
  EVERY_SYNC,
  MODE_CSP,
  mappingWord,
  OBJECT,
  type ObjectEntry,
  PDO_INVALID,
  pdoObjects,
} from '../../../src/wire/cia402/objects.js'
import { controlwordFrame, int16, int32, setpointFrame, uint16 } from '../../../src/wire/cia402/process.js'
import { toCounts, toRadians } from '../../../src/wire/cia402/scale.js'
import { readRequest, readSdoReply, withSign, writeRequest } from '../../../src/wire/cia402/sdo.js'
import { CONTROLWORD, driveState } from '../../../src/wire/cia402/state.js'
import type { Frame } from '../../../src/wire/frame.js'
import type { DriveCommand, NmtCommand } from '../../../src/wire/observation.js'
import { DEMO_RIG } from '../../setup/runs.js'

export const NODE = 11
const HOST = 127
export const COUNTS = 131072 / (2 * Math.PI)
export const DEG = Math.PI / 180

const LINK = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas).link

/** A rig of `count` equal joints at nodes 11, 12, ... of bus 0. */
export function smallRig(
  simulation: Partial<Omit<SimulationSettings, 'joints'>> & { truth?: Partial<SimulatedJoint> } = {},
  { count = 1, limits = {} as Partial<Joint['limits']> } = {},
): PlantRig {
  const { truth, ...settings } = simulation
  const joints = Array.from(
    { length: count },
    (_, index): Joint => ({
      index,
      name: `port.joint${index}`,
      arm: 0,
      origin: { at: [0, 0, 0], turn: [0, 0, 0] },
      axis: [0, 0, 1],
      limits: { lower: -2.5, upper: 2.5, speed: Math.PI, acceleration: 1500 * DEG, torque: 30, ...limits },
      body: null,
      train: { rotor: 0, viscous: 0, coulomb: [0, 0] },
      rating: null,
      wire: {
        protocol: 'cia402',
        bus: 0,
        node: NODE + index,
        countsPerRadian: COUNTS,
        sign: 1,
        zero: 1200,
        ratedTorque: 20,
      },
    }),
  )
  // The last joint of several is the other arm's.
  const split = Math.max(1, count - 1)
  return {
    joints,
    buses: [
      {
        index: 0,
        name: 'port-can',
        address: { kind: 'mock' },
        bitrate: 1e6,
        serialRate: 115_200,
        controlword: null,
        queue: 32,
        reports: null,
        owner: 'harness',
      },
    ],
    arms: [
      { side: 'port', joints: joints.slice(0, split).map((j) => j.index) },
      { side: 'starboard', joints: joints.slice(split).map((j) => j.index) },
    ],
    control: { rate: 200, period: 0.005 },
    link: LINK,
    simulation: {
      servo: { frequency: 12, damping: 0.8, feedforward: 0.5 },
      feedback: { delay: 100e-6, jitter: 50e-6, noise: 0 },
      supply: { voltage: 24, resistance: 0.05 },
      ambient: 20,
      brakes: true,
      sag: 1,
      plant: 'dry',
      watchdog: true,
      ...settings,
      joints: joints.map(() => ({ countsPerRadian: COUNTS, sign: 1, zero: 1200, start: 0, ...truth })),
    },
  }
}

/** Every frame goes at once to every other port. */
class Line {
  readonly #time: VirtualTime
  readonly #ports: { name: string; listeners: FrameListener[] }[] = []

  constructor(time: VirtualTime) {
    this.#time = time
  }

  attach(name: string): Bus {
    const own = { name, listeners: [] as FrameListener[] }
    this.#ports.push(own)
    return {
      name,
      waiting: 0,
      state: 'active',
      only: () => {},
      onReport: () => {},
      withdraw: () => 0,
      close: () => {},
      onFrame: (listener) => own.listeners.push(listener),
      send: (frame) => {
        for (const port of this.#ports) {
          if (port !== own) for (const hear of port.listeners) hear(frame, this.#time.now())
        }
        return 'sent'
      },
    }
  }
}

export interface Feedback {
  readonly t: number
  readonly word: number
  readonly counts: number
  readonly torque: number
}

/** A plant and a host that talks to its drives. Times are in seconds. */
export class Talk {
  readonly time = new VirtualTime()
  readonly rig: PlantRig
  readonly plant
  readonly heard: { t: number; frame: Frame }[] = []
  readonly transcript: string[] = []
  readonly #port: Bus
  #beating = false

  constructor(rig: PlantRig, seed = 1, attach?: (time: VirtualTime) => (name: string) => Bus) {
    this.rig = rig
    const line = new Line(this.time)
    const join = attach?.(this.time) ?? ((name: string) => line.attach(name))
    this.#port = join('host')
    this.#port.onFrame((frame, t) => {
      this.heard.push({ t: t / 1e9, frame })
      this.transcript.push(`< ${show(frame)}`)
    })
    this.plant = createPlant(rig, this.time, (_, name) => join(name), seed)
  }

  get now(): number {
    return this.time.now() / 1e9
  }

  send(frame: Frame): void {
    this.transcript.push(`> ${show(frame)}`)
    this.#port.send(frame)
  }

  pass(s: number): void {
    this.time.runUntil(this.time.now() + nanos(s))
  }

  /** What was said since the last call. */
  said(): string[] {
    return this.transcript.splice(0)
  }

  /** Writes by SDO; `done`, or the abort code in hexadecimal. */
  write(object: ObjectEntry, value: number, node = NODE): string {
    this.send(writeRequest(node, object, value))
    this.pass(0.002)
    const reply = this.#lastReply(node)
    if (reply?.what === 'abort') return reply.code.toString(16).padStart(8, '0')
    return reply?.what === 'written' ? 'done' : 'no answer'
  }

  /** Reads by SDO; an abort is thrown. */
  read(object: ObjectEntry, node = NODE): number {
    this.send(readRequest(node, object))
    this.pass(0.002)
    const reply = this.#lastReply(node)
    if (reply?.what !== 'value') throw new Error(`no value but ${JSON.stringify(reply)}`)
    return withSign(reply.raw, object)
  }

  nmt(command: NmtCommand, node = 0): void {
    this.send(nmtFrame(command, node))
  }

  control(command: DriveCommand, node = NODE): void {
    this.send(controlwordFrame(COB.controlword + node, CONTROLWORD[command]))
  }

  setpoint(angle: number, joint = 0): void {
    this.send(setpointFrame(COB.setpoint + NODE + joint, toCounts(this.rig.joints[joint]!.wire, angle)))
  }

  sync(): void {
    this.send(SYNC_FRAME)
  }

  /** The host's heartbeat every 20 ms from now on, until `hush`. */
  beat(): void {
    this.#beating = true
    const next = () => {
      if (!this.#beating) return
      this.#port.send(heartbeatFrame(HOST, 'operational'))
      this.time.at(this.time.now() + nanos(0.02), next)
    }
    next()
  }

  hush(): void {
    this.#beating = false
  }

  /** Everything that a careful host writes before it enables. */
  setUp(overrides: [ObjectEntry, number][] = [], node = NODE): void {
    const entries: [ObjectEntry, number][] = [
      [OBJECT.consumerHeartbeat, consumerHeartbeat(HOST, 100)],
      [OBJECT.errorBehaviour, 0],
      [OBJECT.abortConnection, 3],
      [OBJECT.quickStopOption, 2],
      [OBJECT.faultReactionOption, 2],
      [OBJECT.quickStopDeceleration, Math.round(1500 * DEG * COUNTS)],
      [OBJECT.followingWindow, Math.round(10 * DEG * COUNTS)],
      [OBJECT.followingTimeout, 100],
      [OBJECT.maxTorque, 1500],
      [OBJECT.mode, MODE_CSP],
      [OBJECT.periodValue, 5],
      [OBJECT.periodExponent, -3],
      ...map('receive', 1, COB.setpoint + node, EVERY_SYNC, [OBJECT.targetPosition]),
      ...map('receive', 2, COB.controlword + node, AT_ONCE, [OBJECT.controlword]),
      ...map('transmit', 1, COB.feedback + node, EVERY_SYNC, [
        OBJECT.statusword,
        OBJECT.actualPosition,
        OBJECT.actualTorque,
      ]),
      ...overrides,
    ]
    for (const [object, value] of entries) {
      const answer = this.write(object, value, node)
      if (answer !== 'done') throw new Error(`${object.index.toString(16)}:${object.sub} refused: ${answer}`)
    }
  }

  /** Boots, sets up, starts, and enables at the measured position; then `follows` is true. */
  enable(overrides: [ObjectEntry, number][] = []): void {
    this.pass(0.01)
    this.setUp(overrides)
    this.beat()
    this.nmt('start')
    this.write(OBJECT.targetPosition, this.read(OBJECT.actualPosition))
    for (const command of ['shutdown', 'switch on', 'enable operation'] as const) {
      this.control(command)
      this.cycle(this.measured())
    }
  }

  /** Period by period: a setpoint, 5 ms, SYNC; `angle` in the binding's terms. */
  cycle(angle: number | ((t: number) => number), periods = 1): void {
    for (let i = 0; i < periods; i++) {
      this.setpoint(typeof angle === 'number' ? angle : angle(this.now))
      this.pass(0.0045)
      this.sync()
      this.pass(0.0005)
    }
  }

  /** SYNCs without setpoints. */
  idle(periods: number): void {
    for (let i = 0; i < periods; i++) {
      this.pass(0.0045)
      this.sync()
      this.pass(0.0005)
    }
  }

  feedback(joint = 0): Feedback[] {
    return this.heard
      .filter(({ frame }) => frame.id === COB.feedback + NODE + joint)
      .map(({ t, frame: { data } }) => ({
        t,
        word: uint16(data, 0),
        counts: int32(data, 2),
        torque: int16(data, 6),
      }))
  }

  /** The last feedback, rad by the binding. */
  measured(joint = 0): number {
    const last = this.feedback(joint).at(-1)
    const wire = this.rig.joints[joint]!.wire
    return toRadians(wire, last?.counts ?? this.read(OBJECT.actualPosition, NODE + joint))
  }

  /** State that the statusword, read by SDO, says. */
  state(): string | undefined {
    return driveState(this.read(OBJECT.statusword))
  }

  emergencies(): string[] {
    return this.heard
      .filter(({ frame }) => frame.id === COB.emergency + NODE)
      .map(({ frame }) => uint16(frame.data, 0).toString(16).padStart(4, '0'))
  }

  /** True position of a joint now. */
  witness(joint = 0): number {
    const out = new Float64Array(this.rig.joints.length)
    this.plant.witness(this.time.now(), out)
    return out[joint]!
  }

  fault(fault: FaultName, on: boolean, amount = 0, { place = 0, other = -1 } = {}): void {
    this.plant.fault({ fault, place, other, amount }, on)
  }

  #lastReply(node: number) {
    const reply = this.heard.findLast(({ frame }) => frame.id === COB.sdoReply + node)
    return reply && this.now - reply.t < 0.002 ? readSdoReply(reply.frame.data) : undefined
  }
}

export function map(
  direction: 'receive' | 'transmit',
  n: number,
  id: number,
  type: number,
  mapped: readonly ObjectEntry[],
): [ObjectEntry, number][] {
  const o = pdoObjects(direction, n)
  return [
    [o.cobId, (PDO_INVALID | id) >>> 0],
    [o.type, type],
    [o.count, 0],
    ...mapped.map((m, i): [ObjectEntry, number] => [o.map(i + 1), mappingWord(m)]),
    [o.count, mapped.length],
    [o.cobId, id],
  ]
}

/** `18b 37 12 00`: identifier and bytes in hexadecimal. */
function show({ id, data }: Frame): string {
  const hex = (n: number, digits: number) => n.toString(16).padStart(digits, '0')
  return [hex(id, 3), ...Array.from(data, (b) => hex(b, 2))].join(' ')
}
