/**
 * The least distances while the arms move from sample to sample, each joint at an even speed in between, so that what passes
 * by between two samples is not missed.
 *
 * A distance of two bodies changes by no more than their two ways together, and the way of a body is bounded (see
 * arm-capsules.ts). Two things follow, both after the idea of conservative advancement (B. Mirtich, "Impulse-based dynamic
 * simulation of rigid body systems", 1996, from memory):
 *
 * - a pair that was seen at a distance d need not be looked at again before the ways since then have come near to
 *   d - d', where d' is what is of interest: most pairs are looked at a few times a second;
 * - over a part of the motion whose ends are at d0 and d1, with a way w between them, no distance is below (d0 + d1 - w)/2:
 *   the motion is halved until that bound says that nothing was missed. Both ends of the way are known there, and bound it
 *   better: no point's velocity differs from its chord by more than half of its greatest acceleration, which is at most twice the
 *   turns of the joints together times its way (the second derivative by joints i and j is a vector from the outer one's axis,
 *   turned); and no points of two lines come together faster than their ends do.
 *
 * Of interest is what is nearer than `near`, there found to `FINE`, and what is nearer than all before, found to `FINE` or the
 * `coarse` share of the distance, whichever is more: distances told are those of true places, and at most so much too large.
 * Of bodies that overlap nothing more is asked.
 */
import { Bodies, type ThickRig } from './bodies.js'
import { type Approach, Leasts } from './leasts.js'
import { type Group, pairsOf } from './pairs.js'
import { CLOSEST, SEGMENT } from './segments.js'

/** m */
export const FINE = 1e-3
/** Places looked at within one motion; one that needs more is a jump that no arm makes, and is not followed to its end. */
const MOST_LOOKS = 4000
/** Parts of a motion that wait to be halved, one for each time that it was: none is left of any motion then. */
const MOST_PARTS = 64

export class ClearanceSweep {
  readonly groups: readonly Group[]
  /** m, by group: the least distance in the last motion; Infinity: farther than `near`, and than the least of all before */
  readonly now: Float64Array
  /** Pairs of bodies that are looked at. */
  readonly pairs: number
  /** Motions that were not followed to their end. */
  cut = 0
  readonly #bodies: Bodies
  /** Of each arm. */
  readonly #joints: readonly (readonly number[])[]
  readonly #near: number
  readonly #coarse: number
  readonly #n: number
  readonly #last: Leasts
  readonly #least: Leasts
  /** Ends of the motions with the least distances: rad, all joints, by group; and their times. */
  readonly #leastFrom: Float64Array
  readonly #leastTo: Float64Array
  readonly #leastT: Float64Array
  readonly #a: Int32Array
  readonly #b: Int32Array
  readonly #group: Int32Array
  /** By group, and one more: pairs of a group stand together. */
  readonly #firstPair: Int32Array
  /** m, by pair: the distance when it was seen last and the bodies' whole ways at that time */
  readonly #until: Float64Array
  /** Of each open pair: the ends of both lines at the motion's end; and room for those at its beginning. */
  readonly #linesAtEnd: Float64Array
  readonly #lines = new Float64Array(2 * SEGMENT)
  /** rad, by body: what the joints of its arm turn in this motion, together */
  readonly #turn: Float64Array
  /** m, by body: its way in this motion, and in all */
  readonly #way: Float64Array
  readonly #ways: Float64Array
  readonly #from: Float64Array
  readonly #to: Float64Array
  #t0 = 0
  #t1 = 0
  /** Share of the motion at which each arm is placed; NaN: not in this motion. */
  readonly #placed: Float64Array
  /** Pairs whose motion must be halved; m: the bound on their distance before it is looked at, and what it is at the end. */
  readonly #open: Int32Array
  readonly #bounds: Float64Array
  readonly #ends: Float64Array
  /** begin, end, and the distances there, of each part that waits */
  readonly #parts = new Float64Array(4 * MOST_PARTS)
  readonly #closest = new Float64Array(CLOSEST)
  #looks = 0

  /**
   * @param near m, at least the greatest distance that is to be judged
   * @param coarse share to which greater least distances are found; 0: as fine as the others
   */
  constructor(rig: ThickRig, near: number, coarse: number) {
    const bodies = new Bodies(rig)
    const { groups, pairs } = pairsOf(rig, bodies)
    const n = rig.joints.length
    this.#bodies = bodies
    this.groups = groups
    this.pairs = pairs.length
    this.#near = near
    this.#coarse = coarse
    this.#n = n
    this.#last = new Leasts(groups.length)
    this.now = this.#last.distance
    this.#least = new Leasts(groups.length)
    this.#leastFrom = new Float64Array(groups.length * n)
    this.#leastTo = new Float64Array(groups.length * n)
    this.#leastT = new Float64Array(2 * groups.length)
    this.#a = Int32Array.from(pairs, (p) => p.a)
    this.#b = Int32Array.from(pairs, (p) => p.b)
    this.#group = Int32Array.from(pairs, (p) => p.group)
    this.#firstPair = Int32Array.from({ length: groups.length + 1 }, (_, g) => {
      const first = pairs.findIndex((p) => p.group >= g)
      return first < 0 ? pairs.length : first
    })
    this.#until = new Float64Array(pairs.length)
    this.#linesAtEnd = new Float64Array(2 * SEGMENT * pairs.length)
    this.#turn = new Float64Array(bodies.names.length)
    this.#way = new Float64Array(bodies.names.length)
    this.#ways = new Float64Array(bodies.names.length)
    this.#from = new Float64Array(n)
    this.#to = new Float64Array(n)
    this.#placed = new Float64Array(rig.arms.length)
    this.#open = new Int32Array(pairs.length)
    this.#bounds = new Float64Array(pairs.length)
    this.#ends = new Float64Array(pairs.length)
    this.#joints = rig.arms.map((arm) => arm.joints)
  }

  /** The arms are at `q` (rad, all joints of the rig) at time t; how they came there is not known. */
  start(q: Float64Array, t: number): void {
    this.#to.set(q)
    this.#until.fill(Number.NEGATIVE_INFINITY)
    this.#t1 = t
    this.move(q, t)
  }

  /** The arms have moved, each joint evenly, from where they were to `q` at time t. */
  move(q: Float64Array, t: number): void {
    this.#from.set(this.#to)
    this.#to.set(q)
    this.#t0 = this.#t1
    this.#t1 = t
    this.#placed.fill(Number.NaN)
    this.now.fill(Number.POSITIVE_INFINITY)
    this.#walk()
    const open = this.#lookAtEnds()
    this.#looks = 0
    // What is judged comes before what is only told.
    for (let i = 0; i < open; i++) this.#halve(i, true)
    for (let i = 0; i < open; i++) this.#halve(i, false)
    if (this.#looks > MOST_LOOKS) this.cut++
  }

  /** The nearest of a group in the last motion; only where `now` says one. */
  nearestNow(group: number): Approach {
    return this.#told(this.#last, group, this.#from, this.#to, 0, this.#t0, this.#t1)
  }

  /** The nearest of a group of all motions; null when there was none. */
  nearest(group: number): Approach | null {
    if (this.#least.distance[group] === Number.POSITIVE_INFINITY) return null
    const [t0, t1] = this.#leastT.subarray(2 * group, 2 * group + 2)
    return this.#told(this.#least, group, this.#leastFrom, this.#leastTo, group * this.#n, t0!, t1!)
  }

  /** Pose of an arm's blade (T_craft_blade) in an approach; valid until the next call or motion. */
  bladeIn(arm: number, { q }: Approach): Float64Array {
    this.#bodies.place(arm, q, q, 0)
    this.#placed[arm] = Number.NaN
    return this.#bodies.arms[arm]!.chain.blade
  }

  /** @param from, to ends of the motion, at index i on */
  #told(
    found: Leasts,
    group: number,
    from: Float64Array,
    to: Float64Array,
    i: number,
    t0: number,
    t1: number,
  ): Approach {
    const pair = found.pair[group]!
    const share = found.share[group]!
    const [x, y, z] = found.at.subarray(3 * group, 3 * group + 3)
    return {
      distance: found.distance[group]!,
      t: t0 + share * (t1 - t0),
      first: this.#bodies.names[this.#a[pair]!]!,
      second: this.#bodies.names[this.#b[pair]!]!,
      at: [x!, y!, z!],
      q: Float64Array.from({ length: this.#n }, (_, j) => from[i + j]! + share * (to[i + j]! - from[i + j]!)),
    }
  }

  /** Bounds of the ways of all bodies in this motion. */
  #walk(): void {
    const { arms, first } = this.#bodies
    for (let m = 0; m < arms.length; m++) {
      const { reach, radii } = arms[m]!
      const joints = this.#joints[m]!
      const n = joints.length
      let turn = 0
      for (let i = 0; i < n; i++) turn += Math.abs(this.#to[joints[i]!]! - this.#from[joints[i]!]!)
      for (let c = 0; c < radii.length; c++) {
        let way = 0
        for (let i = 0; i < n; i++) {
          const j = joints[i]!
          way += reach[c * n + i]! * Math.abs(this.#to[j]! - this.#from[j]!)
        }
        const body = first[m]! + c
        this.#turn[body] = turn
        this.#way[body] = way
        this.#ways[body] = this.#ways[body]! + way
      }
    }
  }

  /** Looks at every pair that may have come near, at the end of the motion. @returns how many must be looked at in between */
  #lookAtEnds(): number {
    const out = this.#closest
    const until = this.#until
    const ways = this.#ways
    const as = this.#a
    const bs = this.#b
    let open = 0
    for (let group = 0; group < this.groups.length; group++) {
      let goal = this.#goal(group)
      const end = this.#firstPair[group + 1]!
      for (let p = this.#firstPair[group]!; p < end; p++) {
        const a = as[p]!
        const b = bs[p]!
        const gone = ways[a]! + ways[b]!
        const bound = until[p]! - gone
        if (bound >= goal) continue
        this.#look(p, 1)
        until[p] = out[0]! + gone
        goal = this.#goal(group)
        // At its beginning the distance was at least bound + way, with the way of both in this motion.
        if (this.#way[a]! + this.#way[b]! === 0 || (bound + out[0]!) / 2 >= goal) continue
        this.#open[open] = p
        this.#bodies.line(a, this.#linesAtEnd, 2 * SEGMENT * open)
        this.#bodies.line(b, this.#linesAtEnd, 2 * SEGMENT * open + SEGMENT)
        this.#bounds[open] = bound
        this.#ends[open++] = out[0]!
      }
    }
    return open
  }

  /** m: a pair of the group that is proven to be no nearer need not be judged. */
  #judged(group: number): number {
    return Math.min(this.#near, beyond(this.now[group]!, 0))
  }

  /** m: nor told. */
  #goal(group: number): number {
    return Math.max(beyond(this.#least.distance[group]!, this.#coarse), this.#judged(group))
  }

  /** Halves the motion of a pair until nothing can have been missed that is to be judged, or told. @param i its place among the open ones */
  #halve(i: number, judged: boolean): void {
    const out = this.#closest
    const parts = this.#parts
    const p = this.#open[i]!
    const group = this.#group[p]!
    const end = this.#ends[i]!
    if ((this.#bounds[i]! + end) / 2 >= (judged ? this.#judged(group) : this.#goal(group))) return
    this.#look(p, 0)
    const way = this.#wayOf(i)
    parts[0] = 0
    parts[1] = 1
    parts[2] = out[0]!
    parts[3] = end
    let top = 4
    while (top > 0 && this.#looks <= MOST_LOOKS) {
      top -= 4
      const low = parts[top]!
      const high = parts[top + 1]!
      const before = parts[top + 2]!
      const after = parts[top + 3]!
      const goal = judged ? this.#judged(group) : this.#goal(group)
      if ((before + after - way * (high - low)) / 2 >= goal) continue
      const middle = (low + high) / 2
      this.#look(p, middle)
      const here = out[0]!
      if (top + 8 > parts.length) continue
      // The nearer half is looked at first: what it finds may settle the other.
      const first = before < after
      this.#put(top, first ? middle : low, first ? high : middle, first ? here : before, first ? after : here)
      this.#put(
        top + 4,
        first ? low : middle,
        first ? middle : high,
        first ? before : here,
        first ? here : after,
      )
      top += 8
    }
  }

  /** m: what the distance of an open pair can change by for each whole motion, where both bodies are placed at its beginning. */
  #wayOf(i: number): number {
    const p = this.#open[i]!
    const a = this.#a[p]!
    const b = this.#b[p]!
    const lines = this.#lines
    this.#bodies.line(a, lines, 0)
    this.#bodies.line(b, lines, SEGMENT)
    const ends = this.#linesAtEnd
    const at = 2 * SEGMENT * i
    let chord = 0
    for (let m = 0; m < SEGMENT; m += 3) {
      for (let n = SEGMENT; n < 2 * SEGMENT; n += 3) {
        let square = 0
        for (let k = 0; k < 3; k++) {
          const d = ends[at + m + k]! - lines[m + k]! - ends[at + n + k]! + lines[n + k]!
          square += d * d
        }
        if (square > chord) chord = square
      }
    }
    const bent = this.#turn[a]! * this.#way[a]! + this.#turn[b]! * this.#way[b]!
    return Math.min(this.#way[a]! + this.#way[b]!, Math.sqrt(chord) + bent)
  }

  #put(at: number, low: number, high: number, before: number, after: number): void {
    this.#parts[at] = low
    this.#parts[at + 1] = high
    this.#parts[at + 2] = before
    this.#parts[at + 3] = after
  }

  /** Measures a pair at a share of the motion, and keeps it if nothing of its group was nearer. */
  #look(p: number, share: number): void {
    this.#looks++
    const a = this.#a[p]!
    const b = this.#b[p]!
    const { things, arms } = this.#bodies
    this.#place(things[a]!, share)
    if (things[b]! < arms.length) this.#place(things[b]!, share)
    this.#bodies.measure(a, b, this.#closest)
    const group = this.#group[p]!
    this.#last.take(group, p, share, this.#closest)
    if (!this.#least.take(group, p, share, this.#closest)) return
    this.#leastFrom.set(this.#from, group * this.#n)
    this.#leastTo.set(this.#to, group * this.#n)
    this.#leastT[2 * group] = this.#t0
    this.#leastT[2 * group + 1] = this.#t1
  }

  #place(arm: number, share: number): void {
    if (this.#placed[arm] === share) return
    this.#placed[arm] = share
    this.#bodies.place(arm, this.#from, this.#to, share)
  }
}

/** m: where it would be worth telling that it is nearer still. Of bodies that overlap there is no more to be known. */
function beyond(distance: number, coarse: number): number {
  if (distance < 0) return Number.NEGATIVE_INFINITY
  return Math.min(distance - FINE, distance * (1 - coarse))
}
