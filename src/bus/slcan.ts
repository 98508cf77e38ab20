/**
 * A bus behind an adapter that speaks the slcan text protocol.
 *
 * Closing the bus leaves the adapter's channel open: whoever inherited the line must be able to send a stop on it still.
 */
import { type Clock, later, type Nanos } from '../clock.js'
import { bitRateWord, SLCAN_BIT_RATES, type SlcanError, type SlcanUnit } from '../wire/slcan.js'
import { statusOf } from '../wire/slcan-status.js'
import type { AdapterSettings } from './adapter.js'
import type { ByteLine } from './byte-line.js'
import { noBus } from './no-bus.js'
import { SlcanEnd } from './slcan-end.js'

/** How long an answer is waited for: many adapters give none. ms */
const ANSWER_WITHIN = 200
/** When nothing has come for this long after an answer, no more is to come. ms */
const QUIET = 20

type Answer = 'done' | 'refused' | 'none' | 'lost'

export class SlcanBus extends SlcanEnd {
  /** opening: answers are waited for, frames of an earlier opening are passed over. */
  #stage: 'opening' | 'open' = 'open'
  #onAnswer: ((answer: Answer) => void) | null = null
  #silent = false
  #asked: Nanos = Number.NEGATIVE_INFINITY

  /**
   * Opens the adapter's channel at the bus's bit rate.
   * @throws DrystrokeError `bus-access`: the line is closed then
   */
  static async open(line: ByteLine, settings: AdapterSettings, clock: Clock): Promise<SlcanBus> {
    const rate = bitRateWord(settings.bitrate)
    if (rate === null) {
      line.close()
      const can = SLCAN_BIT_RATES.map((r) => r / 1e3).join(', ')
      throw noBus(
        line.place,
        `slcan has no word for ${settings.bitrate / 1e3} kbit/s`,
        `it can be one of ${can} kbit/s`,
      )
    }
    const bus = new SlcanBus(line, settings, clock, 'active')
    try {
      await bus.#open(rate, settings.listenOnly === true)
      return bus
    } catch (error) {
      bus.close()
      throw error
    }
  }

  /**
   * Goes on where another process was cut off: the channel is open, and half a line may have been sent. A bare carriage
   * return ends it; the adapter may take it for a frame that is wrong, and drops it.
   */
  static takeOver(line: ByteLine, settings: AdapterSettings, clock: Clock): SlcanBus {
    const bus = new SlcanBus(line, settings, clock, 'active', { midway: true })
    bus.command('')
    return bus
  }

  /** Asks an adapter that tells nothing by itself for its status flags; a report follows if they say something new. */
  askStatus(): void {
    this.command('F')
  }

  override get silent(): boolean {
    return this.#silent
  }

  async #open(rate: string, listenOnly: boolean): Promise<void> {
    this.#stage = 'opening'
    for (let attempt = 1; ; attempt++) {
      this.command('')
      this.command('')
      this.command('C')
      let answer = await this.#answer(ANSWER_WITHIN)
      while (answer === 'done' || answer === 'refused') answer = await this.#answer(QUIET)
      if (answer !== 'lost') answer = await this.#ask(rate)
      const toRate = answer
      if (answer !== 'lost' && answer !== 'refused') answer = await this.#openChannel(listenOnly)
      if (answer === 'lost') {
        throw noBus(
          this.place,
          'the line was lost while it was opened',
          'see whether another program is connected to the adapter',
        )
      }
      if (answer !== 'refused') break
      // The first refusal may have been a late answer to the closing of a channel that was not open.
      if (attempt === 2) {
        const what = toRate === 'refused' ? `refused its bit rate (${rate})` : 'refused to open its channel'
        throw noBus(this.place, `the adapter ${what}`, 'look at its manual, or plug it in anew')
      }
    }
    this.#stage = 'open'
  }

  async #openChannel(listenOnly: boolean): Promise<Answer> {
    if (listenOnly) {
      const answer = await this.#ask('L')
      this.#silent = answer === 'done'
      // An adapter without that mode listens in the usual way: it acknowledges, and sends nothing.
      if (answer === 'done' || answer === 'lost') return answer
    }
    return this.#ask('O')
  }

  #ask(text: string): Promise<Answer> {
    this.command(text)
    return this.#answer(ANSWER_WITHIN)
  }

  #answer(ms: number): Promise<Answer> {
    if (this.state === 'gone') return Promise.resolve('lost')
    return new Promise((resolve) => {
      const settle = (answer: Answer): void => {
        forget()
        this.#onAnswer = null
        resolve(answer)
      }
      const forget = later(ms, () => settle('none'))
      this.#onAnswer = settle
    })
  }

  protected override lostNow(): void {
    this.#onAnswer?.('lost')
  }

  protected see(unit: SlcanUnit, t: Nanos): void {
    if (this.#stage === 'opening') {
      if (unit.what === 'done' || unit.what === 'refused') this.#onAnswer?.(unit.what)
      return
    }
    switch (unit.what) {
      case 'frame':
        this.deliver(unit.frame, t)
        return
      case 'done':
        return
      case 'refused':
        this.trouble(
          'transmit overflow',
          'the adapter refused a frame: its store is full, or it is off the bus',
        )
        if (t - this.#asked >= 100e6) {
          this.#asked = t
          this.askStatus()
        }
        return
      case 'state': {
        const { what: _, state, ...counters } = unit
        this.become(state, `the controller is ${WORDS[state]}`, counters)
        return
      }
      case 'errors':
        for (const error of unit.errors) this.#error(error)
        return
      case 'word': {
        const status = statusOf(unit.text)
        if (status === null) return
        // The flags know nothing of bus-off.
        if (this.state !== 'bus-off') this.become(status.state, `the controller is ${WORDS[status.state]}`)
        for (const trouble of status.troubles)
          this.trouble(trouble, `the adapter's status flags say: ${trouble}`)
        return
      }
      case 'garbage':
        this.trouble('garbled', `the adapter sent what means nothing: "${unit.text}"`)
    }
  }

  #error(error: SlcanError): void {
    switch (error) {
      case 'acknowledgement':
        this.trouble('no acknowledgement', 'nobody acknowledged a frame')
        return
      case 'receive overflow':
        this.trouble('receive overflow', 'the adapter lost frames that came in')
        return
      case 'transmit overflow':
        this.trouble('transmit overflow', 'the adapter lost frames that were to be sent')
        return
      default:
        this.trouble('bus error', `the controller saw a wrong frame (${error})`)
    }
  }
}

const WORDS = {
  active: 'error-active again',
  warning: 'at the warning limit of its error counters',
  passive: 'error-passive',
  'bus-off': 'off the bus',
} as const
