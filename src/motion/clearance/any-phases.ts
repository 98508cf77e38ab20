/**
 * The nearest that two arms come when each may be anywhere on its own closed path: what two sides can meet that stroke at
 * cadences of their own. Exact to a stated tolerance, by branch and bound over the pairs of places (A. H. Land, A. G. Doig, "An automatic
 * method of solving discrete programming problems", Econometrica 28(3):497-520, 1960, from memory, for the idea): from the middle of a
 * cell no distance in it falls by more than the two arms' ways to its edges, bounded as in arm-capsules.ts.
 */
import { Bodies, type ThickRig } from './bodies.js'
import { pairsOf } from './pairs.js'
import { CLOSEST } from './segments.js'
import { FINE } from './sweep.js'

/** A distance is found to this share of it, unless that leaves open whether it is enough. */
const COARSE = 0.02
/** Cells that each side's path is cut into at first. */
const CELLS = 24

export interface NearestPlaces {
  /** m between their surfaces, at most a 50th (and where it matters 1 mm) more than the least; below zero they overlap */
  readonly distance: number
  readonly between: readonly [string, string]
  /** Where on their paths, [0, 1). */
  readonly phases: readonly [number, number]
}

/** A closed path: rad, all joints of the rig, place by place, evenly spaced in phase; the joints of other arms are of no account. */
export type ArmPath = readonly Float64Array[]

/**
 * @param enough m: a distance that is less is found to 1 mm
 * @param below m: only what is nearer is of interest
 * @returns null: nothing is, or the rig leaves all of their pairs out
 */
export function nearestAnywhere(
  rig: ThickRig,
  first: { readonly arm: number; readonly path: ArmPath },
  second: { readonly arm: number; readonly path: ArmPath },
  enough: number,
  below = Number.POSITIVE_INFINITY,
): NearestPlaces | null {
  const bodies = new Bodies(rig)
  const { groups, pairs } = pairsOf(rig, bodies)
  const mine = pairs.filter(({ group }) => {
    const { arm, otherArm } = groups[group]!
    return otherArm !== null && [arm, otherArm].includes(first.arm) && [arm, otherArm].includes(second.arm)
  })
  if (mine.length === 0) return null
  const [one, other] = [first, second].map(({ arm, path }) => new Along(rig, bodies, arm, path)) as [
    Along,
    Along,
  ]
  const out = new Float64Array(CLOSEST)
  let best: NearestPlaces = { distance: Number.POSITIVE_INFINITY, between: ['', ''], phases: [0, 0] }
  /** Of the cell's middle; takes it if it is the nearest. */
  const look = (a: number, b: number): number => {
    one.place(a)
    other.place(b)
    let least = Number.POSITIVE_INFINITY
    for (const pair of mine) {
      bodies.measure(pair.a, pair.b, out)
      if (out[0]! >= least) continue
      least = out[0]!
      if (least < best.distance)
        best = {
          distance: least,
          between: [bodies.names[pair.a]!, bodies.names[pair.b]!],
          phases: [one.phase(a), other.phase(b)],
        }
    }
    return least
  }
  let cells: Cell[] = []
  const [width, height] = [one.size / CELLS, other.size / CELLS]
  for (let a = 0; a < CELLS; a++)
    for (let b = 0; b < CELLS; b++)
      cells.push({ a0: a * width, a1: (a + 1) * width, b0: b * height, b1: (b + 1) * height })
  while (cells.length > 0) {
    const open: { cell: Cell; bound: number }[] = []
    for (const cell of cells) {
      const [a, b] = [(cell.a0 + cell.a1) / 2, (cell.b0 + cell.b1) / 2]
      const bound = look(a, b) - one.way(cell.a0, cell.a1) - other.way(cell.b0, cell.b1)
      open.push({ cell, bound })
    }
    const goal = Math.min(below, best.distance - tolerance(best.distance, enough))
    cells = open.filter(({ bound }) => bound < goal).flatMap(({ cell }) => halves(cell, one, other))
  }
  return best.distance < below ? best : null
}

/** m */
function tolerance(distance: number, enough: number): number {
  if (distance < 0) return Number.POSITIVE_INFINITY
  return Math.max(FINE, Math.min(COARSE * distance, (distance - enough) / 2))
}

/** Places on the two paths, in steps of the path. */
interface Cell {
  readonly a0: number
  readonly a1: number
  readonly b0: number
  readonly b1: number
}

/** Cut across the longer way. */
function halves({ a0, a1, b0, b1 }: Cell, one: Along, other: Along): Cell[] {
  if (one.way(a0, a1) > other.way(b0, b1)) {
    const middle = (a0 + a1) / 2
    return [
      { a0, a1: middle, b0, b1 },
      { a0: middle, a1, b0, b1 },
    ]
  }
  const middle = (b0 + b1) / 2
  return [
    { a0, a1, b0, b1: middle },
    { a0, a1, b0: middle, b1 },
  ]
}

/** One arm along its path; places are counted in steps of the path, with all that lies between. */
class Along {
  readonly size: number
  readonly #bodies: Bodies
  readonly #arm: number
  readonly #path: ArmPath
  /** m: the bound on the way of any body of the arm, from the first place on */
  readonly #ways: Float64Array

  constructor({ arms }: ThickRig, bodies: Bodies, arm: number, path: ArmPath) {
    this.size = path.length
    this.#bodies = bodies
    this.#arm = arm
    this.#path = path
    this.#ways = new Float64Array(path.length + 1)
    const { reach, radii } = bodies.arms[arm]!
    const joints = arms[arm]!.joints
    for (let i = 0; i < path.length; i++) {
      const [from, to] = [path[i]!, path[(i + 1) % path.length]!]
      let most = 0
      for (let c = 0; c < radii.length; c++) {
        const way = joints.reduce(
          (sum, j, k) => sum + reach[c * joints.length + k]! * Math.abs(to[j]! - from[j]!),
          0,
        )
        most = Math.max(most, way)
      }
      this.#ways[i + 1] = this.#ways[i]! + most
    }
  }

  phase(at: number): number {
    return (at / this.size) % 1
  }

  place(at: number): void {
    const i = Math.floor(at)
    this.#bodies.place(this.#arm, this.#path[i % this.size]!, this.#path[(i + 1) % this.size]!, at - i)
  }

  /** m, at most, from the middle between two places to either of them. */
  way(from: number, to: number): number {
    const middle = this.#wayTo((from + to) / 2)
    return Math.max(middle - this.#wayTo(from), this.#wayTo(to) - middle)
  }

  #wayTo(at: number): number {
    const i = Math.min(Math.floor(at), this.size - 1)
    return this.#ways[i]! + (at - i) * (this.#ways[i + 1]! - this.#ways[i]!)
  }
}
