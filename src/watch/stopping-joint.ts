/** One joint from a stop to still, in the sag window, and after: what the stopping watch remembers of it. */
import type { Nanos } from '../clock.js'
import type { Still } from '../motion/still.js'
import type { ReportedState } from '../wire/observation.js'

export type Phase =
  | 'running' // no stop
  | 'stopping' // not yet still
  | 'sagging' // still, in the sag window
  | 'watched' // sag has been measured; nothing may move
  | 'resting' // the run is over without a stop and the drives are off

export class StoppingJoint {
  phase: Phase = 'running'
  readonly still: Still
  /** No feedback comes now. */
  absent = false
  /** It has been absent since the stop and came back. */
  returned = false
  /** It was absent after a stop, or never seen: for good, even if it comes back. */
  lost = false
  /** Its silence is no loss: it began before the stop that names the joint, or nothing had asked for feedback then. */
  excused = false
  doubted = false
  /** rad and ns of the last feedback */
  position = Number.NaN
  seen: Nanos = Number.NaN
  /** rad, where it was at the stop, and where it came to rest */
  from = 0
  rest = 0
  /** ns from the stop; NaN = not still */
  toStill = Number.NaN
  stillAt: Nanos = 0
  /** ns, by which it must be still */
  due: Nanos = 0
  travel = 0
  sag = 0
  /** rad, in the stage `rest`; NaN = the run has not come to it */
  restSag = Number.NaN
  motion = 0
  state: ReportedState | null = null
  late = false
  enabled = false
  /** It has not obeyed the quick stop promptly (1) or in time (2), and that was told; so was that it went too far. */
  disobeyed: 0 | 1 | 2 = 0
  far = false
  /** rad, at the two samples before the last one */
  earlier: [number, number] = [Number.NaN, Number.NaN]
  /** rad, farthest that it may go from where it was at the stop; NaN: nobody knows */
  reach = Number.NaN
  /** rad, where it was when its drive let go of it at rest; NaN: it did not, or not at rest */
  letGo = Number.NaN

  constructor(still: Still) {
    this.still = still
  }

  /** The next sample (rad). */
  moves(position: number, t: Nanos): void {
    this.earlier = [this.earlier[1], this.position]
    this.position = position
    this.seen = t
  }

  /** rad, way of the last period but one, and of the last: NaN where they were not seen */
  get ways(): readonly [number, number] {
    const [a, b] = this.earlier
    return [b - a, this.position - b]
  }
}
