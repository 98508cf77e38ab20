/** One joint's picture: setpoint and feedback above, following error below, with what happened marked in both. */
import type { Nanos } from '../../clock.js'
import type { Joint } from '../../files/rig.js'
import { showBeside, showQuantity } from '../../units.js'
import type { Trace } from '../../verdict/verdict.js'
import { extremes, narrowed, outline } from './band.js'
import {
  type Idle,
  idles,
  LEFT,
  level,
  type Mark,
  marks,
  panel,
  picture,
  RIGHT,
  timeAxis,
  WIDTH,
} from './panel.js'
import { phrase } from './phrase.js'
import { scale, withAir } from './scale.js'

const DEGREES = 180 / Math.PI
const TOP = 18
const MIDDLE = 150
const LOW_TOP = 160
const BOTTOM = 232
const HEIGHT = 252
/** More bins than this are finer than the picture. */
const BINS = 400

/** Following error with the lag removed, which alone has a limit; rad. */
export interface JudgedError {
  readonly peak: number
  readonly limit: number
}

export interface JointPicture {
  readonly id: string
  readonly joint: Joint
  readonly trace: Trace
  /** Scenario zero, or 0 when the run never got there. */
  readonly zero: Nanos
  readonly marks: readonly Mark[]
  readonly idles: readonly Idle[]
  /** What the tracking watch judged, or null when it judged nothing. */
  readonly judged: JudgedError | null
}

/** A figure with its caption, or a sentence when the joint has no samples at all. */
export function jointFigure(p: JointPicture): string {
  const { trace, joint } = p
  const setpoint = narrowed(trace, trace.setpoint[joint.index]!, BINS)
  const feedback = narrowed(trace, trace.feedback[joint.index]!, BINS)
  const error = narrowed(trace, trace.error[joint.index]!, BINS)
  const [setLow, setHigh] = extremes(setpoint.band)
  const [low, high] = extremes(feedback.band)
  const [errorLow, errorHigh] = extremes(error.band)
  if (Number.isNaN(setLow) && Number.isNaN(low)) {
    return `<figure><figcaption>${phrase(joint.name)}</figcaption><p>No setpoint and no feedback was recorded.</p></figure>\n`
  }
  const worst = Math.max(Math.abs(errorLow), Math.abs(errorHigh))

  const end = trace.from + trace.bin * trace.bins
  const time = scale((trace.from - p.zero) / 1e9, (end - p.zero) / 1e9, LEFT, WIDTH - RIGHT, 5)
  const x = (t: Nanos): number => time.place((t - p.zero) / 1e9)
  const binX = (join: number) => (bin: number) => x(Math.min(trace.from + bin * join * trace.bin, end))

  const [from, to] = withAir(least(setLow, low) * DEGREES, most(setHigh, high) * DEGREES, 1)
  const position = scale(from, to, MIDDLE, TOP, 3)
  const y = (v: number): number => position.place(v * DEGREES)
  const reach = Math.max(Number.isNaN(worst) ? 0 : worst * DEGREES * 1.15, 0.02)
  const deviation = scale(-reach, reach, BOTTOM, LOW_TOP, 3)
  const errorY = (v: number): number => deviation.place(v * DEGREES)

  const { lower, upper } = joint.limits
  // The curve of the error is raw. Its limit is one of the error with the lag removed, so no line of it stands here.
  const limits = [lower, upper]
    .filter((v) => v * DEGREES > from && v * DEGREES < to)
    .map((v) => level(y(v), 'limit', `position limit ${showQuantity(v, 'rad')}`))
  const body = [
    idles(p.idles, x, TOP, MIDDLE),
    idles(p.idles, x, LOW_TOP, BOTTOM),
    panel(position, TOP, MIDDLE),
    panel(deviation, LOW_TOP, BOTTOM),
    `<path class="setpoint" d="${outline(setpoint.band, binX(setpoint.join), y)}"/>`,
    `<path class="feedback" d="${outline(feedback.band, binX(feedback.join), y)}"/>`,
    `<path class="error" d="${outline(error.band, binX(error.join), errorY)}"/>`,
    ...limits,
    marks(p.marks, x, TOP, BOTTOM),
    timeAxis(time, BOTTOM),
  ].join('')
  const moved = Number.isNaN(low)
    ? 'no feedback'
    : `${showQuantity(low, 'rad')} to ${showQuantity(high, 'rad')}`
  const off = errorTold(worst, p.judged)
  const described = `Feedback ${moved}; ${off}. ${p.marks.map((m) => m.title).join('; ')}`
  return (
    `<figure><figcaption>${phrase(joint.name)}<span>${off}</span></figcaption>` +
    `${picture(p.id, HEIGHT, `${joint.name}: setpoint, feedback and following error`, described, body)}</figure>\n`
  )
}

/** `error 2.1 deg raw, 0.31 deg of 1.5 deg lag removed`, the greatest of each. */
function errorTold(raw: number, judged: JudgedError | null): string {
  const drawn = Number.isNaN(raw) ? 'error not known' : `error ${showQuantity(raw, 'rad')} raw`
  if (judged === null) return drawn
  const [peak, limit] = showBeside(judged.peak, judged.limit, 'rad')
  return `${drawn}, ${peak} of ${limit} lag removed`
}

/** Smaller of two, one of which may be NaN. */
function least(a: number, b: number): number {
  return a <= b || Number.isNaN(b) ? a : b
}

function most(a: number, b: number): number {
  return a >= b || Number.isNaN(b) ? a : b
}
