/**
 * Many places on one bus behind a single adapter: what comes in goes to every place, what any place sends goes out.
 *
 * Left out: the places do not hear each other (simulated drives have nothing to say to one another), and frames leave
 * in the order in which they were offered: the real bus behind decides about arbitration and timing.
 */
import type { Bus, FrameListener } from '../bus/contract.js'
import type { Clock } from '../clock.js'
import type { Frame } from '../wire/frame.js'

export class Hub {
  /** Nothing goes out: what its places send is lost without a word, as on a cut line. */
  mute = false
  readonly #outer: Bus
  #listeners: readonly FrameListener[] = []

  readonly #onSent: (frame: Frame) => void

  /**
   * @param onSent is told of each frame that a place has sent
   * @param clock what has been simulated is not gone back on: a frame is heard now, also when the bus knows that it came before
   */
  constructor(outer: Bus, onSent: (frame: Frame) => void = () => {}, clock: Clock | null = null) {
    this.#outer = outer
    this.#onSent = onSent
    outer.onFrame((frame, t) => {
      const heard = clock?.now() ?? t
      for (const hear of this.#listeners) hear(frame, heard)
    })
  }

  /** A new place. Closing it leaves the others as they are. */
  attach(name: string): Bus {
    const outer = this.#outer
    let own: readonly FrameListener[] = []
    let closed = false
    const hear: FrameListener = (frame, t) => {
      for (const listener of own) if (!closed) listener(frame, t)
    }
    this.#listeners = [...this.#listeners, hear]
    return {
      name,
      get state() {
        return outer.state
      },
      get waiting() {
        return closed ? 0 : outer.waiting
      },
      send: (frame) => {
        if (closed) return 'closed'
        if (this.mute) return 'sent'
        const result = outer.send(frame)
        if (result === 'sent') this.#onSent(frame)
        return result
      },
      onFrame: (listener) => {
        own = [...own, listener]
      },
      // A place hears all; drives choose by identifier themselves.
      only: () => {},
      onReport: (listener) => outer.onReport(listener),
      // Frames of the other places wait in the same queue: none can be taken back alone.
      withdraw: () => 0,
      close: () => {
        closed = true
        this.#listeners = this.#listeners.filter((l) => l !== hear)
      },
    }
  }
}
