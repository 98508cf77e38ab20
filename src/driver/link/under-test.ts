/**
 * A driver outside of this process. Commands go out, counted; setpoints come back with the count of the command that they
 * answer. What was asked in a period is answered, at the soonest, in the next: in real time the last answer is used, in virtual
 * time the run waits for it (`settle`). Whatever is wrong with an answer, or with its not coming, is the driver's trouble: it is
 * told once, nothing is believed after it, and whoever asks for a step is thrown it.
 */
import type { later, Nanos } from '../../clock.js'
import { DrystrokeError, type ErrorCode } from '../../errors.js'
import type { DriverLinkSettings } from '../../files/driver.js'
import type { BenchEvent } from '../../files/event.js'
import type { Command } from '../../files/scenario.js'
import { showQuantity } from '../../units.js'
import type { Driver, DriverHost } from '../contract.js'
import type { Way, WayListener, WayTrouble } from './messages.js'
import { type Introduction, type Said, type Speech, speechOf } from './speech.js'

/** ms after which a message that may have been lost is said again. */
const AGAIN = 250
/** Lines for people that a recording keeps. */
const MOST_WORDS = 1000
/** Messages that may come before and above those of the periods: common practice, no source. */
const MOST_AHEAD = 500
/** Messages in a control period. */
const MOST_A_PERIOD = 10
/** Commands whose times are kept; far more than may be unanswered. */
const KEPT = 8192
/** s at the park pose, with no speed asked for, after which the blades are parked */
const PARKED_AFTER = 0.2
/** rad; less is no change of a setpoint */
const CHANGE = 1e-9

const CODES: Record<WayTrouble, ErrorCode> = {
  lost: 'driver-lost',
  flood: 'driver-flood',
  rubbish: 'driver-rubbish',
  stalled: 'driver-silent',
}

export interface MeetRequest {
  readonly link: DriverLinkSettings
  readonly about: Introduction
  /** Opens the way to the driver; rejects with why it cannot be. */
  readonly open: (listener: WayListener) => Promise<Way>
  readonly later: typeof later
  /** Each line that the driver says for people, as it comes. */
  readonly onSaid?: ((line: string) => void) | undefined
}

/** @throws DrystrokeError `driver-access`: it is not there, or not ready in time; nothing of it is left then */
export async function meetDriver(request: MeetRequest): Promise<DriverUnderTest> {
  const driver = new DriverUnderTest(request)
  try {
    await driver.meet()
    return driver
  } catch (error) {
    await driver.close()
    throw error
  }
}

export class DriverUnderTest implements Driver {
  readonly parkPose: Float64Array
  trouble: DrystrokeError | null = null
  readonly #p: MeetRequest
  readonly #speech: Speech
  #way: Way | null = null
  #host: DriverHost | null = null
  /** Words from before there was a run. */
  readonly #early: string[] = []
  #words: string[] = []
  #said = 0
  #messages = 0
  #since: Nanos = 0
  #ready = false
  #wake: (() => void) | null = null
  /** Count of the last command. */
  #count = 0
  /** ns, of the command with this count modulo KEPT */
  readonly #sentAt = new Float64Array(KEPT)
  /** Count up to which commands are answered, or void. */
  #answered = 0
  #due: Nanos = 0
  /** Told last, to a driver that owns the buses. */
  #order = ''
  readonly #setpoints: Float64Array
  #fresh = false
  #waiting = false
  #atRest = false
  /** Control periods at the park pose. */
  #parkedFor = 0

  constructor(request: MeetRequest) {
    this.#p = request
    this.parkPose = Float64Array.from(request.about.park)
    this.#setpoints = this.parkPose.slice()
    this.#speech = speechOf(request.link, request.about)
  }

  get place(): string {
    return this.#way?.place ?? this.#p.link.kind
  }

  /** Of the driver's process, when we started it. */
  get pid(): number | null {
    return this.#way?.pid ?? null
  }

  get ownsBus(): boolean {
    return this.#p.link.ownsBus
  }

  get parked(): boolean {
    return this.#parkedFor * this.#p.about.period >= PARKED_AFTER
  }

  /** @throws DrystrokeError `driver-access` */
  async meet(): Promise<void> {
    const { link, open, later } = this.#p
    const within = showQuantity(link.handshake, 's')
    let late = false
    const takeBack = later(1000 * link.handshake, () => {
      late = true
      this.#wakeUp()
    })
    try {
      const opening = open(this.#listener())
      const woken = new Promise<void>((resolve) => {
        this.#wake = resolve
      })
      const first = await Promise.race([opening, woken.then(() => null)])
      if (first === null) {
        // Should it open after all, nobody is there any more.
        void opening.then((way) => way.close([])).catch(() => {})
        throw this.#unmet(late ? `it cannot be reached within ${within}` : this.trouble!.message)
      }
      this.#way = first
      this.#greet()
      while (this.#speech.waits && !this.#ready && !late && !this.trouble) await this.#sleep()
    } catch (error) {
      // A serial port is opened as that of a bus is, and fails as such.
      if (error instanceof DrystrokeError && error.code === 'driver-access') throw error
      throw this.#unmet(error instanceof Error ? error.message : String(error))
    } finally {
      takeBack()
    }
    if (this.trouble) throw this.#unmet(this.trouble.message)
    if (late) throw this.#unmet(`it was not ready within ${within}`)
    this.#ready = true
  }

  attach(host: DriverHost): void {
    this.#host = host
    this.#since = host.now()
    for (const says of this.#early.splice(0)) this.#record({ kind: 'said', t: host.now(), says })
  }

  meetAnew(): void {
    if (this.trouble?.code === 'driver-lost' && this.#way?.open) this.trouble = null
  }

  begin(): void {
    const way = this.#way!
    this.#answered = this.#count
    this.#setpoints.set(this.parkPose)
    this.#fresh = this.#atRest = false
    this.#parkedFor = 0
    this.#due = 0
    for (const text of this.#speech.begin) way.send(text)
  }

  step(command: Command, out: Float64Array): void {
    this.#step(command, out)
  }

  stepAlone(out: Float64Array): void {
    this.#step(null, out)
  }

  #step(command: Command | null, out: Float64Array): void {
    if (this.trouble) throw this.trouble
    const t = this.#host!.now()
    this.#atRest = command === null || (command.surge === 0 && command.yaw === 0)
    if (this.#isDue(t)) this.#ask(t, command)
    this.#checkSilence(t)
    if (this.trouble) throw this.trouble
    if (this.ownsBus) return
    out.set(this.#setpoints)
    this.#lookForPark()
  }

  /** What it is to do can be told to it. */
  get heeds(): boolean {
    return this.#speech.orders
  }

  /** To a driver that owns the buses, once a tick; also to one in trouble, as far as it can be reached. Its trouble is not thrown. */
  lead(order: string, command: Command | null): void {
    const t = this.#host!.now()
    if (this.#isDue(t) || order !== this.#order) this.#ask(t, command, order)
    this.#order = order
  }

  settle(): Promise<void> | null {
    if (!this.#waiting || this.trouble || this.ownsBus) return null
    return this.#answer()
  }

  async close(): Promise<void> {
    const way = this.#way
    this.#way = null
    this.#wakeUp()
    await way?.close(this.#ready ? this.#speech.bye : [])
  }

  /** At once, for a process that is itself about to end. */
  abandon(): void {
    this.#way?.abandon()
    this.#way = null
  }

  /**
   * Periods are those of the loop, and not those of the clock: in real time a command goes out a little sooner in one period than in another,
   * and whoever waited for the clock would leave some periods without one. So each deadline belongs to the period that is nearest to it.
   */
  #isDue(t: Nanos): boolean {
    const { link, about } = this.#p
    return link.every === null || t >= this.#due - (1e9 * about.period) / 2
  }

  #ask(t: Nanos, command: Command | null, order?: string): void {
    const { link, about } = this.#p
    const text = this.#speech.command(this.#count + 1, t / 1e9, command, order)
    // Deadlines never move, but those that were missed are not made up for.
    const every = Math.round(1e9 * (link.every ?? about.period))
    this.#due = this.#due === 0 || t - this.#due >= every ? t + every : this.#due + every
    if (text === null) return
    this.#count++
    this.#sentAt[this.#count % KEPT] = t
    this.#waiting = true
    this.#record({ kind: 'asked', t, n: this.#count })
    this.#way!.send(text)
  }

  /** Commands that are not answered in time; those before them were. */
  #checkSilence(t: Nanos): void {
    if (this.ownsBus || this.#answered >= this.#count) return
    const age = (t - this.#sentAt[(this.#answered + 1) % KEPT]!) / 1e9
    const { answer } = this.#p.link
    if (this.#count - this.#answered < KEPT && age <= answer) return
    const says = `it has not answered a command for ${showQuantity(age, 's')}; ${showQuantity(answer, 's')} it may take`
    this.#fail('driver-silent', says)
  }

  async #answer(): Promise<void> {
    const { link, later } = this.#p
    let late = false
    const takeBack = later(1000 * link.handshake, () => {
      late = true
      this.#wakeUp()
    })
    while (this.#waiting && !this.trouble && !late) await this.#sleep()
    takeBack()
    if (late && this.#waiting)
      this.#fail(
        'driver-silent',
        `command ${this.#count} was not answered within ${showQuantity(link.handshake, 's')} by the clock on the wall`,
      )
  }

  #lookForPark(): void {
    const near = this.#p.link.parked
    const there = this.#atRest && this.#setpoints.every((q, i) => Math.abs(q - this.parkPose[i]!) <= near)
    this.#parkedFor = there ? this.#parkedFor + 1 : 0
  }

  #greet(): void {
    for (const text of this.#speech.hello) this.#way?.send(text)
    if (!this.#speech.repeats) return
    this.#p.later(AGAIN, () => {
      if (!this.#ready && !this.trouble && this.#way) this.#greet()
    })
  }

  #listener(): WayListener {
    return {
      onMessage: (text) => {
        if (!this.trouble) this.#hear(text)
      },
      onSaid: (line) => this.#hearWords(line),
      onLost: (trouble, says) => this.#fail(CODES[trouble], says),
      onBack: (says) => {
        this.#record({ kind: 'rejoined', t: this.#host?.now() ?? 0, says })
        for (const text of this.#speech.hello) this.#way?.send(text)
      },
    }
  }

  #hear(text: string): void {
    const periods = this.#host ? (this.#host.now() - this.#since) / 1e9 / this.#p.about.period : 0
    if (++this.#messages > MOST_AHEAD + MOST_A_PERIOD * periods) {
      const says = `it sends far more than it is asked for: ${this.#messages} messages by now`
      this.#fail('driver-flood', says)
      return
    }
    const said = this.#speech.read(text)
    if (said.kind === 'rubbish') this.#fail('driver-rubbish', said.says, said.place)
    else if (said.kind === 'ready') this.#hearReady(said)
    else if (said.kind === 'answer' && this.#host) this.#hearAnswer(said, this.#host.now())
  }

  #hearReady({ park }: Extract<Said, { kind: 'ready' }>): void {
    // Said again, because it was asked again.
    if (this.#ready) return
    this.#ready = true
    if (park) this.parkPose.set(park)
    this.#setpoints.set(this.parkPose)
    this.#wakeUp()
  }

  #hearAnswer({ count, setpoints }: Extract<Said, { kind: 'answer' }>, t: Nanos): void {
    const n = count ?? this.#count
    if (n > this.#count) {
      this.#fail('driver-rubbish', `it answers command ${n}; the last one that was sent is ${this.#count}`)
      return
    }
    if (n < this.#answered) {
      // An answer from before a stop is void, and no fault of the driver's.
      if (this.#fresh)
        this.#fail('driver-rubbish', `its counter went back: it answers command ${n} after ${this.#answered}`)
      return
    }
    // Setpoints of its own accord, or an answer from before a stop.
    if (!this.#fresh && n === this.#answered && this.#speech.counts) return
    let changed = false
    for (let i = 0; setpoints && i < setpoints.length; i++) {
      if (Math.abs(setpoints[i]! - this.#setpoints[i]!) > CHANGE) changed = true
      this.#setpoints[i] = setpoints[i]!
    }
    this.#fresh = true
    this.#answered = n
    this.#record({ kind: 'answered', t, n, changed })
    if (n < this.#count) return
    this.#waiting = false
    this.#wakeUp()
  }

  #hearWords(line: string): void {
    const says = line.trimEnd()
    if (says === '') return
    // Of a stack of calls the error itself is the word that tells something.
    if (!/^\s+at /.test(line)) this.#words = [...this.#words.slice(-2), says]
    this.#p.onSaid?.(says)
    if (++this.#said > MOST_WORDS) return
    const kept = this.#said === MOST_WORDS ? 'what it says after this is not recorded' : says
    if (this.#host) this.#record({ kind: 'said', t: this.#host.now(), says: kept })
    else this.#early.push(kept)
  }

  #fail(code: ErrorCode, says: string, joint = ''): void {
    if (this.trouble) return
    const last = this.#words.length > 0 ? `; it said last: ${this.#words.join(' | ')}` : ''
    this.trouble = new DrystrokeError(code, `${says}${last}`, joint === '' ? {} : { joint })
    // What it goes on to send is left with it: reading it would cost the loop its time. A way that is lost may come back.
    if (code !== 'driver-lost') this.#way?.deafen()
    this.#wakeUp()
  }

  #unmet(why: string): DrystrokeError {
    const { kind } = this.#p.link
    return new DrystrokeError(
      'driver-access',
      `The driver (${this.place}): ${why}. Expected one of kind ${kind} that is there and says that it is ready; see driver in the rig.`,
      { driver: kind },
    )
  }

  #record(e: BenchEvent): void {
    this.#host?.event(e)
  }

  #sleep(): Promise<void> {
    return new Promise((resolve) => {
      this.#wake = resolve
    })
  }

  #wakeUp(): void {
    const wake = this.#wake
    this.#wake = null
    wake?.()
  }
}
