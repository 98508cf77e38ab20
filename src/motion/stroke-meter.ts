/**
 * Strokes measured on a blade that is followed from sample to sample, whoever moves it: how long, how deep, how turned, how fast.
 * The reference stroke goes through the same meter (stroke-reference.ts), so that both are measured alike.
 *
 * The way u runs forward from the middle of the stroke where the side goes ahead, and aft where it goes astern: a drive always
 * falls from + to -, a recovery rises. A stroke lasts from the middle of one recovery to that of the next; both middles, and
 * that of the drive, are passed at speed, so that their times are sharp. A blade that begins at rest in the middle of the recovery,
 * where it parks, makes a whole stroke from there: its way, depths and angles are known, its times are not (NaN).
 *
 *     u   +  catch __                __ turned
 *            ----  even part ----\  /
 *         0  ---------- drive ----\/--- recovery: a stroke ends, the next begins
 *         -  exit                  \/
 *
 * Catch and exit lie at the same shares of the whole way as in the rig's stroke: a stroke that is too short is told as such, and
 * not as one that is too shallow as well. Interpolation between samples is linear. Allocation-free.
 */
import type { BladePlace } from './blade-place.js'

/** What is asked of a blade. */
type Place = Pick<BladePlace, 'x' | 'depth' | 'clearance' | 'angle'>

/** What was measured of one stroke. */
export interface StrokeFigures {
  /** s; NaN: it began at rest */
  time: number
  /** m, whole way along the craft, from its foremost to its aftmost place */
  way: number
  /** s for which the blade's centre was under water; NaN: it began at rest */
  wet: number
  /** m, of the blade's centre below the surface: at the most, at catch and exit, and at the least on the even part of the drive */
  deepest: number
  catch: number
  exit: number
  shallowest: number
  /** rad, turn about the shaft at catch and exit, and in the middle of the recovery in which the stroke ends */
  catchAngle: number
  exitAngle: number
  recoveryAngle: number
  /** m, of the lowest edge above the water: at the least on the even part of the recovery */
  clearance: number
}

export type Mark = 'none' | 'drive' | 'recovery'

export interface MeterSettings {
  /** m, x of the middle */
  readonly middle: number
  /** m, from catch to exit */
  readonly length: number
  /** 0..1, share of the length that is the even part */
  readonly even: number
  /** Whole way of the reference stroke as a multiple of `length`; 1 where it is not known yet */
  readonly over: number
}

/** Share of the length by which a blade that begins a stroke at rest may stand beside the middle. */
const BESIDE = 0.05
/** Share of the length that a blade must go beyond the middle on either side before passing it back counts. */
const BEYOND = 0.1
/** Share of the length by which a blade must have come back from its turn to be on its way: one that rests there trembles. */
const BACK = 0.02
/**
 * Share of the stroke's own length by which catch and exit may be elsewhere than where they were looked for. Little, because the blade
 * goes in and out steeply there, and the more so the shorter the stroke: about three times the way along the craft, at full length.
 */
const NEAR = 0.002

export class StrokeMeter {
  /** The last whole stroke. */
  readonly last: StrokeFigures = nothing()
  /** Whole strokes since the last `begin`. */
  count = 0
  /** s, when the last mark was passed */
  at = 0
  /** The blade of the last `see` begins a stroke: out of the water, in the middle of the recovery. */
  begins = false
  /** 1: on the drive's side of the even part's ends, on its way through; -1: on the recovery's; 0: not known */
  heading: 1 | 0 | -1 = 0
  readonly #middle: number
  readonly #length: number
  readonly #even: number
  readonly #over: number
  readonly #now: StrokeFigures = nothing()
  #direction = 1
  #reach = 1
  #started = false
  #since = Number.NaN
  #fromRest = false
  #beyond: 1 | 0 | -1 = 0
  #u = 0
  #depth = 0
  #t = 0
  /** m, u where it was farthest out, beyond the end of the even part from which it heads */
  #turned = 0
  #foremost = 0
  #aftmost = 0
  /** m, catch and exit of the stroke under way */
  #catch = 0
  #exit = 0

  constructor({ middle, length, even, over }: MeterSettings) {
    this.#middle = middle
    this.#length = length
    this.#even = even
    this.#over = over
    this.begin(1, 1)
  }

  /** Nothing is known of the blade. @param direction of the side: 1 ahead, -1 astern @param reach 0..1, share of the length that is asked for */
  begin(direction: 1 | -1, reach: number): void {
    this.#direction = direction
    this.#reach = reach
    this.#started = false
    this.#beyond = 0
    this.heading = 0
    this.count = 0
    this.#since = Number.NaN
    this.#fromRest = false
    this.begins = false
    this.#catch = (reach * this.#length) / 2
    this.#exit = -this.#catch
    this.#reset()
  }

  /** The share of the length that is asked for from now on. */
  reach(share: number): void {
    if (share === this.#reach) return
    this.#reach = share
    // Whether the blade has passed the ends of a longer even part is not known.
    this.heading = 0
  }

  /** Is the blade on its way back through the even part? */
  get recovering(): boolean {
    return this.heading < 0 && this.#through
  }

  /** Is the blade within the even part, and on its way from the end where it has turned? */
  get #through(): boolean {
    const back = Math.abs(this.#u - this.#turned)
    return Math.abs(this.#u) < this.#half && back > BACK * this.#reach * this.#length
  }

  /** m, half of the even part */
  get #half(): number {
    return (this.#even * this.#reach * this.#length) / 2
  }

  /** @param t s, not before the last @returns the mark that was passed since the last sample; a `recovery` ends a stroke */
  see(t: number, blade: Place): Mark {
    const u = this.#direction * (blade.x - this.#middle)
    const { depth } = blade
    const now = this.#now
    const before = this.#u
    const deep = this.#depth
    const step = this.#started ? t - this.#t : 0
    let mark: Mark = 'none'
    this.begins = !this.#started && blade.clearance > 0 && Math.abs(u) < BESIDE * this.#length
    if (this.begins) this.#fromRest = true
    if (this.#started) {
      mark = this.#pass(before, u, step, blade)
      if (before > this.#catch && u <= this.#catch) {
        now.catch = between(before, u, this.#catch, deep, depth)
        now.catchAngle = blade.angle
      }
      if (before > this.#exit && u <= this.#exit) {
        now.exit = between(before, u, this.#exit, deep, depth)
        now.exitAngle = blade.angle
      }
      if (depth > 0 && deep > 0) now.wet += step
      else if (depth > 0 !== deep > 0) now.wet += (step * Math.max(depth, deep)) / Math.abs(depth - deep)
    }
    if (u > this.#foremost) this.#foremost = u
    if (u < this.#aftmost) this.#aftmost = u
    if (depth > now.deepest) now.deepest = depth
    this.#u = u
    const half = this.#half
    if (Math.abs(u) >= half) this.#beyondEven(u)
    else if (this.#through) {
      if (this.heading > 0) now.shallowest = Math.min(now.shallowest, depth)
      else if (this.heading < 0) now.clearance = Math.min(now.clearance, blade.clearance)
    }
    this.#depth = depth
    this.#t = t
    this.#started = true
    return mark
  }

  #beyondEven(u: number): void {
    const heading = u > 0 ? 1 : -1
    if (heading !== this.heading || u * heading > this.#turned * heading) this.#turned = u
    this.heading = heading
  }

  #pass(before: number, u: number, step: number, blade: Place): Mark {
    const far = BEYOND * this.#reach * this.#length
    if (u > far) this.#beyond = 1
    else if (u < -far) this.#beyond = -1
    else if (this.#beyond > 0 && u <= 0) {
      this.#beyond = 0
      this.at = this.#t + between(before, u, 0, 0, step)
      return 'drive'
    } else if (this.#beyond < 0 && u >= 0) {
      this.#beyond = 0
      this.at = this.#t + between(before, u, 0, 0, step)
      this.#end(blade)
      return 'recovery'
    }
    return 'none'
  }

  #end(blade: Place): void {
    const now = this.#now
    const way = this.#foremost - this.#aftmost
    const centre = (this.#foremost + this.#aftmost) / 2
    if (this.#fromRest || !Number.isNaN(this.#since)) {
      now.time = this.at - this.#since
      if (this.#fromRest) now.wet = Number.NaN
      this.#fromRest = false
      now.way = way
      now.recoveryAngle = blade.angle
      const half = way / this.#over / 2
      // They were looked for where the stroke before had them: elsewhere the blade is at another depth.
      const near = NEAR * 2 * half
      if (Math.abs(centre + half - this.#catch) > near) now.catch = now.catchAngle = Number.NaN
      if (Math.abs(centre - half - this.#exit) > near) now.exit = now.exitAngle = Number.NaN
      this.#catch = centre + half
      this.#exit = centre - half
      Object.assign(this.last, now)
      this.count++
    }
    this.#since = this.at
    this.#reset()
  }

  #reset(): void {
    Object.assign(this.#now, NOTHING)
    this.#foremost = 0
    this.#aftmost = 0
  }
}

const NOTHING: Readonly<StrokeFigures> = {
  time: 0,
  way: 0,
  wet: 0,
  deepest: Number.NEGATIVE_INFINITY,
  catch: Number.NaN,
  exit: Number.NaN,
  shallowest: Number.POSITIVE_INFINITY,
  catchAngle: Number.NaN,
  exitAngle: Number.NaN,
  recoveryAngle: Number.NaN,
  clearance: Number.POSITIVE_INFINITY,
}

function nothing(): StrokeFigures {
  return { ...NOTHING }
}

/** The value where x passes `level`, between x0 and x1. */
function between(x0: number, x1: number, level: number, v0: number, v1: number): number {
  return x1 === x0 ? v1 : v0 + ((level - x0) / (x1 - x0)) * (v1 - v0)
}
