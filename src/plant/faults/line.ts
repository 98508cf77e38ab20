/**
 * What goes wrong with the messages of one simulated drive: which of its frames go out, when, and how often.
 *
 * Not modelled: damaged frames (those are of the bus), several causes of one kind at a time (the newest counts, and its end ends
 * them all).
 */
import type { Nanos, Scheduler } from '../../clock.js'
import type { RandomStream } from '../../random.js'
import type { Frame } from '../../wire/frame.js'

/** Makes the stream of random numbers of one fault. */
export type Streams = (what: string) => RandomStream

export class LineFaults {
  /** The node sends nothing at all; it still hears. */
  silent = false
  /** ns that feedback comes late */
  late: Nanos = 0
  /** 0..1 of feedback frames that get lost, come twice, or come after the next one */
  dropped = 0
  doubled = 0
  overtaken = 0
  /** All feedback is like the last. */
  stale = false
  noFeedback = false
  noHeartbeat = false
  /** No SDO request is answered. */
  unanswered = false
  /** Another node has the same number: makes its feedback of what makes ours. */
  twin: ((feedback: () => Frame) => Frame) | null = null
  readonly #streams: Streams
  readonly #random: RandomStream
  #doubles: RandomStream | null = null
  #overtakes: RandomStream | null = null
  #last: Frame | null = null
  #aside: Frame | null = null
  #lastAt: Nanos = 0

  /** @param streams of the joint; `''` is that of lost frames */
  constructor(streams: Streams) {
    this.#streams = streams
    this.#random = streams('')
  }

  /** Sends feedback after `delay`; later frames never overtake earlier ones, unless that is what is wrong. */
  feed(scheduler: Scheduler, frame: Frame, delay: Nanos, send: (frame: Frame) => void): void {
    if (this.noFeedback || this.#loses()) return
    const sent = this.stale && this.#last !== null ? this.#last : frame
    this.#last = sent
    this.#lastAt = Math.max(scheduler.now() + delay + this.late, this.#lastAt)
    if (this.doubled === 0 && this.overtaken === 0 && this.#aside === null) {
      scheduler.at(this.#lastAt, () => send(sent))
      return
    }
    const aside = this.#aside
    this.#aside = null
    if (aside === null && this.#isOvertaken()) {
      this.#aside = sent
      return
    }
    const twice = this.#comesTwice()
    scheduler.at(this.#lastAt, () => {
      send(sent)
      if (twice) send(sent)
      if (aside !== null) send(aside)
    })
  }

  // Each draws a number only while its fault lasts.

  #loses(): boolean {
    return this.dropped > 0 && this.#random.uniform() < this.dropped
  }

  #comesTwice(): boolean {
    if (this.doubled === 0) return false
    this.#doubles ??= this.#streams('doubled')
    return this.#doubles.uniform() < this.doubled
  }

  #isOvertaken(): boolean {
    if (this.overtaken === 0) return false
    this.#overtakes ??= this.#streams('overtaken')
    return this.#overtakes.uniform() < this.overtaken
  }
}
