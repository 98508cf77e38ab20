/**
 * Hold-to-run on a terminal, as a fold: (state, key at a time) -> state. A terminal says that a key was pressed, and says it
 * again while the key is held; it never says that it was let go of. The first repetition takes up to about 0.6 s, and one
 * tap looks like the beginning of a hold. So the key counts as held only once its repetitions come, and no longer than
 * `LAPSE` after the last: a tap moves nothing, and letting go pauses at once.
 */
import type { Nanos } from '../clock.js'

/** The longest time between repetitions that still belong together: slow keyboards and lines repeat every 30 to 100 ms. */
export const LAPSE: Nanos = 200e6
/** Repetitions, close together, from which on the key counts as held. */
const REPEATS = 2

export interface Hold {
  /** Time of the last key. */
  readonly last: Nanos
  /** How many came close behind the one before. */
  readonly repeats: number
}

export const RELEASED: Hold = { last: Number.NEGATIVE_INFINITY, repeats: 0 }

/** The key came at `t`. */
export function keyCame(hold: Hold, t: Nanos): Hold {
  return { last: t, repeats: t - hold.last <= LAPSE ? hold.repeats + 1 : 0 }
}

/** The key on its way from whoever reads a terminal to whoever plays a run. */
export class HoldKey {
  #listener: (() => void) | null = null

  press(): void {
    this.#listener?.()
  }

  /** null: nobody listens. */
  onPress(listener: (() => void) | null): void {
    this.#listener = listener
  }
}

/** Is it held at `t`? */
export function isHeld({ last, repeats }: Hold, t: Nanos): boolean {
  return repeats >= REPEATS && t - last <= LAPSE
}
