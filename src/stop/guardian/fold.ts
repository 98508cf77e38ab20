/**
 * What the guardian makes of what it hears of the bench process, a fold: (input) -> what to do. It holds no handle and reads no
 * clock.
 *
 * waiting: no tick has been finished yet, however long the start takes. watching: beats come. asked: somebody wants the arms
 * stopped, and the bench process has been told. over: it was left alone for good, or the guardian has taken over.
 */
import type { Nanos } from '../../clock.js'

export type GuardInput =
  /** A tick was finished. */
  | { readonly kind: 'beat'; readonly t: Nanos }
  /** A look at the clock; whoever looks reads the line between two looks. */
  | { readonly kind: 'look'; readonly t: Nanos }
  /** The bench process's end of the line is gone. */
  | { readonly kind: 'closed'; readonly t: Nanos }
  /** The bench process ends and leaves nothing to be stopped. */
  | { readonly kind: 'good-bye'; readonly t: Nanos }
  /** Another terminal wants the arms stopped. */
  | { readonly kind: 'asked'; readonly t: Nanos }
  /** The bench process says that its stop is in force. */
  | { readonly kind: 'obeyed'; readonly t: Nanos }

/** Why the guardian takes over. */
export type TakeoverCause =
  /** No tick was finished for too long: frozen, looping, or starved. */
  | 'silent'
  /** The process is gone, or has closed the line, without a good-bye. */
  | 'gone'
  /** It lives and has never finished a tick. */
  | 'never ticked'
  /** It was told to stop the arms and did not say that it does. */
  | 'disobedient'

export type GuardDeed =
  | { readonly do: 'nothing' }
  /** Tell the bench process to stop the arms. */
  | { readonly do: 'pass on' }
  /** End the bench process and stop the arms. `unheard`: ns since the last beat, or since the beginning. */
  | { readonly do: 'take over'; readonly cause: TakeoverCause; readonly unheard: Nanos }
  | { readonly do: 'leave' }

export interface GuardTimes {
  /** Longest time between two beats, and between being told to stop and doing so. */
  readonly timeout: Nanos
  /** Time between two looks: it is part of `timeout`. */
  readonly look: Nanos
  /** Longest time before the first beat. */
  readonly firstBeat: Nanos
}

const NOTHING: GuardDeed = { do: 'nothing' }

export class Guard {
  readonly #times: GuardTimes
  #over = false
  #ticked = false
  /** Of the last beat, or the beginning. */
  #heard: Nanos
  #asked: Nanos | null = null
  /** What the last look found overdue. The guardian itself may have been late, and what was said in time unread. */
  #doubted: TakeoverCause | null = null

  constructor(times: GuardTimes, t: Nanos) {
    this.#times = times
    this.#heard = t
  }

  see(input: GuardInput): GuardDeed {
    if (this.#over) return NOTHING
    const { t } = input
    switch (input.kind) {
      case 'beat':
        this.#ticked = true
        this.#heard = t
        return NOTHING
      case 'look':
        return this.#look(t)
      case 'closed':
        return this.#takeOver('gone', t)
      case 'good-bye':
        this.#over = true
        return { do: 'leave' }
      case 'asked':
        if (this.#asked !== null) return NOTHING
        this.#asked = t
        return { do: 'pass on' }
      case 'obeyed':
        // It stays obeyed: whoever asks next is only told what came of it.
        if (this.#asked !== null) this.#asked = Number.POSITIVE_INFINITY
        return NOTHING
    }
  }

  #look(t: Nanos): GuardDeed {
    const cause = this.#overdue(t)
    if (cause !== null && cause === this.#doubted) return this.#takeOver(cause, t)
    this.#doubted = cause
    return NOTHING
  }

  /** Two looks in a row must find it: the first may come by so much before the time is over. */
  #overdue(t: Nanos): TakeoverCause | null {
    const { timeout, look, firstBeat } = this.#times
    const most = timeout - 2 * look
    if (this.#asked !== null && t - this.#asked > most) return 'disobedient'
    if (this.#ticked) return t - this.#heard > most ? 'silent' : null
    return t - this.#heard > firstBeat ? 'never ticked' : null
  }

  #takeOver(cause: TakeoverCause, t: Nanos): GuardDeed {
    this.#over = true
    return { do: 'take over', cause, unheard: t - this.#heard }
  }
}
