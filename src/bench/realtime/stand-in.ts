/**
 * The bench process's line to a stand-in: proof that the arms are simulated ones before anything moves, then the faults of
 * the scenario as they are due. An order costs one write that waits for nobody.
 */
import { connect, type Socket } from 'node:net'
import type { Bus } from '../../bus/contract.js'
import { later, type RealTime } from '../../clock.js'
import { DrystrokeError } from '../../errors.js'
import type { Fault, FaultTaker } from '../../files/faults/catalogue.js'
import { isCia402, type Rig } from '../../files/rig.js'
import { linesOf, type StandInAnswer, type StandInName, standInName } from '../../stand-in/order-socket.js'
import { faultLine } from '../../stand-in/orders.js'
import { shows } from '../../stand-in/proof-frame.js'
import { OBJECT } from '../../wire/cia402/objects.js'
import { readRequest } from '../../wire/cia402/sdo.js'

/** ms for each answer, and until its frame has come on every bus. */
const ANSWER_WITHIN = 5000
/** ms for somebody else to answer while the stand-in is quiet; drives take some milliseconds. */
const LISTENED_FOR = 300

export interface StandInRequest {
  /** Of the stand-in's socket. */
  readonly path: string
  readonly rig: Rig
  readonly buses: readonly Pick<Bus, 'onFrame' | 'send'>[]
  readonly clock: Pick<RealTime, 'base'>
  /** Called once: a fault that is due could not be told, or was not done. The run must be stopped: it would show nothing. */
  readonly onLost: (says: string) => void
  /** Its arms stood still in time; `longest` in ns. */
  readonly onStandstill: (times: number, longest: number) => void
}

export class StandInLine implements FaultTaker {
  readonly #request: StandInRequest
  readonly #socket: Socket
  /** Who waits for the next answer. */
  #wanted: ((answer: StandInAnswer | null) => void) | null = null
  readonly #early: StandInAnswer[] = []
  /** Faults that were told and not answered yet. */
  #told = 0
  /** Why nothing can be told any more. Alone that is no harm: when its process has died the buses tell. */
  #gone: string | null = null
  #over = false

  private constructor(request: StandInRequest, socket: Socket) {
    this.#request = request
    this.#socket = socket
    linesOf(socket, (line) => this.#hear(line))
    socket.on('close', () => this.#lose('its line for orders was closed'))
  }

  /**
   * Each bus is shown by a frame that the stand-in was asked for there; then it is quiet, every node of the rig is asked by
   * SDO (frame maps have nothing to be asked by: there it is only listened), and whoever speaks is somebody else. Last it
   * begins with fresh arms.
   * @throws DrystrokeError `not-stand-in`
   */
  static async meet(request: StandInRequest): Promise<StandInLine> {
    const { path } = request
    const socket = await new Promise<Socket>((resolve, reject) => {
      const opening = connect(path)
      opening.once('error', (cause) => {
        reject(refusal(`nobody answers there (${(cause as NodeJS.ErrnoException).code})`, path, cause))
      })
      opening.once('connect', () => resolve(opening))
    })
    const line = new StandInLine(request, socket)
    try {
      await line.#prove()
    } catch (error) {
      line.end()
      throw error
    }
    return line
  }

  /** Begins or ends a fault of the simulated arms. */
  fault(fault: Fault, on: boolean): void {
    this.#told++
    if (this.#gone !== null) this.#lose(this.#gone)
    else if (!this.#over) this.#socket.write(`${faultLine(fault, on, this.#request.rig)}\n`)
  }

  end(): void {
    this.#over = true
    this.#socket.destroy()
  }

  async #prove(): Promise<void> {
    const { rig, buses, clock } = this.#request
    const name = await this.#answer()
    if (name.what !== 'stand-in') throw this.#refusal('this is no stand-in')
    const differs = differenceOf(name, standInName(rig))
    if (differs !== null) throw this.#refusal(differs)
    const number = (clock.base[1] + process.pid) >>> 0
    const unseen = new Set(rig.buses.map((b) => b.index))
    const others = new Set<string>()
    let allSeen = (): void => {}
    let listening = true
    buses.forEach((bus, b) => {
      bus.onFrame((frame) => {
        if (!listening) return
        if (shows(frame, number)) unseen.delete(b)
        else if (!unseen.has(b)) others.add(`${rig.buses[b]!.name} (identifier ${frame.id.toString(16)}h)`)
        if (unseen.size === 0) allSeen()
      })
    })
    const seen = within(ANSWER_WITHIN, (done) => {
      allSeen = () => done(true)
    })
    await this.#say(`quiet ${number}`)
    if ((await seen) === null) {
      const missing = [...unseen].map((b) => rig.buses[b]!.name).join(', ')
      throw this.#refusal(`what it sends does not arrive on ${missing}: other arms may be there`)
    }
    for (const joint of rig.joints) {
      if (isCia402(joint)) buses[joint.wire.bus]!.send(readRequest(joint.wire.node, OBJECT.deviceType))
    }
    await within(LISTENED_FOR, () => {})
    listening = false
    if (others.size > 0)
      throw this.#refusal(`somebody else speaks while it is quiet, on ${[...others].slice(0, 3).join(', ')}`)
    await this.#say('anew')
  }

  async #say(line: string): Promise<void> {
    this.#socket.write(`${line}\n`)
    const answer = await this.#answer()
    if (answer.what !== 'done')
      throw this.#refusal(answer.what === 'refused' ? answer.says : 'it did not answer what it was asked')
  }

  async #answer(): Promise<StandInAnswer> {
    const early = this.#early.shift()
    if (early) return early
    const answer = await within<StandInAnswer | null>(ANSWER_WITHIN, (done) => {
      this.#wanted = done
      if (this.#socket.destroyed) done(null)
    })
    this.#wanted = null
    if (answer === null) throw this.#refusal('it does not answer')
    return answer
  }

  #hear(line: string): void {
    if (this.#over) return
    let answer: StandInAnswer
    try {
      answer = JSON.parse(line) as StandInAnswer
    } catch {
      this.#lose('what it answers is none of ours')
      return
    }
    // Said unasked, also while an answer is waited for.
    if (answer.what === 'standstill') this.#request.onStandstill(answer.times, answer.longest)
    else if (this.#wanted) this.#wanted(answer)
    else if (answer.what === 'stand-in') this.#early.push(answer)
    else if (answer.what === 'done') this.#told--
    else this.#lose(`it did not do what it was told: ${answer.says}`)
  }

  #lose(says: string): void {
    this.#gone = says
    this.#wanted?.(null)
    if (this.#over || this.#told === 0) return
    this.end()
    this.#request.onLost(`the stand-in was lost: ${says}`)
  }

  #refusal(says: string): DrystrokeError {
    return refusal(says, this.#request.path)
  }
}

/** What `done` was called with, or null after `ms`. */
function within<T>(ms: number, wait: (done: (value: T) => void) => void): Promise<T | null> {
  return new Promise((resolve) => {
    const forget = later(ms, () => resolve(null))
    wait((value) => {
      forget()
      resolve(value)
    })
  })
}

/** Serial ports have a name at each of their ends: they are not compared. */
function differenceOf(served: StandInName, wanted: StandInName): string | null {
  if (served.rig !== wanted.rig) return `it serves the rig ${served.rig}, not ${wanted.rig}`
  if (served.joints.join() !== wanted.joints.join()) return 'its arms have other joints'
  for (const { name, address } of wanted.buses) {
    const other = served.buses.find((b) => b.name === name)
    if (!other) return `it serves no bus ${name}`
    const compared = !isDevice(address) && !isDevice(other.address)
    if (compared && address !== other.address)
      return `it serves ${name} on ${other.address}, not on ${address}`
  }
  return null
}

function isDevice(address: string): boolean {
  return address.startsWith('slcan:') && !address.startsWith('slcan:tcp:')
}

function refusal(says: string, path: string, cause?: unknown): DrystrokeError {
  return new DrystrokeError(
    'not-stand-in',
    `--stand-in ${path}: ${says}; nothing has moved. Start the simulated arms with drystroke stand-in --orders ${path}, ` +
      'the same rig and the same buses, or leave --stand-in out where the arms are real',
    { path },
    cause,
  )
}
